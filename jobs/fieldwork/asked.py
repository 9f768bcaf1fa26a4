"""What is asked of this system, and what has been answered; nothing is judged here."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import groupby

from equipment.engineering.names import Oxidant, PartKind
from equipment.quantities import BEHIND, MEASURED, Known, PlaceName, is_found
from jobs.errors import BadEntry
from jobs.wording.figures import unit

from .conditions import applies
from .facts import Answer, Facts, Line, Override, Stage, Step, Timer
from .keys import ASKED_EACH_VISIT, NOT_WHILE_IT_RUNS
from .kinds import OPEN_KINDS, LineKind, Purpose, Source
from .on_file import OnFile
from .states import FAILED, LOOK_TWICE, OPEN
from .subjects import OF_EACH_TANK, PUMP_HEADS, STAGE_SUBJECTS, is_of, tanks_of
from .values import ReadAnswer, read_answer


@dataclass(kw_only=True)
class Item:
    """One line as it stands in this record, for one part of the system if it is asked of each.

    Not frozen: a sheet makes its own and judges each once, at every key on a phone.
    """

    line: Line
    stage: Stage | None
    answers: dict[str, Answer] = field(default_factory=dict)
    override: Override | None = None
    timer: Timer | None = None
    state: str = OPEN
    sentence: str = ""
    #: the figure on file that stands until a newer one is typed
    filed: Known | None = None
    #: an answer of each side, with what was read of it
    known: dict[str, tuple[Answer, ReadAnswer]] = field(
        default_factory=dict, compare=False, repr=False
    )

    @property
    def key(self) -> str:
        if self.stage is None:
            return self.line.key
        tank = f".{self.stage.tank}" if self.stage.tank else ""
        return f"{self.line.key}.{self.stage.pk}{tank}"

    @property
    def dom_id(self) -> str:
        return self.key.replace(".", "-")

    def box(self, side: str = "") -> str:
        """The name of one of its boxes."""
        return f"{self.key}:{side}" if side else self.key

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
        side = self.sides[-1] if side is None else side
        answer = self.answers.get(side)
        if answer is None or not answer.text:
            return None
        of, read = self.known.get(side, (None, None))
        if of is not answer or read is None:
            read = self._read(answer)
            self.known[side] = answer, read
        return read

    def _read(self, answer: Answer) -> ReadAnswer:
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
    def cycles(self) -> list[str]:
        """How each cycle run so far ended, in words."""
        words = dict(self.line.choices)
        return [words.get(word, word) for word in self.text.split()]

    @property
    def shown(self) -> str:
        """The answer that counts, as people read it."""
        return self.shown_of(self.sides[-1])

    def shown_of(self, side: str) -> str:
        answer = self.answers.get(side)
        if answer is None or not answer.text:
            return self._filed if side == self.sides[-1] else ""
        if self.line.kind == LineKind.CHOICE:
            return dict(self.line.choices).get(answer.text, answer.text)
        if self.line.kind == LineKind.CYCLES:
            return f"{len(self.cycles)}: {', '.join(self.cycles)}"
        if self.line.kind == LineKind.TICK:
            return "yes"
        measured = MEASURED.get(self.line.quantity_key)
        name = unit(answer.unit or measured.unit) if measured else ""
        if answer.dilution != 1:
            return f"{answer.text} {name} x {answer.dilution:g}"
        return answer.text if not name or answer.text.endswith(name) else f"{answer.text} {name}"

    @property
    def _filed(self) -> str:
        """What stands on file, with where it comes from."""
        if self.filed is None or self.filed.value is None:
            return ""
        figure = f"{self.filed.value:.4g} {unit(self.filed.unit)}".strip()
        return f"{figure} ({self.filed.origin})"

    @property
    def is_held(self) -> bool:
        """Not passed over while the dosing pump runs."""
        return self.line.key in NOT_WHILE_IT_RUNS

    @property
    def stops_closing(self) -> bool:
        return self.state in (OPEN, FAILED, LOOK_TWICE) and (
            self.line.required or self.line.is_gate or self.state == LOOK_TWICE
        )


class Asked:
    """The lines of a record that apply to its system, with their answers."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts
        self.record = facts.record
        self.company = facts.company
        self.train = facts.train
        self.stages = facts.stages
        self.steps = facts.steps
        self.notices = facts.notices
        self.on_file = OnFile(facts)
        self._take(self._items())
        self._take(item for item in self.items if applies(self, item.line, item.stage))

    def _take(self, items: Iterable[Item]) -> None:
        self.items: tuple[Item, ...] = tuple(items)
        by_key: dict[str, list[Item]] = {}
        for item in self.items:
            by_key.setdefault(item.line.key, []).append(item)
        self._by_key = by_key

    def _items(self) -> tuple[Item, ...]:
        timers = {timer.line_key: timer for timer in self.facts.timers}
        overrides = {row.line_key: row for row in self.facts.overrides}
        answers: dict[tuple[str, int | None, int], dict[str, Answer]] = {}
        for answer in self.facts.answers:
            place = answer.line_key, answer.stage, answer.tank
            answers.setdefault(place, {})[answer.side] = answer
        return tuple(
            Item(
                line=line,
                stage=stage,
                answers=self._of_today(
                    line,
                    answers.get((line.key, stage.pk, stage.tank) if stage else (line.key, None, 0)),
                ),
                override=overrides.get(line.key),
                timer=timers.get(line.key),
                filed=self.on_file.reading(line.quantity_key, line.place)
                if line.from_file
                else None,
            )
            for line, stage in self._places()
        )

    def _places(self) -> Iterator[tuple[Line, Stage | None]]:
        """Lines in their order; what is asked of each tank is asked of one tank after the other."""
        for (_, by_tank), run in groupby(
            self.facts.lines, key=lambda line: (line.block, line.subject in OF_EACH_TANK)
        ):
            lines = list(run)
            if not by_tank:
                yield from ((line, stage) for line in lines for stage in self._asked_of(line))
                continue
            tanks = [tank for stage in self.stages for tank in tanks_of(stage)]
            for tank in tanks:
                kinds = ((line, STAGE_SUBJECTS[line.subject]) for line in lines)
                yield from ((line, tank) for line, fits in kinds if tank.kind in fits)

    def _of_today(self, line: Line, answers: dict[str, Answer] | None) -> dict[str, Answer]:
        """The answers that count: a tick of isolation only from the visit that is on."""
        began = self.record.visit_began_at
        if line.key not in ASKED_EACH_VISIT or began is None:
            return answers or {}
        return {side: row for side, row in (answers or {}).items() if row.read_at >= began}

    def _asked_of(self, line: Line) -> tuple[Stage | None, ...]:
        kinds = STAGE_SUBJECTS.get(line.subject)
        if kinds is None:
            return (None,)
        return tuple(stage for stage in self.stages if stage.kind in kinds)

    # --- asking -------------------------------------------------------------------------

    def item(self, key: str, stage: Stage | None = None) -> Item | None:
        """The line with that key; of that part or tank, or of the first it is asked of."""
        for item in self._by_key.get(key, ()):
            if stage is None or is_of(item.stage, stage):
                return item
        return None

    def text(self, key: str, stage: Stage | None = None) -> str:
        item = self.item(key, stage)
        return item.text if item else ""

    def value(self, key: str, stage: Stage | None = None) -> float | None:
        item = self.item(key, stage)
        return item.value if item else None

    def newest(self, quantity: str) -> float | None:
        """A figure of well or house in its own unit: answered here, else on file."""
        here = [i.value for i in self.items if i.line.quantity_key == quantity and not i.stage]
        filed = self.on_file.reading(quantity)
        told = next((value for value in here if value is not None), None)
        return told if told is not None else filed.value if filed else None

    def texts(self, key: str) -> list[str]:
        """What was answered to a line, for each part it is asked of."""
        return [item.text for item in self._by_key.get(key, ())]

    def stage(self, kind: str) -> Stage | None:
        return next((stage for stage in self.stages if stage.kind == kind), None)

    @property
    def is_startup(self) -> bool:
        return self.record.purpose == Purpose.STARTUP

    @property
    def is_recheck(self) -> bool:
        return self.record.purpose == Purpose.RECHECK

    @property
    def feeder(self) -> Stage | None:
        return self.stage(PartKind.FEEDER)

    @property
    def oxidant(self) -> str:
        feeder = self.feeder
        return feeder.product.oxidant if feeder and feeder.product else ""

    def has(self, what: str) -> bool:
        if what in PUMP_HEADS:
            pump = self.feeder.feed_pump if self.feeder else None
            return pump is not None and pump.head in PUMP_HEADS[what]
        if what == "carbon":
            return any(stage.medium and stage.medium.is_carbon for stage in self.stages)
        return any(stage.kind in STAGE_SUBJECTS.get(what, (what,)) for stage in self.stages)

    @property
    def source(self) -> str:
        """Whether the water stands in a bore or in an open box; a bore where nobody has said."""
        return Source.OPEN if self.record.source_kind in OPEN_KINDS else Source.BORE

    def tap(self, line: Line) -> tuple[str, Stage | None]:
        """The place under which a figure of this line is kept, and the part it is read behind."""
        kind = BEHIND.get(line.place)
        if kind is None:
            return line.place, None
        part = self.stage(kind)
        return (PlaceName.AFTER_STAGE, part) if part else ("", None)

    @property
    def final_step(self) -> Step | None:
        return next((step for step in self.steps if step.is_final), None)

    @cached_property
    def aim(self) -> tuple[float, float] | None:
        """Residual aimed at after the retention tank, mg/L; None where none is aimed at, or
        where it rests on a sulfide that nobody has read."""
        if self.oxidant == Oxidant.PEROXIDE and self.raw_sulfide is None:
            return None
        return aim_for(self.company, self.oxidant, sulfide=self.has_sulfide)

    @property
    def has_sulfide(self) -> bool:
        return self.is_in_raw_water("sulfide")

    def is_in_raw_water(self, quantity: str) -> bool:
        """Found in the raw water; what nobody has looked for is not found."""
        found = self.raw_found(quantity)
        return found is not None and found[0]

    @cached_property
    def raw_sulfide(self) -> tuple[bool, str] | None:
        return self.raw_found("sulfide")

    def raw_found(self, quantity: str) -> tuple[bool, str] | None:
        """Whether there is any and who says so: the raw water read today, else what is on file."""
        for item in self.items:
            read = item.read() if item.line.quantity_key == quantity else None
            if item.line.place == PlaceName.RAW and read and read.value is not None:
                return is_found(read.value, read.comparator), "read today"
        filed = self.on_file.reading(quantity, PlaceName.RAW)
        return None if filed is None else (is_found(filed.value), filed.origin)

    @property
    def aim_rests_on(self) -> str:
        """What decided between the aims, with its date."""
        if self.oxidant != Oxidant.PEROXIDE or self.raw_sulfide is None:
            return ""
        found, origin = self.raw_sulfide
        return f"{'sulfide' if found else 'no sulfide'} in the raw water, {origin}"


def aim_for(
    company: Mapping[str, float], oxidant: str, *, sulfide: bool
) -> tuple[float, float] | None:
    """The company's band of residual before the filter, mg/L; None where none is aimed at."""
    if oxidant == Oxidant.PEROXIDE:
        band = "peroxide" if sulfide else "peroxide_iron"
    elif oxidant == Oxidant.CHLORINE:
        band = "chlorine"
    else:
        return None
    return company[f"{band}_low_mg_l"], company[f"{band}_high_mg_l"]
