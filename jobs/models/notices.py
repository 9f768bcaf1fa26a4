from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.db.models import Case, Count, OuterRef, Q, Subquery, Value, When

from equipment.models import Sample, Site, Well
from jobs.fieldwork.kinds import (
    CAUSE_WORDS,
    HELD_TITLE,
    NOTICE_TITLES,
    LiftedOn,
    NoticeCause,
    NoticeLevel,
    lifted_on,
)

from .water_told import untold_samples

if TYPE_CHECKING:
    from .treated import HeldByTreatment


#: `lifted_on` as the database says it: each of them ends a notice of its own
ENDED_BY = Case(
    When(level=NoticeLevel.SAMPLE_PENDING.value, then=Value(LiftedOn.SAMPLES.value)),
    When(cause=NoticeCause.OTHER.value, then=Value(LiftedOn.WORDS.value)),
    When(level=NoticeLevel.NO_USE.value, then=Value(LiftedOn.READINGS.value)),
    When(cause=NoticeCause.OXIDANT.value, then=Value(LiftedOn.READINGS.value)),
    default=Value(LiftedOn.SAMPLES.value),
    output_field=models.CharField(),
)


class DoNotUseQuerySet(models.QuerySet["DoNotUse"]):
    def standing(self) -> Self:
        return self.filter(lifted_at=None)

    def at_site(self, site: Site | int) -> Self:
        """Notices of the house itself, and of every well it draws from."""
        wells = Well.objects.at_site(site).values("pk")
        return self.filter(Q(site=site, well=None) | Q(well__in=wells))

    def by_house(self, sites: Collection[int]) -> dict[int, list[DoNotUse]]:
        """The notices of many houses, a well's at each house on it; three queries, two for one."""
        if len(sites) == 1:
            return {site: one for site in sites if (one := list(self._at_one(site)))}
        own, of_wells = Q(site__in=sites, well=None), Q(well__site__in=sites)
        rows = self.filter(own | of_wells | Q(well__also_serves__in=sites)).distinct()
        found: dict[int, list[DoNotUse]] = {}
        for row in rows.select_related("well").prefetch_related("well__also_serves", "held"):
            for site in row.houses & set(sites):
                found.setdefault(site, []).append(row)
        return found

    def _at_one(self, site: int) -> Self:
        return self.at_site(site).select_related("well").prefetch_related("held")

    def with_untold_result(self) -> Self:
        """`untold`: the oldest sample with bacteria that a house under it knows nothing of."""
        of_it = Q(site=OuterRef("site_id")) | Q(well=OuterRef("well_id"))
        samples = untold_samples().filter(of_it)
        return self.annotate(untold=Subquery(samples.values("pk")[:1]))

    def worst_first(self) -> Self:
        """E. coli before everything else, then as they were opened; `more`: other houses."""
        found = Case(When(cause=DoNotUse.Cause.ECOLI, then=0), default=1)
        return self.annotate(more=Count("well__also_serves", distinct=True)).order_by(
            found, "opened_at", "pk"
        )

    def blocking(self, site: Site) -> Self:
        """Only "no drinking" stops a start-up, and not where treatment holds it."""
        rows = self.standing().at_site(site).filter(level=DoNotUse.Level.NO_DRINKING)
        held = Count("held", filter=Q(held__site=site, held__raised_at=None), distinct=True)
        return rows.annotate(held_here=held).filter(held_here=0)

    def with_holds(self) -> Self:
        """`held_houses`: at so many of its houses treatment holds it; each with its house."""
        standing = Count("held", filter=Q(held__raised_at=None), distinct=True)
        return self.annotate(held_houses=standing).prefetch_related("held__site")


