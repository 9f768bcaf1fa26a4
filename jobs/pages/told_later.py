"""What a phone told that was not applied, or only against a rule, in words for the office."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from jobs.models import Act, ActAnswer, ChecklistLine, ChecklistRecord

#: acts by their kind, as somebody of the office says them
WORDS = {
    "answer": "Answer",
    "skip": "Line left open",
    "override": "Passed over",
    "override-back": "Counts again",
    "acknowledge": "Caution read",
    "timer-start": "Wait begun",
    "timer-stop": "Wait ended",
    "timer-again": "Wait begun anew",
    "timer-undo": "Wait taken back",
    "pour": "Chlorine poured",
    "record-open": "Record begun",
    "record-close": "Record closed",
    "step-set": "Dosing pump set",
    "step-read": "Step read",
    "step-skip": "Step not read",
    "step-keep": "Setting that stays",
    "step-checked": "Dosing pump looked at",
    "step-leave": "Dial-back left for today",
    "strips": "Strips taken into use",
    "set-out": "Set out",
    "arrive": "Arrived",
    "arrive-undo": "Arrival taken back",
    "no-access": "No access",
    "visit-close": "Visit ended",
    "photo": "Photo",
    "fill": "Fill",
    "notice": "Water must not be used",
    "part-new": "Part fitted",
    "part-replace": "Part replaced",
    "part-end": "Part taken out",
    "system": "System put right",
    "well": "Well put right",
}
BECAME = {
    ActAnswer.State.KEPT: "kept against a rule",
    ActAnswer.State.LOOK: "waits for a decision",
    ActAnswer.State.REFUSED: "not applied",
}


@dataclass(frozen=True)
class Row:
    """One act: what was typed, what became of it, and where it can be put right."""

    act: Act
    what: str

    @property
    def became(self) -> str:
        return BECAME[ActAnswer.State(self.act.answer.state)]

    @property
    def why(self) -> str:
        return str(self.act.answer.told.get("sentence", ""))

    @property
    def correct_url(self) -> str:
        """What was typed for a record that is closed is proposed as its correction."""
        record, said = self.act.answer.record, self.act.body["payload"]
        if self.act.kind != "answer" or record is None or not record.is_closed:
            return ""
        named = (said.get("line"), said.get("stage"), said.get("tank"))
        item = ".".join(str(part) for part in named if part)
        told = {"item": item, "side": said.get("side", "")}
        told |= {"text": said.get("text", ""), "unit": said.get("unit", "")}
        return f"{reverse('record-correct', args=[record.pk])}?{urlencode(told)}"


def waiting_on(record: ChecklistRecord) -> list[Row]:
    return rows_of(Act.objects.waiting().filter(answer__record=record).with_answer())


def rows_of(acts: Iterable[Act]) -> list[Row]:
    """Two queries, however many there are; a line is said as the record of the act asks it.

    Where its record was never begun, as the newest list with that line does.
    """
    found = list(acts)
    keys = {str(act.body["payload"].get("line")) for act in found}
    lines = ChecklistLine.objects.filter(key__in=keys).order_by("template__version", "pk")
    labels: dict[tuple[int | None, str], str] = {}
    for template, key, label in lines.values_list("template", "key", "label"):
        labels[template, key] = labels[None, key] = label
    return [Row(act, _what(act, labels)) for act in found]


def _what(act: Act, labels: Mapping[tuple[int | None, str], str]) -> str:
    said, kind = act.body["payload"], WORDS.get(act.kind, "An act that is not known here")
    record = act.answer.record
    asked_by = record.template_id if record else None
    label = labels.get((asked_by, str(said.get("line"))), "")
    if act.kind == "answer" and label:
        return f"{label}: {said.get('text') or 'nothing'} {said.get('unit') or ''}".strip()
    words = (said.get(name) for name in ("reason", "note", "caption", "setting_percent"))
    reason = next(filter(None, words), "")
    return ", ".join(part for part in (kind, label, str(reason)[:200]) if part)
