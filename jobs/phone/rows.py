"""The lines of one page of a record as boxes, with what is kept or was typed in them.

Boxes are named by line, part and side, so that one page holds many of them and each can be
saved alone. What was typed and refused stays in its box with one sentence beside it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from equipment.engineering.oxidant.kits import KITS, printed_bands
from equipment.engineering.spans import band_typed, sign_of, span_words
from equipment.quantities import MEASURED, READ_BY_KIT, limits_text
from jobs.fieldwork.asked import Item
from jobs.fieldwork.facts import Line
from jobs.fieldwork.glass import Glass, Offer
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.kinds import KEPT_BY_PAGE, LineKind, Look
from jobs.fieldwork.sheet import Block

#: readings that are diluted when they are above the range of the kit
DILUTED = ("chlorine", "peroxide")
#: chlorine that was poured is read on a range of its own
STRONG = (LineKey.CHLORINE_MIXED, LineKey.CHLORINE_LEFT, LineKey.FLUSH_HIGH)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
LOOKS = [Look.CLEAR, Look.FEW, Look.MILKY]
SIDE_WORDS = {"": "", "found": "as found", "left": "as left"}


@dataclass
class Box:
    """One input: an answer of one side of one line."""

    name: str
    side: str
    text: str
    unit: str
    dilution: str
    version: int
    warning: str = ""
    is_confirmed: bool = False
    error: str = ""
    #: "<" not found, ">" beyond the range of the kit: pressed, as a keypad of figures has neither
    sign: str = ""
    #: what a strip may show, each taken by one press
    bands: tuple[Offer, ...] = ()

    @property
    def dom_id(self) -> str:
        return f"a-{self.name.replace('.', '-').replace(':', '-')}"

    @property
    def side_word(self) -> str:
        return SIDE_WORDS[self.side]


@dataclass(frozen=True)
class LookTile:
    """One glass of templates/parts/_looks.html, named as a form names its radio buttons."""

    data: Mapping[str, str]
    choice_label: str
    id_for_label: str
    is_chosen: bool


@dataclass(frozen=True)
class LooksAsked:
    """The question that is answered by one of three glasses."""

    label: str
    help_text: str
    name: str
    auto_id: str
    chosen: str
    choices: tuple[tuple[str, str], ...]

    @property
    def aria_describedby(self) -> str:
        return f"{self.auto_id}_helptext" if self.help_text else ""

    def __iter__(self) -> Iterator[LookTile]:
        for number, (value, label) in enumerate(self.choices):
            place = f"{self.auto_id}_{number}"
            yield LookTile({"value": value}, label, place, value == self.chosen)


@dataclass
class Row:
    """One line on the page."""

    item: Item
    boxes: list[Box]
    units: tuple[str, ...] = ()
    limits: str = ""
    may_dilute: bool = False
    may_sign: bool = False
    hold_open: bool = False
    #: of a line whose cycles are counted: what the next one takes
    next_cycle: str = ""
    #: and what is answered besides by the press that says that the jar is clear
    with_clear: Offer | None = None
    #: what the state of the house says of this line
    state_rule: str = ""
    #: figures that the record holds already, for its empty boxes
    offers: tuple[Offer, ...] = ()
    #: at a start-up nothing was set before: the hand goes on to what is left
    passes_found: bool = False
    #: the short answer of a panel, said again under the box
    echo: Glass | None = None

    @property
    def line(self) -> Line:
        return self.item.line

    @property
    def mark(self) -> str:
        """How its boxes are marked, as words after the class of a question."""
        if any(box.error for box in self.boxes):
            return " refused"
        warned = any(box.warning for box in self.boxes) or self.item.state == "failed"
        return " warned" if warned else ""

    @property
    def short_choice(self) -> bool:
        """Place of many parts: tiles side by side instead of rows of buttons."""
        return self.line.subject == "each"

    @property
    def looks(self) -> LooksAsked | None:
        """Three glasses instead of words."""
        if [value for value, _ in self.line.choices] != LOOKS:
            return None
        box = self.boxes[0]
        return LooksAsked(
            label=self.item.label,
            help_text=self.line.hint,
            name=box.name,
            auto_id=f"a-{box.name}",
            chosen=box.text,
            choices=self.line.choices,
        )

    @property
    def is_led(self) -> bool:
        """The hand is led to it: it must be answered, and nothing stands for it on file."""
        asked = self.line.required or self.line.is_gate
        return bool(asked and not self.item.filed and not self.line.passes.get("no_notice"))

    @property
    def is_strip(self) -> bool:
        """Read by a strip that shows bands, as a rule: they stand open."""
        return self.line.quantity_key in KITS

    @property
    def keypad(self) -> str:
        return "decimal" if self.line.kind in (LineKind.QUANTITY, LineKind.NUMBER) else "text"


def row_of(
    item: Item,
    *,
    system: str,
    typed: Mapping[str, str] | None = None,
    errors: Mapping[str, str] | None = None,
) -> Row:
    """A line with what is kept, or with what was typed where that was refused."""
    line = item.line
    measured = MEASURED.get(line.quantity_key)
    boxes = [_box(item, side, system, typed or {}, errors or {}) for side in item.sides]
    return Row(
        item=item,
        boxes=boxes,
        units=measured.units if measured else (),
        limits=limits_text(measured) if measured else "",
        may_dilute=line.quantity_key in DILUTED,
        may_sign=line.quantity_key in READ_BY_KIT,
        hold_open=bool(errors and any(f"{box.name}~skip" in errors for box in boxes)),
    )


def _box(
    item: Item, side: str, system: str, typed: Mapping[str, str], errors: Mapping[str, str]
) -> Box:
    name = item.box(side)
    answer = item.answers.get(side)
    measured = MEASURED.get(item.line.quantity_key)
    own_unit = measured.unit_for(system) if measured else ""
    box = Box(
        name=name,
        side=side,
        text=answer.text if answer else "",
        unit=(answer.unit if answer and answer.unit else own_unit),
        dilution=f"{answer.dilution:g}" if answer and answer.dilution != 1 else "",
        version=answer.version if answer else 0,
        warning=answer.warning if answer and answer.text else "",
        is_confirmed=bool(answer and answer.is_confirmed),
        error=errors.get(name, ""),
    )
    if box.error:
        box.text = typed.get(name, box.text)
        box.unit = typed.get(f"{name}~unit", box.unit)
        box.dilution = typed.get(f"{name}~dilution", box.dilution)
        box.warning = ""
        box.sign = typed.get(f"{name}~sign", "")
    if item.line.quantity_key in READ_BY_KIT and not box.sign:
        box.sign, box.text = sign_of(box.text)
    box.bands = _bands(item, name)
    return box


def _bands(item: Item, name: str) -> tuple[Offer, ...]:
    """Bands of the usual strips of this reading, those of strong chlorine are none of them; of a
    display the days it may say."""
    key = item.line.quantity_key
    if item.line.key == LineKey.NEXT_REGEN:
        return tuple(Offer(day, "display", ((name, day, ""),)) for day in WEEKDAYS)
    if item.line.key in STRONG:
        return ()
    return tuple(
        Offer(span_words(low, high), "strip", ((name, band_typed(low, high), MEASURED[key].unit),))
        for low, high in printed_bands(key)
    )


@dataclass(frozen=True)
class Opened:
    """A line that an answer opened on the page in front of the person, and where it goes."""

    row: Row
    where: str


def opened_on(page: Block, shown: Collection[str], *, system: str) -> list[Opened]:
    found, where = [], "afterbegin:#answers"
    for item in page.items:
        if item.line.kind in KEPT_BY_PAGE:
            continue
        if item.key not in shown:
            found.append(Opened(row_of(item, system=system), where))
        where = f"afterend:#w-{item.dom_id}"
    return found
