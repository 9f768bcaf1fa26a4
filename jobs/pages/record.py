"""What the pages of a record show beside the boxes, where rows, forms and addresses are at hand."""

from __future__ import annotations

from collections.abc import Callable

from django.urls import reverse

from jobs.fieldwork.dialling import BY_STRIP
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.kinds import NoticeLevel
from jobs.fieldwork.pump import figures_of
from jobs.fieldwork.sheet import Block, Sheet
from jobs.forms.dial_steps import ReadStepForm, SetStepForm
from jobs.forms.strips import StripsForm
from jobs.models import StripCheck
from jobs.models.company import company_day
from jobs.phone import beside
from jobs.workflows.notices import out_of_pipes
from jobs.workflows.strips import doubt_of


def progress(sheet: Sheet) -> list[dict[str, object]]:
    """The pages of a record, each with its address."""
    return [
        {**entry, "url": reverse("record-block", args=[sheet.record.pk, entry["key"]])}
        for entry in beside.progress(sheet)
    ]


def may_lift(sheet: Sheet, block: Block) -> bool:
    """The readings after flushing stand here, all passed, and the notice is still open."""
    item = sheet.item(LineKey.FLUSH_LOW)
    stands = any(notice.level == NoticeLevel.NO_USE for notice in sheet.notices)
    here = item is not None and item.line.block == block.key
    return stands and here and out_of_pipes(sheet) is not None


def dial_context(
    sheet: Sheet, block: Block, check_of: Callable[[], StripCheck | None]
) -> dict[str, object]:
    """The dial-back with its forms, and the strips in use; nothing on pages without steps."""
    if not beside.has_steps(block):
        return {}
    return {
        **beside.dial(sheet),
        **_strips(sheet, check_of),
        "set_form": SetStepForm(figures=figures_of(sheet), initial=beside.to_offer(sheet)),
        "read_form": ReadStepForm(oxidant=sheet.oxidant),
    }


def _strips(sheet: Sheet, check_of: Callable[[], StripCheck | None]) -> dict[str, object]:
    if sheet.feeder is None or sheet.oxidant not in BY_STRIP:
        return {}
    check = check_of()
    return {
        "by_strip": True,
        "strips": check.lot if check else None,
        "strips_doubt": doubt_of(check, company_day(sheet.now)) if check else "",
        "strips_form": StripsForm(
            oxidant=sheet.oxidant, initial={"lot": check.lot_id if check else None}
        ),
    }
