"""The check tables, under the name the tests know them by."""

from equipment.published import FOLDER, MARKS, Published, published_rows, table_rows

__all__ = ["FOLDER", "MARKS", "Published", "published_rows", "table_rows"]
