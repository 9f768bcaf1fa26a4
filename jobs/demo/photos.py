"""Photos of the invented company: drawn here, then sent as a phone sends them."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import timedelta
from uuid import NAMESPACE_URL, uuid5

from PIL import Image, ImageDraw

from jobs.workflows.photos import Shows, add_to_record
from jobs.workflows.pictures import keep_picture

from .answering import Pen
from .cast import Told

SIZE = (1200, 900)
WALL, FLOOR, INK, WATER, PIPE, PALE = (
    "#cfc6ae",
    "#8f8672",
    "#26343b",
    "#3f7f99",
    "#7b8a8f",
    "#e8eef0",
)


def _tanks(pen: ImageDraw.ImageDraw) -> None:
    for x in (330, 640):
        pen.rounded_rectangle((x, 260, x + 220, 760), 100, PALE, INK, 6)
        pen.rectangle((x + 70, 190, x + 150, 270), INK)
    pen.line((0, 225, 1200, 225), PIPE, 26)


def _pump(pen: ImageDraw.ImageDraw) -> None:
    pen.rectangle((420, 480, 780, 800), PALE, INK, 6)
    pen.rectangle((426, 600, 774, 794), WATER)
    pen.rectangle((500, 330, 700, 480), INK)
    pen.line((600, 330, 600, 160), WATER, 14)
    pen.line((0, 160, 1200, 160), PIPE, 30)


def _drain(pen: ImageDraw.ImageDraw) -> None:
    pen.rectangle((560, 0, 640, 330), PIPE)
    pen.line((600, 330, 600, 470), WATER, 18)
    pen.polygon(((470, 470), (730, 470), (670, 640), (530, 640)), PALE, INK)
    pen.rectangle((565, 640, 635, 800), PIPE)


def _switch(pen: ImageDraw.ImageDraw) -> None:
    pen.rectangle((400, 220, 800, 700), PALE, INK, 6)
    for row in range(3):
        pen.line((460, 330 + row * 120, 740, 330 + row * 120), WATER, 10)
        pen.ellipse((440, 310 + row * 120, 480, 350 + row * 120), INK)


DRAWN: dict[str, Callable[[ImageDraw.ImageDraw], None]] = {
    "tanks": _tanks,
    "pump": _pump,
    "drain": _drain,
    "switch": _switch,
}


def drawn(what: str) -> bytes:
    picture = Image.new("RGB", SIZE, WALL)
    pen = ImageDraw.Draw(picture)
    pen.rectangle((0, 800, *SIZE), FLOOR)
    DRAWN[what](pen)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=85)
    return out.getvalue()


def take_photos(pen: Pen, act: Told) -> None:
    """What the story says was photographed, before the record closes."""
    for number, told in enumerate(act.get("photos", ())):
        now = pen.clock + timedelta(seconds=20 * number)
        uuid = uuid5(NAMESPACE_URL, f"demo-{pen.record.uuid}-{number}")
        picture, _ = keep_picture(uuid=uuid, content=drawn(told["of"]), by=pen.by, now=now)
        shows = Shows(told["says"], told["part"], for_customer=told.get("customer", True))
        add_to_record(
            record=pen.record,
            visit=pen.visit,
            pictures=[picture],
            shows=shows,
            by=pen.by,
            now=now,
        )
