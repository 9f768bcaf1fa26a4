"""From rows to facts: everything records are read from, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from equipment import models as rows
from equipment.on_file import OnFile, day_text, known, place_of
from equipment.quantities import SettingName
from jobs import models
from jobs.fieldwork import facts
from jobs.fieldwork.kinds import Purpose
from jobs.fieldwork.recheck import figure
from jobs.fieldwork.sheet import Sheet, read_sheet
from jobs.models.company import company_day
from jobs.wording.names import person

from .gathered import Gathered
from .steps import steps_of, waits_of
from .supply import supply_of


def load_sheet(record: models.ChecklistRecord, *, now: datetime) -> Sheet:
    """A record read whole at that moment."""
    return read_sheet(load_facts(record, now=now), now=now)


def load_facts(record: models.ChecklistRecord, *, now: datetime) -> facts.Facts:
    """What the record rests on; figures on file are those known then, or at its closing."""
    return load_all([record], now=now)[record.pk]


def load_all(records: Sequence[models.ChecklistRecord], *, now: datetime) -> dict[int, facts.Facts]:
    """Several records by number, in as many queries as one; rechecks ask a few more each."""
    gathered = Gathered(records)
    return {record.pk: _facts(record, gathered, now) for record in records}


def _facts(record: models.ChecklistRecord, read: Gathered, now: datetime) -> facts.Facts:
    train, pk, site = record.train, record.pk, record.site_id
    wells = read.wells_of_train.get(record.train_id or 0, [])
    of_site = read.wells_of_site.get(site, [])
    stages = read.stages.get(record.train_id or 0, [])
    until = record.closed_at or now
    corrections = read.corrections.get(pk, [])
    on_file = OnFile(record.site, wells=wells, until=until, filed=read.filed[site])
    return facts.Facts(
        record=_record(record, of_site, wells or of_site, read.arrivals.get(record.job_id)),
        lines=tuple(line_facts(line) for line in read.lines.get(record.template_id, [])),
        company=company_facts(read.company),
        train=_train(train) if train else None,
        stages=tuple(_fitted(stage, record) for stage in stages),
        answers=_answers(record, read.answers.get(pk, []), corrections),
        steps=steps_of(read.steps.get(pk, []), corrections),
        timers=waits_of(read.timers.get(pk, []), corrections),
        overrides=tuple(
            facts.Override(line_key=row.line_key, reason=row.reason, by=person(row.by))
            for row in read.overrides.get(pk, [])
        ),
        acknowledgements=tuple(
            facts.Acknowledgement(caution=row.caution, by=person(row.by), at=row.at)
            for row in read.acknowledgements.get(pk, [])
        ),
        notices=tuple(
            facts.Notice(
                level=notice.level,
                reason=notice.reason,
                is_held=notice.held_at(site) is not None,
                cause=notice.cause,
            )
            for notice in read.notices.get(site, [])
        ),
        readings=tuple(_readings(on_file, stages)),
        settings=tuple(_settings(on_file, stages)),
        earlier=_earlier(record, until) if record.template.purpose == Purpose.RECHECK else None,
    )


def company_facts(company: models.Company) -> dict[str, float]:
    """Every figure of the company that a limit, an aim or a panel may ask for."""
    return {
        field.name: float(value)
        for field in company._meta.concrete_fields
        if isinstance(value := getattr(company, field.name), int | float) and not field.primary_key
    }


def line_facts(line: models.ChecklistLine) -> facts.Line:
    return facts.Line(
        block=line.block,
        block_title=line.block_title,
        key=line.key,
        label=line.label,
        kind=line.kind,
        hint=line.hint,
        quantity_key=line.quantity_key,
        subject=line.subject,
        place=line.place,
        is_pair=line.is_pair,
        choices=tuple((value, words) for value, words in line.choices),
        required=line.required,
        is_gate=line.is_gate,
        passes=line.passes,
        condition=line.condition,
        hard_min=line.hard_min,
        hard_max=line.hard_max,
        warn_min=line.warn_min,
        warn_max=line.warn_max,
        expectation=line.expectation,
        caution=line.caution,
        may_skip=line.may_skip,
        from_file=line.from_file,
    )


def _record(
    record: models.ChecklistRecord,
    wells: list[rows.Well],
    drawn_from: list[rows.Well],
    arrived_at: datetime | None,
) -> facts.Record:
    return facts.Record(
        pk=record.pk,
        site=record.site_id,
        uuid=str(record.uuid),
        purpose=record.template.purpose,
        title=record.template.title,
        opened_at=record.opened_at,
        closed_at=record.closed_at,
        visit_began_at=None if record.closed_at else arrived_at,
        well_in_pit=any(well.head_in_pit for well in wells),
        source_kind=drawn_from[0].kind if drawn_from else "",
        region=record.site.region,
    )


def _answers(
    record: models.ChecklistRecord,
    answers: Iterable[models.Answer],
    corrections: Iterable[models.RecordCorrection],
) -> tuple[facts.Answer, ...]:
    """As they were given; of a closed record as its newest version says."""
    given = {
        (answer.line_key, answer.stage, answer.tank, answer.side): answer
        for answer in map(_answer, answers)
    }
    if record.closed_at:
        for row in (row for row in corrections if row.line_key and not row.figures):
            place = (row.line_key, row.stage_id, row.tank, row.side)
            before = given.get(place)
            given[place] = facts.Answer(
                line_key=row.line_key,
                stage=row.stage_id,
                tank=row.tank,
                side=row.side,
                text=row.text,
                unit=row.unit,
                dilution=row.dilution,
                read_at=before.read_at if before else record.closed_at,
                by=person(row.by),
                by_id=row.by_id,
            )
    return tuple(given.values())


def _answer(row: models.Answer) -> facts.Answer:
    return facts.Answer(
        line_key=row.line_key,
        stage=row.stage_id,
        tank=row.tank,
        side=row.side,
        text=row.text,
        unit=row.unit,
        dilution=row.dilution,
        read_at=row.read_at,
        by=person(row.by),
        by_id=row.by_id,
        version=row.version,
        warning=row.warning,
        is_confirmed=row.warning_confirmed_at is not None,
        skip_reason=row.skip_reason,
    )


# --- what is fitted -----------------------------------------------------------------------------


def _train(train: rows.Train) -> facts.Train:
    return facts.Train(
        name=train.name,
        retention_side=train.retention_side,
        plumbing_volume_gal=train.plumbing_volume_gal,
    )


def _fitted(stage: rows.Stage, record: models.ChecklistRecord) -> facts.Stage:
    """A part as it stood when the record was begun."""
    age = company_day(record.opened_at) - stage.fitted_on
    return replace(stage_facts(stage), fitted_days=max(0, age.days))


def stage_facts(stage: rows.Stage) -> facts.Stage:
    """A part with what the catalog says of it."""
    return facts.Stage(
        pk=stage.pk,
        position=stage.position,
        kind=stage.kind,
        name=str(stage),
        parallel_count=stage.parallel_count,
        media_volume_ft3=stage.media_volume_ft3,
        bed_depth_in=stage.bed_depth_in,
        salt_dose_lb_ft3=stage.salt_dose_lb_ft3,
        solution_tank_gal=stage.solution_tank_gal,
        product=product_facts(stage.product) if stage.product else None,
        feed_pump=_feed_pump(stage.feed_pump) if stage.feed_pump else None,
        retention_tank=_retention_tank(stage.retention_tank) if stage.retention_tank else None,
        vessel=_vessel(stage.vessel) if stage.vessel else None,
        medium=_medium(stage.medium) if stage.medium else None,
        resin=_resin(stage.resin) if stage.resin else None,
    )


def _feed_pump(pump: rows.FeedPump) -> facts.FeedPump:
    return facts.FeedPump(
        name=pump.name,
        nameplate_output_gpd=pump.nameplate_output_gpd,
        setting_step_percent=pump.setting_step_percent,
        head=pump.head,
        cycle_s=pump.cycle_s,
        cycle_step_s=pump.cycle_step_s,
        restart=pump.restart,
        strokes_per_min=pump.strokes_per_min,
        pulses_per_gal=pump.pulses_per_gal,
    )


def _retention_tank(tank: rows.RetentionTank) -> facts.RetentionTank:
    return facts.RetentionTank(
        name=tank.name, volume_gal=tank.volume_gal, baffling_factor=tank.baffling_factor
    )


def _vessel(vessel: rows.Vessel) -> facts.Vessel:
    return facts.Vessel(
        name=vessel.name, diameter_in=vessel.diameter_in, height_in=vessel.height_in
    )


def _resin(resin: rows.Resin) -> facts.Resin:
    return facts.Resin(name=resin.name, interval_max_days=resin.interval_max_days)


def product_facts(product: rows.OxidantProduct) -> facts.Product:
    return facts.Product(
        name=product.name,
        oxidant=product.oxidant,
        label_strength_percent=product.label_strength_percent,
        density_g_ml=product.density_g_ml,
        maximum_use_level_mg_l=product.maximum_use_level_mg_l,
        shelf_life_days=product.shelf_life_days,
        strength_basis=product.strength_basis,
    )


def _medium(medium: rows.Medium) -> facts.Medium:
    return facts.Medium(
        name=medium.name,
        backwash_low_gpm_ft2=medium.backwash_low_gpm_ft2,
        backwash_high_gpm_ft2=medium.backwash_high_gpm_ft2,
        rate_temperature_c=medium.rate_temperature_c,
        interval_max_days=medium.interval_max_days,
        loading_limit_grain_ft2=medium.loading_limit_grain_ft2,
        is_carbon=medium.is_carbon,
        is_manganese_oxide=medium.is_manganese_oxide,
    )


# --- what is on file ----------------------------------------------------------------------------


def _readings(on_file: OnFile, stages: list[rows.Stage]) -> Iterator[facts.Reading]:
    for row in on_file.of_parts(stages):
        figure = known(row)
        if figure and figure.value is not None:
            yield facts.Reading(
                quantity=row.quantity_key,
                place=place_of(row),
                stage=row.stage_id,
                value=figure.value,
                origin=figure.origin,
            )


def _settings(on_file: OnFile, stages: list[rows.Stage]) -> Iterator[facts.Setting]:
    fitted = {stage.pk for stage in stages}
    for (stage_id, name, tank), change in on_file.settings.items():
        if stage_id in fitted and change.new_value is not None:
            yield facts.Setting(
                stage=stage_id,
                name=name,
                value=change.new_value,
                origin=f"set {day_text(change.at)}",
                pump=change.pump_now if name == SettingName.OUTPUT else None,
                tank=tank,
            )


def _earlier(record: models.ChecklistRecord, until: datetime) -> facts.Earlier:
    """The newest closed start-up of the system, the last fill and what was worked out."""
    supply = supply_of(record.train_id)
    return facts.Earlier(
        figures=tuple(_before(record, until)),
        last_fill=_last_fill(record),
        solution_per_day_gal=supply.per_day_gal if supply else None,
    )


def _before(record: models.ChecklistRecord, until: datetime) -> Iterator[facts.Before]:
    if record.train is None:
        return
    startups = models.ChecklistRecord.objects.closed_startups().for_train(record.train)
    newest = startups.filter(closed_at__lte=until).order_by("-closed_at")
    startup = newest.first()
    if startup is None:
        return
    for row in rows.Measurement.objects.standing().of_occasion(startup.uuid).order_by("pk"):
        yield facts.Before(
            quantity=row.quantity_key,
            place=row.place,
            stage=row.stage_id,
            tank=row.tank,
            figure=figure(row.comparator, row.value, row.other_end) or row.text,
            on=day_text(row.measured_at),
        )


def _last_fill(record: models.ChecklistRecord) -> facts.LastFill | None:
    fill = (
        rows.Fill.objects.standing()
        .filter(stage__train=record.train_id, stage__removed_on=None)
        .filter(stage__kind=rows.Stage.Kind.FEEDER)
        .order_by("at", "pk")
        .last()
    )
    if fill is None or fill.level_after_gal is None:
        return None
    return facts.LastFill(at=fill.at, on=day_text(fill.at), level_gal=fill.level_after_gal)
