"""Rules that could never promise anything, or whose promises nothing could ever keep."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping

from equipment.models import Sample, Stage
from jobs.errors import BadEntry
from jobs.models import FollowUpRule, Job, RuleContent, Visit

from .follow_up_dates import Wanted, Way, ways_of
from .held import LONGEST
from .records import PURPOSE_OF_JOB

Event, Subject = FollowUpRule.Event, FollowUpRule.Subject
Closing, Anchor = FollowUpRule.Closing, FollowUpRule.Anchor

#: due so long after the event, whatever it is about
BY_OFFSET = (Anchor.EVENT_DAY, Anchor.WORKING_DAYS)
SHORTEST_MINUTES = 15
LONGEST_MINUTES = int(LONGEST.total_seconds() // 60)
LONGEST_WINDOW_DAYS = 366
#: events that name one part, always the dosing pump
OF_FEEDERS = (Event.FEEDER_LEFT_ON, Event.SETTING_CHANGED, Event.FILL_RECORDED)
#: events of a house, without a system
WITHOUT_SYSTEM = (
    Event.SAMPLE_SENT,
    Event.RESULT_ENTERED,
    Event.OCCUPANT_CHANGED,
    Event.DANGER_TOLD,
)
#: events that a visit has brought about, so that a job is known
OF_VISITS = (
    Event.STARTUP_CLOSED,
    Event.VISIT_CLOSED,
    Event.FEEDER_LEFT_ON,
    Event.FOUND_WANTING,
)
OF_SAMPLES = (Event.SAMPLE_SENT, Event.RESULT_ENTERED)


def refuse_what_never_happens(
    rule: RuleContent, asked: Mapping[str, Collection[str]] | None = None
) -> None:
    """`asked`: the lines of each kind of record, as they are asked today."""
    _reason(rule)
    for number, way in enumerate(ways_of(rule)):
        _way(rule, number, way)
    _said_twice(rule)
    _times(rule)
    _keeping(rule, asked or {})


def _reason(rule: RuleContent) -> None:
    for word in re.findall(r"\{(\w*)\}", rule.reason):
        if word != "day":
            raise BadEntry(f"{{{word}}} stands for nothing; only {{day}} does.", field="reason")


def _times(rule: RuleContent) -> None:
    if not SHORTEST_MINUTES <= rule.minutes <= LONGEST_MINUTES:
        raise BadEntry(
            f"A visit takes {SHORTEST_MINUTES} to {LONGEST_MINUTES} minutes.", field="minutes"
        )
    if rule.window_after_days > LONGEST_WINDOW_DAYS:
        raise BadEntry("A window ends at most 366 days after.", field="window_after_days")
    if rule.anchor in BY_OFFSET and rule.window_before_days > rule.offset_days:
        raise BadEntry(
            f"Due after {rule.offset_days} days: its window cannot begin earlier than that, "
            "before the thing has happened.",
            field="window_before_days",
        )
    if rule.anchor not in BY_OFFSET and rule.subject != Subject.STAGE:
        raise BadEntry("This day is worked out for one part only.", field="anchor")
    if rule.anchor == Anchor.REFILL_FORECAST and not _only_feeders(rule):
        raise BadEntry(
            "Only a dosing pump has a tank: name it under the parts of each occasion.",
            field="anchor",
        )
    if rule.recurrence and rule.closing not in (Closing.VISIT, Closing.RESULT):
        raise BadEntry(
            "Again comes only what a visit or a result keeps.", field="recurrence"
        )  # a fill makes the next promise by itself
    if 0 < rule.recurrence.get("every_days", 0) <= rule.window_before_days:
        raise BadEntry(
            "The next window would begin before this one is done.", field="window_before_days"
        )


# --- when it arises ---------------------------------------------------------------------------


def _way(rule: RuleContent, number: int, way: Way) -> None:
    event, wanted = Event(way["event"]), way.get("filter", {})
    for fault in _never_arises(rule, event, wanted):
        name, said = fault
        raise BadEntry(said, field=f"way{number}_{name}")


def _never_arises(
    rule: RuleContent, event: FollowUpRule.Event, wanted: Mapping[str, Wanted]
) -> Iterator[tuple[str, str]]:
    """(field, why) of what this occasion can never be."""
    for name, value in wanted.items():
        if value == []:
            yield name, "Nothing is named: this would never be met."
    if rule.subject == Subject.SAMPLE and event not in OF_SAMPLES:
        yield "event", "Then there is no sample for the promise to be about."
    if rule.subject == Subject.JOB and event not in OF_VISITS:
        yield "event", "Then there is no job for the promise to be about."
    if rule.subject in (Subject.TRAIN, Subject.STAGE) and event in WITHOUT_SYSTEM:
        yield (
            "event",
            "This happens to a house, not to a system: let the promise be about the house.",
        )
    kinds = as_list(wanted.get("stage_kind"))
    if kinds and rule.subject not in (Subject.TRAIN, Subject.STAGE):
        yield "stage_kind", "Parts are looked at only where the promise is about them or a system."
    if rule.subject == Subject.STAGE and event in OF_FEEDERS:
        meant = kinds or as_list(rule.filter.get("stage_kind"))
        if meant and Stage.Kind.FEEDER not in meant:
            yield "stage_kind", f"When {event.label}, the part is always the dosing pump."
    yield from _outcomes(event, wanted)


def _outcomes(event: FollowUpRule.Event, wanted: Mapping[str, Wanted]) -> Iterator[tuple[str, str]]:
    known = Sample.Outcome.values if event in OF_SAMPLES else Visit.Outcome.values
    ends = as_list(wanted.get("outcome"))
    for each in ends:
        if each not in known:
            yield "outcome", f"{each} is never said when {event.label}."
    done = wanted.get("completed")
    if event == Event.STARTUP_CLOSED and done is False:
        yield "completed", "A start-up that is closed is complete."
    if done is None or not ends or event != Event.VISIT_CLOSED:
        return
    if not any((end in Visit.COMPLETING) == done for end in ends):
        yield "completed", "No visit that ends so is both."


def _said_twice(rule: RuleContent) -> None:
    ways = [(way["event"], way.get("filter", {})) for way in ways_of(rule)]
    for number, way in enumerate(ways):
        if way in ways[:number]:
            raise BadEntry("This is said above already.", field=f"way{number}_event")


# --- what keeps it ----------------------------------------------------------------------------


def _keeping(rule: RuleContent, asked: Mapping[str, Collection[str]]) -> None:
    wanted = rule.closing_parameters
    if rule.closing == Closing.FILL and not (rule.subject == Subject.STAGE and _only_feeders(rule)):
        raise BadEntry(
            "A fill keeps only what is promised about one dosing pump; this would stand for ever.",
            field="closing",
        )
    if rule.closing == Closing.PART_OUT and rule.subject != Subject.STAGE:
        raise BadEntry("Only what is promised about one part is kept so.", field="closing")
    if rule.closing == Closing.RESULT and rule.subject == Subject.SAMPLE:
        _same_sample(rule)
    kinds = wanted.get("job_kinds", [])
    if rule.closing == Closing.VISIT and kinds:
        if rule.job_kind and rule.job_kind not in kinds:
            booked = Job.Kind(rule.job_kind).label
            raise BadEntry(
                f"The job booked for it ({booked}) would never keep it: it is not among these.",
                field="job_kinds",
            )
        _lines_of(kinds, wanted.get("line_keys", []), asked)


def _same_sample(rule: RuleContent) -> None:
    """What is promised about one sample is kept by the result of that sample."""
    kept_by = rule.closing_parameters.get("sample_kinds", [])
    for number, way in enumerate(ways_of(rule)):
        sent = as_list(way.get("filter", {}).get("sample_kind"))
        if kept_by and sent and not set(kept_by) & set(sent):
            raise BadEntry(
                "Such a sample never brings that result.", field=f"way{number}_sample_kind"
            )


def _lines_of(
    kinds: list[str], lines: list[str | list[str]], asked: Mapping[str, Collection[str]]
) -> None:
    """A line that none of these jobs asks is never answered in them."""
    purposes = {PURPOSE_OF_JOB.get(Job.Kind(kind)) for kind in kinds} - {None}
    answered = {key for purpose in purposes for key in asked.get(str(purpose), ())}
    for line in lines:
        choice = [line] if isinstance(line, str) else line
        if asked and not set(choice) & answered:
            named = " or ".join(Job.Kind(kind).label for kind in kinds)
            raise BadEntry(f"No record of {named} asks {' or '.join(choice)}.", field="line_keys")


def _only_feeders(rule: RuleContent) -> bool:
    """Whatever occasion it is, the part is a dosing pump."""
    for way in ways_of(rule):
        kinds = as_list(way.get("filter", {}).get("stage_kind"))
        kinds = kinds or as_list(rule.filter.get("stage_kind"))
        if set(kinds) - {Stage.Kind.FEEDER}:
            return False
        if not kinds and way["event"] not in OF_FEEDERS:
            return False
    return True


def as_list(value: object) -> list[str]:
    """One value or several, as words."""
    if value is None:
        return []
    return [str(each) for each in value] if isinstance(value, list) else [str(value)]
