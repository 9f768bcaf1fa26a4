"""Who may see and do what. Three groups are the only source of roles."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import wraps
from typing import TYPE_CHECKING, Any, Literal

from django.contrib.auth.models import AnonymousUser, Group, User
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import HttpRequest, HttpResponse

if TYPE_CHECKING:
    from equipment.models.sites import SiteQuerySet

    from .models.photos import PhotoQuerySet
    from .models.records import ChecklistRecordQuerySet

Role = Literal["technician", "dispatcher", "owner"]
ROLES: tuple[Role, ...] = ("technician", "dispatcher", "owner")


def ensure_groups(using: str = "default", **kwargs: object) -> None:
    for role in ROLES:
        Group.objects.using(using).get_or_create(name=role)


def roles_of(user: User | AnonymousUser) -> frozenset[Role]:
    """The roles of a person; the owner is a dispatcher too. One query a request."""
    if not user.is_authenticated or not user.is_active:
        return frozenset()
    names, _ = _on_file(user)
    held = {role for role in ROLES if role in names}
    return frozenset(held | ({"dispatcher"} if "owner" in held else set()))


def units_of(user: User) -> str:
    """Whether a person types and reads US or metric units; no query besides that of the roles."""
    return _on_file(user)[1]


def _on_file(user: User) -> tuple[frozenset[str], str]:
    """Names of the groups and the units of a person, read once for each request."""
    kept: tuple[frozenset[str], str] | None = getattr(user, "_on_file", None)
    if kept is None:
        rows = User.objects.filter(pk=user.pk).order_by()
        found = list(rows.values_list("groups__name", "profile__unit_system"))
        units = {row[1] for row in found if row[1]}
        kept = frozenset(row[0] for row in found if row[0]), units.pop() if units else "us"
        setattr(user, "_on_file", kept)  # noqa: B010
    return kept


def has_role(user: User | AnonymousUser, *wanted: Role) -> bool:
    return not roles_of(user).isdisjoint(wanted)


def allow(*roles: Role) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """The one decorator every view stands under. `allow()` without a role: any staff."""
    wanted = roles or ROLES

    def decorate(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            if not has_role(request.user, *wanted):
                raise PermissionDenied
            response = view(request, *args, **kwargs)
            response.headers.setdefault("Cache-Control", "no-store, private")
            return response

        guarded.allowed_roles = wanted  # type: ignore[attr-defined]
        return guarded

    return decorate


def open_to_all(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Marks the few views that need no sign-in (health, sign-in, a customer's signed link)."""
    view.allowed_roles = ("anyone",)  # type: ignore[attr-defined]
    return view


def sites_for(user: User, *, today: date) -> SiteQuerySet:
    """Sites a person may read: all for the office, those of own visits for a technician."""
    from equipment.models import Site

    from .models import Visit

    if has_role(user, "dispatcher"):
        return Site.objects.all()
    if has_role(user, "technician"):
        visits = Visit.objects.seen_by_technician(user, today=today)
        return Site.objects.filter(pk__in=visits.values("job__site"))
    return Site.objects.none()


def records_for(user: User) -> ChecklistRecordQuerySet:
    """Records a person may read: all for the office, those of own visits for a technician."""
    from .models import ChecklistRecord, Visit

    if has_role(user, "dispatcher"):
        return ChecklistRecord.objects.all()
    if has_role(user, "technician"):
        own = Visit.objects.of_technician(user)
        return ChecklistRecord.objects.filter(job__in=own.values("job"))
    return ChecklistRecord.objects.none()


def photos_for(user: User, *, today: date) -> PhotoQuerySet:
    """Photos a person may look at: of houses and records that are open to this person."""
    from .models import Photo

    open_here = Q(site__in=sites_for(user, today=today)) | Q(record__in=records_for(user))
    return Photo.objects.filter(open_here)
