"""Reading a record whole: what is asked of this system, what is answered, what is missing.

`load_sheet(record)` makes a Sheet in a fixed number of queries. Pages, the closing and the
printed record all read the same Sheet, so that none of them judges by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property

from equipment.models import OxidantProduct, Stage
from equipment.quantities import MEASURED
from jobs.errors import BadEntry
from jobs.models import (
    Acknowledgement,
    Answer,
    ChecklistLine,
    ChecklistRecord,
    Company,
    DialStep,
    DoNotUse,
    Override,
    Timer,
)
from jobs.wording.figures import unit

from .cautions import CAUTIONS, PIT, PIT_REPLACES, red
from .gates import (
    FAILED,
    LOOK_TWICE,
    OPEN,
    applies,
    judge,
)
from .values import ReadAnswer, read_answer

#: subjects of lines that are asked once for each fitted part of these kinds
STAGE_SUBJECTS: dict[str, tuple[str, ...]] = {
    "feeder": (Stage.Kind.FEEDER,),
    "filter": (Stage.Kind.FILTER,),
    "softener": (Stage.Kind.SOFTENER,),
    "washing": (Stage.Kind.FILTER, Stage.Kind.SOFTENER),
    "vessel": (Stage.Kind.FILTER, Stage.Kind.SOFTENER, Stage.Kind.NEUTRALIZER),
    "each": tuple(Stage.Kind.values),
}


@dataclass
class Item:
    """One line as it stands in this record, for one part of the system if it is asked of each."""

    line: ChecklistLine
    stage: Stage | None
    answers: dict[str, Answer] = field(default_factory=dict)
    override: Override | None = None
    timer: Timer | None = None
    state: str = OPEN
    sentence: str = ""

    @property
    def key(self) -> str:
        return f"{self.line.key}.{self.stage.pk}" if self.stage else self.line.key

    @property
    def dom_id(self) -> str:
        return self.key.replace(".", "-")

    @property
    def label(self) -> str:
        return f"{self.line.label}: {self.stage}" if self.stage else self.line.label

    @property
    def sides(self) -> tuple[str, ...]:
        return ("found", "left") if self.line.is_pair else ("",)

    @property
    def deciding(self) -> Answer | None:
        """What counts at closing: as left, where there are two."""
        return self.answers.get(self.sides[-1])

    def read(self, side: str | None = None) -> ReadAnswer | None:
        answer = self.answers.get(self.sides[-1] if side is None else side)
        if answer is None or not answer.text:
            return None
        try:
            return read_answer(self.line, answer.text, answer.unit, answer.dilution)
        except BadEntry:  # the limits of the company were changed after it was saved
            return ReadAnswer(answer.text)

    @property
    def value(self) -> float | None:
        read = self.read()
        return read.value if read else None

    @property
    def text(self) -> str:
        answer = self.deciding
        return answer.text if answer else ""

    @property
    def shown(self) -> str:
        """The answer as people read it."""
        if not self.text:
            return ""
        if self.line.kind == ChecklistLine.Kind.CHOICE:
            return str(dict(self.line.choices).get(self.text, self.text))
        if self.line.kind == ChecklistLine.Kind.TICK:
            return "yes"
        answer = self.deciding
        measured = MEASURED.get(self.line.quantity_key)
        name = unit(answer.unit or measured.unit) if answer and measured else ""
        if answer and answer.dilution != 1:
            return f"{self.text} {name} x {answer.dilution:g}"
        return self.text if not name or self.text.endswith(name) else f"{self.text} {name}"

    @property
    def stops_closing(self) -> bool:
        return self.state in (OPEN, FAILED, LOOK_TWICE) and (
            self.line.required or self.line.is_gate or self.state == LOOK_TWICE
        )


@dataclass(frozen=True)
class Block:
    """One screen."""

    key: str
    title: str
    items: tuple[Item, ...]
    number: int

    @property
    def missing(self) -> list[Item]:
        return [item for item in self.items if item.stops_closing]

    @property
    def is_begun(self) -> bool:
        return any(item.state != OPEN for item in self.items)

    @property
    def is_done(self) -> bool:
        return not self.missing

    @property
    def passed(self) -> int:
        return sum(1 for item in self.items if not item.stops_closing)


class Sheet:
    """A record with everything that decides about it."""

    def __init__(self, record: ChecklistRecord, *, now: datetime, judged: bool = True) -> None:
        self.record = record
        self.now = now
        self.company = Company.load()
        self.stages = self._fitted()
        self.lines = list(record.template.lines.order_by("position"))
        self.answers = list(record.answers.select_related("by", "stage", "visit"))
        self.steps: list[DialStep] = list(record.steps.select_related("by"))
        self.items = self._items()
        self.items = [item for item in self.items if applies(self, item)]
        if judged:
            self._judge()

    @cached_property
    def notices(self) -> list[DoNotUse]:
        return list(DoNotUse.objects.standing().filter(site=self.record.site))

    @cached_property
    def acknowledgements(self) -> list[Acknowledgement]:
        return list(self.record.acknowledgements.select_related("by"))

    def _fitted(self) -> list[Stage]:
        if not self.record.train_id:
            return []
        return list(Stage.objects.filter(train=self.record.train_id).fitted().with_catalog())

    def _items(self) -> list[Item]:
        items = []
        for line in self.lines:
            kinds = STAGE_SUBJECTS.get(line.subject)
            stages: list[Stage | None] = (
                [None] if kinds is None else [s for s in self.stages if s.kind in kinds]
            )
            for stage in stages:
                items.append(self._item(line, stage))
        return items

    def _item(self, line: ChecklistLine, stage: Stage | None) -> Item:
        wanted = stage.pk if stage else None
        answers = {
            answer.side: answer
            for answer in self.answers
            if answer.line_key == line.key and answer.stage_id == wanted
        }
        return Item(line=line, stage=stage, answers=answers)

    def _judge(self) -> None:
        """State of every line, with what was passed over and what is being waited for."""
        timers = {timer.line_key: timer for timer in self.record.timers.all()}
        overrides = {row.line_key: row for row in self.record.overrides.select_related("by")}
        for item in self.items:
            item.override = overrides.get(item.line.key)
            item.timer = timers.get(item.line.key)
        for item in self.items:
            item.state, item.sentence = judge(self, item)

    # --- asking -------------------------------------------------------------------------

    def item(self, key: str, stage: Stage | None = None) -> Item | None:
        """The line with that key; of that part, or of the first part it is asked of."""
        for item in self.items:
            if item.line.key == key and (stage is None or item.stage == stage):
                return item
        return None

    def text(self, key: str, stage: Stage | None = None) -> str:
        item = self.item(key, stage)
        return item.text if item else ""

    def value(self, key: str, stage: Stage | None = None) -> float | None:
        item = self.item(key, stage)
        return item.value if item else None

    def stage(self, kind: str) -> Stage | None:
        return next((stage for stage in self.stages if stage.kind == kind), None)

    @property
    def feeder(self) -> Stage | None:
        return self.stage(Stage.Kind.FEEDER)

    @property
    def oxidant(self) -> str:
        feeder = self.feeder
        return feeder.product.oxidant if feeder and feeder.product else ""

    def has(self, what: str) -> bool:
        if what == "carbon":
            return any(stage.medium and stage.medium.is_carbon for stage in self.stages)
        return any(stage.kind in STAGE_SUBJECTS.get(what, (what,)) for stage in self.stages)

    @property
    def final_step(self) -> DialStep | None:
        return next((step for step in self.steps if step.is_final), None)

    @cached_property
    def aim(self) -> tuple[float, float] | None:
        """Residual aimed at after the retention tank, mg/L; None where none is aimed at."""
        return aim_for(self.company, self.oxidant, sulfide=(self.value("raw-sulfide") or 0) > 0)

    # --- blocks and closing ----------------------------------------------------------------

    @cached_property
    def blocks(self) -> list[Block]:
        keys = list(dict.fromkeys(item.line.block for item in self.items))
        return [self._block(key, number) for number, key in enumerate(keys, 1)]

    def _block(self, key: str, number: int) -> Block:
        items = tuple(item for item in self.items if item.line.block == key)
        return Block(key, items[0].line.block_title, items, number)

    def block(self, key: str) -> Block | None:
        return next((block for block in self.blocks if block.key == key), None)

    def cautions_of(self, block: Block) -> list[str]:
        """Keys of the cautions to show on a page, the stop first and only one stop."""
        keys = list(dict.fromkeys(i.line.caution for i in block.items if i.line.caution))
        if PIT_REPLACES in keys and self.well_in_pit:
            keys = [PIT, *keys]
        return sorted(keys, key=lambda key: key not in red(set(keys)))

    @cached_property
    def well_in_pit(self) -> bool:
        return self.record.site.wells.filter(head_in_pit=True).exists()

    def red_cautions(self) -> dict[str, Block]:
        """Red cautions of this record, each with the page it stands on."""
        found: dict[str, Block] = {}
        for block in self.blocks:
            for key in red(set(self.cautions_of(block))):
                found.setdefault(key, block)
        return found

    def acknowledged(self) -> dict[str, Acknowledgement]:
        return {row.caution: row for row in self.acknowledgements}

    def missing(self) -> list[tuple[str, str, Block]]:
        """What stands against closing: key, sentence and the page where it is put right."""
        rows = [
            (item.key, f"{item.label}: {item.sentence}", block)
            for block in self.blocks
            for item in block.missing
        ]
        read = self.acknowledged()
        for caution, block in self.red_cautions().items():
            if caution not in read:
                rows.append(
                    (
                        f"caution-{caution}",
                        f"Not read by name: {CAUTIONS[caution].title}.",
                        block,
                    )
                )
        return rows


def aim_for(company: Company, oxidant: str, *, sulfide: bool) -> tuple[float, float] | None:
    if oxidant == OxidantProduct.Oxidant.PEROXIDE:
        if sulfide:
            return company.peroxide_low_mg_l, company.peroxide_high_mg_l
        return company.peroxide_iron_low_mg_l, company.peroxide_iron_high_mg_l
    if oxidant == OxidantProduct.Oxidant.CHLORINE:
        return company.chlorine_low_mg_l, company.chlorine_high_mg_l
    return None


def load_sheet(record: ChecklistRecord, *, now: datetime, judged: bool = True) -> Sheet:
    """`judged=False` leaves the states out, where only the answers are asked for."""
    return Sheet(record, now=now, judged=judged)
