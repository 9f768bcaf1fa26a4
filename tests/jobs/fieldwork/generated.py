"""Records made up at random: any system, any answers, right and wrong ones, seeded by a number."""

import json
import random
from datetime import timedelta

from django.conf import settings

from equipment.engineering.names import PumpHead
from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.quantities import MEASURED, SettingName
from jobs.fieldwork import facts
from jobs.fieldwork.cautions import CAUTIONS
from jobs.fieldwork.kinds import LineKind, Look, NoticeLevel, Purpose
from jobs.fieldwork.subjects import STAGE_SUBJECTS
from jobs.models import Company
from jobs.records.loading import company_facts
from tests.conftest import NOW

SHIPPED = json.loads((settings.BASE_DIR / "fixtures" / "checklists.json").read_text())
OXIDANTS = ("peroxide", "chlorine", "permanganate")


def random_facts(number):
    """The facts of one record; the same number gives the same."""
    dice = random.Random(number)
    template = dice.choice(SHIPPED["templates"])
    lines = lines_of(template)
    stages = system(dice)
    return facts.Facts(
        record=facts.Record(
            pk=number,
            uuid=f"00000000-0000-4000-8000-{number:012d}",
            purpose=template["purpose"],
            title=template["title"],
            opened_at=NOW - timedelta(hours=dice.uniform(0, 30)),
            closed_at=dice.choice([None, None, NOW]),
            well_in_pit=dice.random() < 0.2,
        ),
        lines=lines,
        company=company_facts(Company()),
        train=facts.Train(
            name="House system",
            retention_side=dice.choice(["", "before", "after"]),
            plumbing_volume_gal=dice.choice([None, dice.uniform(20, 120)]),
        ),
        stages=stages,
        answers=tuple(answers(dice, lines, stages)),
        steps=tuple(steps(dice)),
        timers=tuple(timers(dice, lines)),
        overrides=tuple(
            facts.Override(line_key=line.key, reason="seen by hand", by="Tess Alder")
            for line in lines
            if line.is_gate and dice.random() < 0.1
        ),
        acknowledgements=tuple(
            facts.Acknowledgement(caution=key, by="Tess Alder", at=NOW)
            for key in CAUTIONS
            if dice.random() < 0.3
        ),
        notices=tuple(
            facts.Notice(level=level, reason="chlorine in the pipes")
            for level in NoticeLevel
            if dice.random() < 0.2
        ),
        readings=tuple(readings(dice)),
        settings=tuple(
            facts.Setting(
                stage=stage.pk,
                name=name,
                value=dice.uniform(1, 90),
                origin="set once",
                pump=setting(dice) if name == SettingName.OUTPUT else None,
            )
            for stage in stages
            for name in SettingName
            if dice.random() < 0.3
        ),
        earlier=earlier(dice, stages) if template["purpose"] == Purpose.RECHECK else None,
    )


def lines_of(template):
    return tuple(
        facts.Line(
            block=key,
            block_title=SHIPPED["blocks"][key]["title"],
            **{
                **line,
                "choices": tuple((value, words) for value, words in line.get("choices", [])),
            },
        )
        for key in template["blocks"]
        for line in SHIPPED["blocks"][key]["lines"]
    )


def system(dice):
    """A feeder or none, and some of the rest, in order."""
    kinds = ["feeder"] if dice.random() < 0.8 else []
    kinds += [k for k in ("retention", "filter", "softener", "neutralizer") if dice.random() < 0.6]
    kinds += ["filter"] if dice.random() < 0.2 else []
    return tuple(stage(dice, number, kind) for number, kind in enumerate(kinds, 1))


def stage(dice, number, kind):
    some = {
        "feeder": {
            "product": facts.Product(
                name="oxidant",
                oxidant=dice.choice(OXIDANTS),
                label_strength_percent=dice.choice([7.0, 12.5, 30.0]),
                density_g_ml=dice.choice([None, 1.024, 1.2]),
                maximum_use_level_mg_l=dice.choice([None, 10.0, 20.0]),
                shelf_life_days=dice.choice([None, 60.0]),
            ),
            "feed_pump": facts.FeedPump(
                name="pump",
                nameplate_output_gpd=dice.uniform(3, 30),
                head=dice.choice(["", *PumpHead]),
                cycle_s=dice.choice([None, 60.0]),
                cycle_step_s=dice.choice([1.0, 5.0]),
                restart=dice.choice(["", "on", "off", "continues"]),
                strokes_per_min=dice.choice([None, 100.0]),
                pulses_per_gal=dice.choice([None, 20.0]),
            ),
            "solution_tank_gal": dice.choice([None, 15.0]),
        },
        "retention": {
            "retention_tank": facts.RetentionTank(
                name="tank", volume_gal=dice.uniform(40, 160), baffling_factor=dice.uniform(0.1, 1)
            )
        },
    }.get(kind, {})
    if kind in ("filter", "softener", "neutralizer"):
        some["vessel"] = facts.Vessel(
            name="vessel", diameter_in=dice.choice([9.0, 10.0, 13.0]), height_in=54.0
        )
    if kind == "filter":
        some["medium"] = facts.Medium(
            name="medium",
            backwash_low_gpm_ft2=dice.uniform(5, 15),
            backwash_high_gpm_ft2=dice.uniform(15, 20),
            rate_temperature_c=15.0,
            interval_max_days=dice.choice([3.0, 7.0]),
            loading_limit_grain_ft2=dice.choice([None, 500.0]),
            is_carbon=dice.random() < 0.4,
        )
        some["bed_depth_in"] = dice.choice([None, 30.0])
    if kind == "softener":
        some["resin"] = facts.Resin(name="resin", interval_max_days=14.0)
        some["media_volume_ft3"] = dice.choice([None, 1.5])
    name = f"{kind} {number}"
    count = dice.choice([1, 1, 2])
    return facts.Stage(
        pk=100 + number, position=number, kind=kind, name=name, parallel_count=count, **some
    )


