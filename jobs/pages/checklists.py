"""One version of a checklist as the owner reads it: lines, own edits, conflicts, differences."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.models import ChecklistLine, ChecklistTemplate, LineEdit
from jobs.workflows.checklist_edits import differences as differing
from jobs.workflows.checklist_edits import label_of, shown
from jobs.workflows.checklist_templates import laid, shipped_below


@dataclass(frozen=True)
class Edited:
    """What the company did to one line, in words."""

    key: str
    label: str
    what: str
    #: it can be asked as shipped again
    is_shipped: bool


def list_page(template: ChecklistTemplate) -> dict[str, object]:
    blocks: dict[str, list[ChecklistLine]] = {}
    for line in template.lines.order_by("position"):
        blocks.setdefault(line.block_title, []).append(line)
    context: dict[str, object] = {"template": template, "blocks": list(blocks.items())}
    if template.is_current:
        edits = LineEdit.objects.filter(purpose=template.purpose)
        context["edits"] = [_edited(edit) for edit in edits]
        has_shipped = ChecklistTemplate.objects.filter(purpose=template.purpose, is_edited=False)
        context["conflicts"] = laid(template.purpose).conflicts if has_shipped.exists() else []
    return context


def _edited(edit: LineEdit) -> Edited:
    if edit.own:
        return Edited(edit.key, edit.own["label"], "added", is_shipped=False)
    label = edit.was.get("label", edit.key)
    said = [f"{label_of(name)}: {shown(value)}" for name, value in edit.changes.items()]
    said = ["taken out", *said] if edit.left_out else said
    return Edited(edit.key, label, "; ".join(said), is_shipped=True)


def compared(template: ChecklistTemplate, against: str) -> dict[str, object]:
    """This version beside another one of the list: the one named, else the one before it."""
    others = ChecklistTemplate.objects.filter(purpose=template.purpose).exclude(pk=template.pk)
    older = others.filter(version__lt=template.version).order_by("-version").first()
    named = others.filter(pk=against).first() if _is_number(against) else None
    other = named or (shipped_below(template.purpose) if against == "shipped" else older)
    if other is None or other == template:
        return {"others": others}
    return {
        "others": others.order_by("-version"),
        "other": other,
        "differences": differing(other, template),
    }


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 10