class DoNotUse(models.Model):
    """Water that must not be used, or not be drunk, until somebody says so on a reading.

    Bacteria belong to the well and every house on it, chlorine and oxidant to the pipes of a house.
    """

    class Level(models.TextChoices):
        NO_USE = NoticeLevel.NO_USE.value, NOTICE_TITLES[NoticeLevel.NO_USE]
        NO_DRINKING = (
            NoticeLevel.NO_DRINKING.value,
            NOTICE_TITLES[NoticeLevel.NO_DRINKING],
        )
        SAMPLE_PENDING = (
            NoticeLevel.SAMPLE_PENDING.value,
            NOTICE_TITLES[NoticeLevel.SAMPLE_PENDING],
        )

    class Cause(models.TextChoices):
        COLIFORM = NoticeCause.COLIFORM.value, CAUSE_WORDS[NoticeCause.COLIFORM]
        ECOLI = NoticeCause.ECOLI.value, CAUSE_WORDS[NoticeCause.ECOLI]
        FLOOD = NoticeCause.FLOOD.value, CAUSE_WORDS[NoticeCause.FLOOD]
        OPENED = NoticeCause.OPENED.value, CAUSE_WORDS[NoticeCause.OPENED]
        SUSPECTED = NoticeCause.SUSPECTED.value, CAUSE_WORDS[NoticeCause.SUSPECTED]
        DISINFECTED = NoticeCause.DISINFECTED.value, CAUSE_WORDS[NoticeCause.DISINFECTED]
        OXIDANT = NoticeCause.OXIDANT.value, CAUSE_WORDS[NoticeCause.OXIDANT]
        OTHER = NoticeCause.OTHER.value, CAUSE_WORDS[NoticeCause.OTHER]

    site = models.ForeignKey(
        Site, on_delete=models.PROTECT, related_name="+", verbose_name="house it was opened at"
    )
    #: with a well it holds for every house on it
    well = models.ForeignKey(
        Well, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    level = models.CharField(max_length=14, choices=Level)
    cause = models.CharField(max_length=12, choices=Cause, default=Cause.OTHER)
    reason = models.CharField(max_length=200)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    occasion = models.UUIDField(null=True, blank=True)
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    lifted_on_reading = models.CharField(max_length=120, blank=True)
    lifted_on_sample = models.ForeignKey(
        Sample, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    #: what was found out about another cause, who read or said it, and when
    lifted_on_words = models.CharField(max_length=300, blank=True)
    lifted_words_by = models.CharField(max_length=120, blank=True)
    lifted_words_at = models.DateTimeField(null=True, blank=True)

    #: why it was raised at the wrong house; nothing was found out about the water
    taken_back_why = models.CharField(max_length=300, blank=True)

    #: of a query that asks for them: other houses on its well, and houses where treatment holds it
    more: int
    held_houses: int

    objects = DoNotUseQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                "site",
                "level",
                ENDED_BY,
                name="do_not_use_once_open",
                condition=Q(lifted_at=None, well=None),
            ),
            models.UniqueConstraint(
                "well",
                "level",
                ENDED_BY,
                name="do_not_use_once_open_on_a_well",
                condition=Q(lifted_at=None, well__isnull=False),
            ),
            models.CheckConstraint(
                name="do_not_use_oxidant_of_a_house", condition=~Q(level="no_use") | Q(well=None)
            ),
            models.CheckConstraint(
                name="do_not_use_taken_back_is_not_lifted",
                condition=Q(taken_back_why="")
                | Q(
                    lifted_at__isnull=False,
                    lifted_on_reading="",
                    lifted_on_words="",
                    lifted_on_sample=None,
                ),
            ),
            models.CheckConstraint(
                name="do_not_use_lifted_by_someone",
                condition=Q(lifted_at=None, lifted_by=None)
                | Q(lifted_at__isnull=False, lifted_by__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.get_level_display()

    @property
    def houses(self) -> set[int]:
        """Every house it holds for."""
        if self.well is None:
            return {self.site_id}
        return {self.well.site_id, *(site.pk for site in self.well.also_serves.all())}

    def held_at(self, site: int) -> HeldByTreatment | None:
        """Treatment holds it at that house; read from `held`, which lists prefetch."""
        rows = [row for row in self.held.all() if row.site_id == site and row.raised_at is None]
        return rows[0] if rows else None

    def title_at(self, site: int) -> str:
        """What the people of that house may not do."""
        return HELD_TITLE if self.held_at(site) else self.get_level_display()

    @property
    def is_about_bacteria(self) -> bool:
        return lifted_on(self.level, self.cause) == LiftedOn.SAMPLES

    @property
    def is_ended_in_words(self) -> bool:
        return lifted_on(self.level, self.cause) == LiftedOn.WORDS

    @property
    def is_read_at_taps(self) -> bool:
        """Water that must not be used is read at the taps, whatever it was about."""
        is_oxidant = lifted_on(self.level, self.cause) == LiftedOn.READINGS
        return is_oxidant or self.level == self.Level.NO_USE