def setting(dice):
    """Of a pump of any kind, whatever is fitted: it may have been another one then."""
    return dice.choice(
        [
            PumpSetting(percent=dice.uniform(5, 100)),
            PumpSetting(percent=24.0, cycle_s=15.0, cycle_from_catalog=dice.random() < 0.5),
            PumpSetting(percent=24.0, stroke_percent=60.0, speed_percent=40.0),
            PumpSetting(percent=24.0, stroke_percent=60.0, pulses=4.0),
        ]
    )


def answers(dice, lines, stages):
    for line in lines:
        kinds = STAGE_SUBJECTS.get(line.subject)
        asked_of = [None] if kinds is None else [s.pk for s in stages if s.kind in kinds]
        for pk in asked_of:
            for side in ("found", "left") if line.is_pair else ("",):
                if dice.random() < 0.75 and line.kind not in (LineKind.TIMER, LineKind.STEPS):
                    yield answer(dice, line, pk, side)


def answer(dice, line, pk, side):
    text, unit = typed(dice, line)
    return facts.Answer(
        line_key=line.key,
        stage=pk,
        side=side,
        text=text,
        unit=unit,
        dilution=dice.choice([1.0, 1.0, 1.0, 10.0]) if unit == "mg/L" else 1.0,
        read_at=NOW - timedelta(minutes=dice.uniform(0, 600)),
        by="Tess Alder",
        by_id=7,
        version=dice.randint(1, 4),
        warning=dice.choice(["", "", "", "Unusual: look again."]),
        is_confirmed=dice.random() < 0.5,
        skip_reason="" if text else "no kit today",
    )


def typed(dice, line):
    """What somebody may have put there: now and then nothing, or nonsense."""
    if dice.random() < 0.08:
        return "", ""
    if line.kind == LineKind.TICK:
        return "yes", ""
    if line.kind == LineKind.CHOICE:
        return dice.choice(line.choices)[0], ""
    if line.kind == LineKind.NUMBER:
        return f"{dice.uniform(line.hard_min or 0, line.hard_max or 30):.1f}", ""
    if line.kind == LineKind.QUANTITY:
        kind = MEASURED[line.quantity_key]
        low, high = kind.hard
        most = high if high is not None else 60.0
        figure = f"{dice.uniform(low or 0, min(most, 120.0)):.4g}"
        mark = dice.choice(["", "", "", "< ", "> "]) if kind.unit == "mg/L" else ""
        return mark + figure, kind.unit
    return "as found", ""


def steps(dice):
    count = dice.randint(0, 5)
    final = dice.choice([None, count])
    for number in range(1, count + 1):
        low = dice.choice([None, 0.0, 2.0, 5.0, 25.0])
        yield facts.Step(
            number=number,
            setting=setting(dice),
            set_at=NOW - timedelta(minutes=60 * (count - number)),
            tap_flow_gpm=dice.choice([None, 5.0]),
            read_at=None if low is None else NOW,
            turnovers=dice.choice([None, 1.5, 3.0, 4.2]),
            look="" if low is None else dice.choice(list(Look)),
            residual_low_mg_l=low,
            residual_high_mg_l=None if low in (None, 25.0) else low * 2 + 1,
            iron_clear=dice.choice([None, True, False]),
            odour_clear=dice.choice([None, True, False]),
            is_final=number == final,
        )


def timers(dice, lines):
    for line in lines:
        if line.kind == LineKind.TIMER and dice.random() < 0.7:
            started = NOW - timedelta(hours=dice.uniform(0, 30))
            stopped = started + timedelta(hours=dice.uniform(1, 14))
            yield facts.Timer(
                line_key=line.key,
                started_at=started,
                needed_minutes=720.0,
                stopped_at=dice.choice([None, stopped]),
            )


def readings(dice):
    for key, kind in MEASURED.items():
        for place in ("", "raw"):
            if dice.random() < 0.3:
                low, high = kind.hard
                value = dice.uniform(low or 0, min(high or 60.0, 120.0))
                yield facts.Reading(quantity=key, place=place, value=value, origin="measured, once")


def earlier(dice, stages):
    feeder = any(stage.kind == "feeder" for stage in stages)
    return facts.Earlier(
        figures=tuple(
            facts.Before(quantity=key, place=place, figure=f"{dice.uniform(0, 9):.2g}", on="1 May")
            for key in MEASURED
            for place in ("raw", "after_stage", "tap")
        ),
        last_fill=facts.LastFill(at=NOW - timedelta(days=14), on="27 May 2026", level_gal=12.0)
        if feeder
        else None,
        solution_per_day_gal=dice.choice([None, 0.4]),
    )
