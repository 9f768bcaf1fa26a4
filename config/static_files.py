"""Static files of a production: named by what they hold, and packed once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from whitenoise.storage import CompressedManifestStaticFilesStorage

#: named and packed where they were made: jobs/phone
MADE_ELSEWHERE = ("runtime/", "phone/")


class StaticFiles(CompressedManifestStaticFilesStorage):
    #: a module names those it imports by what they hold as well
    support_js_module_import_aggregation = True

    def post_process(
        self, paths: dict[str, Any], dry_run: bool = False, **options: Any
    ) -> Iterator[tuple[str, str, bool]]:
        ours = {name: at for name, at in paths.items() if not name.startswith(MADE_ELSEWHERE)}
        yield from super().post_process(ours, dry_run, **options)
