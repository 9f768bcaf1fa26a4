"""Of which part, tank and side of a record something is said; refused where there is none such."""

from __future__ import annotations

from equipment.models import Stage
from jobs.errors import BadEntry, PartTakenOut
from jobs.fieldwork.subjects import OF_EACH_TANK, STAGE_SUBJECTS
from jobs.models import ChecklistLine, ChecklistRecord

SIDES = ("", "found", "left")


def check_place(
    record: ChecklistRecord, line: ChecklistLine, stage: Stage | None, tank: int, side: str
) -> None:
    if side not in SIDES or bool(side) != line.is_pair:
        raise BadEntry(f"{line.label}: say whether it was found or left so.", field=line.key)
    kinds = STAGE_SUBJECTS.get(line.subject)
    if kinds is None and stage is not None:
        raise BadEntry(f"{line.label}: is place of the whole system.", field=line.key)
    if kinds is not None and (
        stage is None or stage.train_id != record.train_id or stage.kind not in kinds
    ):
        raise BadEntry(f"{line.label}: choose a part of this system.", field=line.key)
    tanks = stage.parallel_count if stage and line.subject in OF_EACH_TANK else 1
    if tank not in (range(1, tanks + 1) if tanks > 1 else (0,)):
        raise BadEntry(f"{line.label}: choose one of its tanks.", field=line.key)
    if stage is not None and stage.removed_on:
        _say_what_replaced(line, stage)


def _say_what_replaced(line: ChecklistLine, stage: Stage) -> None:
    new = Stage.objects.fitted().with_catalog().filter(replaces=stage).first()
    said = f"{new} is in its place" if new else "nothing is in its place"
    raise PartTakenOut(
        f"{line.label}: {stage} was taken out, {said}.",
        field=line.key,
        instead=new.pk if new else None,
    )
