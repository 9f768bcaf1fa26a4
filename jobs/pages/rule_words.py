"""A rule in one plain sentence: the one home of how a rule is said."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from equipment.models import Sample, Stage
from jobs.fieldwork.dangers import RED, Told
from jobs.models import FollowUpRule, Job, RuleContent, Visit
from jobs.workflows.follow_up_dates import RUN_EARLIEST_DAYS, RUN_LATEST_DAYS, Way, ways_of
from jobs.workflows.never import OF_SAMPLES, as_list

Closing, Anchor = FollowUpRule.Closing, FollowUpRule.Anchor
#: what is said of a fact that is or is not so
YES_NO = {
    "completed": ("the work was completed", "the work was not completed"),
    "changed": ("something of the feed was changed", "nothing of the feed was changed"),
    "disinfected": ("the well was disinfected", "the well was not disinfected"),
    "contact_short": (
        "the contact time of a disinfection was too short",
        "it was not the contact time of a disinfection",
    ),
    "is_callback": ("it was a callback", "it was no callback"),
}


def sentence(rule: RuleContent, labels: Mapping[str, str] | None = None) -> str:
    """The whole rule; `labels` says what the lines of checklists ask, by key."""
    ways = _either([_occasion(way) for way in ways_of(rule)])
    about = FollowUpRule.Subject(rule.subject).label
    return (
        f"When {ways}, “{rule.name}” is promised for {about}, {_due(rule)}; "
        f"it is kept by {kept_by(rule, labels)}{_again(rule)}."
    )


def closes(rule: RuleContent) -> str:
    """What ends a promise, as a sentence of its own."""
    return f"Kept by {kept_by(rule)}."


def kept_by(rule: RuleContent, labels: Mapping[str, str] | None = None) -> str:
    wanted = rule.closing_parameters
    if rule.closing == Closing.FILL:
        return "the next fill"
    if rule.closing == Closing.ACKNOWLEDGED:
        return "the word of a named person"
    if rule.closing == Closing.PART_OUT:
        return "the part replaced, taken out, or found to be another"
    if rule.closing == Closing.RESULT:
        kinds = _either(_label(Sample.Kind, word) for word in wanted.get("sample_kinds", []))
        said = _either(_label(Sample.Outcome, word) for word in wanted.get("outcomes", []))
        return f"the laboratory’s result{f' of {kinds}' if kinds else ''}" + (
            f" that says {said}" if said else ""
        )
    kinds = _either(_job(word) for word in wanted.get("job_kinds", []))
    ends = _either(_label(Visit.Outcome, word) for word in wanted.get("outcomes", []))
    lines = [_line(line, labels) for line in wanted.get("line_keys", [])] if labels else []
    return (
        (f"a visit for {kinds}" if kinds else "the visit booked for it")
        + (f" that ends “{ends}”" if ends else "")
        + (f" with {_all(lines)} answered" if lines else "")
    )


# --- when ---------------------------------------------------------------------------------------


def _occasion(way: Way) -> str:
    event = FollowUpRule.Event(way["event"])
    said = [words for word in way.get("filter", {}) if (words := _condition(way, word))]
    if "working_days" in way:
        said.append(f"then within {way['working_days']} working days")
    if "window_after_days" in way:
        said.append(f"then the window ends {_days(int(way['window_after_days']))} after that day")
    return f"{event.label} ({', '.join(said)})" if said else str(event.label)


def _condition(way: Way, name: str) -> str:
    wanted = way.get("filter", {})[name]
    if isinstance(wanted, dict):
        return f"by more than {wanted['above']:g} %"
    if name in YES_NO:
        return YES_NO[name][0 if wanted else 1]
    words = as_list(wanted)
    if name == "stage_kind":
        return f"with {_either(_label(Stage.Kind, word) for word in words)}"
    if name == "job_kind":
        return f"for {_either(_job(word) for word in words)}"
    if name == "sample_kind":
        return f"of {_either(_label(Sample.Kind, word) for word in words)}"
    if name == "danger":
        return f"saying “{_either(RED[Told(word)].title for word in words)}”"
    kinds = Sample.Outcome if way["event"] in OF_SAMPLES else Visit.Outcome
    return f"saying “{_either(_label(kinds, word) for word in words)}”"


# --- due ----------------------------------------------------------------------------------------


def _due(rule: RuleContent) -> str:
    before, after = rule.window_before_days, rule.window_after_days
    if rule.anchor == Anchor.RUN_END:
        return (
            "due in the last fifth of a backwash run, "
            f"from day {RUN_EARLIEST_DAYS} to day {RUN_LATEST_DAYS}"
        )
    if rule.anchor == Anchor.REFILL_FORECAST:
        return (
            "due when the tank is forecast to be down to 20 percent, the solution too old or the "
            f"company’s cap is reached, from {_days(before)} before to {_days(after)} after"
        )
    due = rule.offset_days
    if rule.anchor == Anchor.WORKING_DAYS:
        return (
            f"due {due} working day{'' if due == 1 else 's'} later, "
            f"late from working day {due + after + 1}"
        )
    window = f"from day {max(due - before, 0)} to day {due + after}"
    return f"due {_days(due)} later, {window}" if due else f"due the same day, {window}"


def _again(rule: RuleContent) -> str:
    if months := rule.recurrence.get("every_months"):
        return f", and promised again {months} months after it was due"
    if days := rule.recurrence.get("every_days"):
        return f", and promised again {_days(days)} after it was done"
    return ""


# --- words --------------------------------------------------------------------------------------


def _days(number: int) -> str:
    return f"{number} day" if number == 1 else f"{number} days"


def _either(words: Iterable[str]) -> str:
    return _listed(list(words), "or")


def _all(words: Iterable[str]) -> str:
    return _listed(list(words), "and")


def _listed(words: list[str], last: str) -> str:
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def _label(kinds: Callable[[str], object], word: str) -> str:
    return str(getattr(kinds(word), "label", word))


def _job(word: str) -> str:
    label = _label(Job.Kind, word)
    return label[:1].lower() + label[1:]


def _line(line: str | list[str], labels: Mapping[str, str] | None) -> str:
    named = [line] if isinstance(line, str) else line
    return _either(f"“{(labels or {}).get(key, key)}”" for key in named)
