"""What stands on the page of a call: the house that is meant, and the forms with what was typed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import UUID, uuid4

from django.http import QueryDict

from equipment.models import Site, Train
from jobs.http import row_named
from jobs.models import Customer, FollowUp, Job, PhoneCall, SiteTenure
from jobs.models.company import company_day
from jobs.schedule.proposals import Proposal, Wish, proposals

from .phone_calls import FIRST_VISIT, CallForm, NewCustomerForm, NewHouseForm
from .visits import MINUTES

NEW, NEW_FOR = "new", "for-"
#: promises whose window begins so soon are offered to be taken along
SOON = timedelta(days=30)
#: a call about work that nobody has named yet
USUAL = Job.Kind.SERVICE
#: boxes of the two forms of a new house
NEW_BOXES = ("customer-name", "customer-phone", "house-street", "house-town")


@dataclass
class Desk:
    """The call as far as it is typed."""

    typed: QueryDict | None
    now: datetime
    #: what the button asks for: "visit", "note", or "" for keeping it as it stands
    ends: str = ""
    site: Site | None = None
    known: Customer | None = None
    is_new: bool = False
    contact: Customer | None = None
    along: list[FollowUp] = field(default_factory=list)
    proposed: Sequence[Proposal] = ()

    def __post_init__(self) -> None:
        self.chosen = str(self.typed.get("house", "")) if self.typed else ""
        self.is_new = self.chosen == NEW or self.chosen.startswith(NEW_FOR)
        self.known = row_named(Customer.objects.all(), self.chosen.removeprefix(NEW_FOR))
        self.known = self.known if self.chosen.startswith(NEW_FOR) else None
        self.site = row_named(Site.objects.all(), self.chosen)
        today = company_day(self.now)
        if self.site:
            self.contact = SiteTenure.objects.contacts([self.site.pk], today).get(self.site.pk)
            rows = FollowUp.objects.open().filter(site=self.site).exclude(terms__job_kind="")
            soon = rows.filter(window_from__lte=today + SOON).with_site()
            self.along = list(soon.order_by("due_on", "pk"))
        self.contact = self.contact or self.known
        self._take_words()
        if self.site or self.is_new:
            self.proposed = proposals(self.wish, now=self.now)

    def _take_words(self) -> None:
        """What was looked for is what is typed of a new house, until somebody types there."""
        if self.typed is None or any(self.typed.get(name) for name in NEW_BOXES):
            return
        self.typed = self.typed.copy()
        for name, text in words_of(self.typed.get("q", "")).items():
            self.typed[name] = text

    @property
    def kind(self) -> str:
        """Chosen; as long as nobody chose, what is usual."""
        typed = self.typed or QueryDict()
        chosen = typed.get("kind", "")
        touched = chosen in MINUTES and chosen != typed.get("offered_kind")
        return chosen if touched else FIRST_VISIT if self.is_new else USUAL

    @property
    def wish(self) -> Wish:
        typed = self.typed or QueryDict()
        trains = (
            Train.objects.filter(site=self.site).standing() if self.site else Train.objects.none()
        )
        minutes = typed.get("minutes", "")
        ticked = set(typed.getlist("along"))
        usual = MINUTES[Job.Kind(self.kind)]
        return Wish(
            site=self.site,
            kind=self.kind,
            minutes=min(max(int(minutes), 15), 840) if minutes.isdecimal() else usual,
            train=row_named(trains, typed.get("train")),
            along=tuple(row for row in self.along if str(row.pk) in ticked),
            is_urgent=bool(typed.getlist("dangers")),
        )

    def form(self, *, says_errors: bool = True) -> CallForm:
        """Bound to what was typed; kept quiet where nobody has asked for an end yet."""
        form = CallForm(
            self._complete(),
            site=self.site,
            ends=self.ends,
            proposed=self.proposed,
            along=self.along,
            contact=self.contact,
        )
        if not says_errors:
            form.errors.clear()
        return form

    def _complete(self) -> QueryDict:
        """Boxes that were not on the page yet, or stood there for another house, as offered."""
        typed = (self.typed or QueryDict()).copy()
        if not typed.get("kind") or typed["kind"] == typed.get("offered_kind"):
            typed["kind"] = self.kind
        typed["offered_kind"] = FIRST_VISIT if self.is_new else USUAL
        typed["call"] = _named(str(typed.get("call", "")))
        empty = CallForm(
            site=self.site, proposed=self.proposed, along=self.along, contact=self.contact
        )
        for name in ("when", "told", "answer_by", "reported_on", "train"):
            if not typed.get(name) or not self._is_offered(empty, name, str(typed[name])):
                typed[name] = str(empty[name].value() or "")
        here = {str(row.pk) for row in self.along}
        typed.setlist("along", [pk for pk in typed.getlist("along") if pk in here])
        return typed

    def _is_offered(self, empty: CallForm, name: str, value: str) -> bool:
        """A time that was shown before is asked for all the same: it may still be free."""
        choices = getattr(empty.fields[name], "choices", None)
        if choices is None or (name == "when" and self.ends):
            return True
        return value in {str(each) for each, _ in choices}

    def customer_form(self, *, says_errors: bool = True) -> NewCustomerForm | None:
        if self.known:
            return None
        form = NewCustomerForm(self.typed, prefix="customer")
        if not says_errors:
            form.errors.clear()
        return form

    def house_form(self, *, says_errors: bool = True) -> NewHouseForm:
        form = NewHouseForm(self.typed, prefix="house")
        if not says_errors:
            form.errors.clear()
        return form


def _named(text: str) -> str:
    """The name of the call as it was sent; whatever else is there names nothing."""
    try:
        return str(UUID(text))
    except ValueError:
        return str(uuid4())


def words_of(text: str) -> dict[str, str]:
    """A telephone number, a street or a name, out of what was looked for."""
    text = " ".join(text.split())[:120]
    number = re.search(r"\+?[\d().\s-]{7,}\d", text)
    digits = re.sub(r"\D", "", number[0]) if number else ""
    found: dict[str, str] = {}
    if number and 7 <= len(digits) <= 15:
        found["customer-phone"] = number[0].strip()
        text = " ".join(text.replace(number[0], " ").split())
    if text:
        is_street = any(each.isdigit() for each in text)
        found["house-street" if is_street else "customer-name"] = text
    return found


def kept_as_typed(typed: QueryDict) -> dict[str, list[str]]:
    """Boxes as they stand, to go on with a call that was kept open."""
    left_out = ("csrfmiddlewaretoken", "once", "do", "sure")
    return {
        name: [str(v) for v in values] for name, values in typed.lists() if name not in left_out
    }


def typed_again(call: PhoneCall) -> QueryDict:
    """The boxes of a call that was kept open."""
    typed = QueryDict(mutable=True)
    for name, values in call.typed.items():
        typed.setlist(name, list(values))
    typed["call"] = str(call.uuid)
    return typed


def opened(house: str = "") -> QueryDict:
    """A page that somebody has just opened."""
    typed = QueryDict(mutable=True)
    typed["call"] = str(uuid4())
    if house:
        typed["house"] = house
    return typed
