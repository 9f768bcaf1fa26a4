"""What a workflow says when it refuses. The message is what the user reads."""

from __future__ import annotations

from collections.abc import Sequence


class JobsError(Exception):
    """Base of all refusals. `field` names the form field at fault, "" for the whole."""

    #: (label, ours, theirs) where somebody else saved the same row first
    differences: Sequence[tuple[str, str, str]] = ()

    def __init__(self, message: str, *, field: str = "") -> None:
        self.message = message
        self.field = field
        super().__init__(message)


class NotAllowed(JobsError):
    """The person may not do this."""


class TechnicianBooked(JobsError):
    """The technician already has a visit in that time."""


class VisitChanged(JobsError):
    """Somebody else changed the visit meanwhile."""


class WrongState(JobsError):
    """The step does not fit the state the row is in."""


class RecordClosed(JobsError):
    """A closed record is not changed; a correction is a newer row."""


class RecordIncomplete(JobsError):
    """Closing is refused: something is missing or has not passed."""

    def __init__(self, message: str, *, missing: list[tuple[str, str]]) -> None:
        self.missing = missing  # (line key, sentence)
        super().__init__(message)


class BadEntry(JobsError):
    """A typed value that cannot be taken."""


class OtherTime(BadEntry):
    """Told as done at a moment that cannot be: asked about, the rest of it may be right."""


class Unlikely(JobsError):
    """May be meant: done once somebody says yes to each of `doubts` (code, sentence)."""

    def __init__(self, message: str, *, doubts: list[tuple[str, str]]) -> None:
        self.doubts = doubts
        super().__init__(message)

    @property
    def codes(self) -> str:
        return ",".join(code for code, _ in self.doubts)


class DoNotUseOpen(JobsError):
    """The water at the site must not be drunk; what is asked has to wait."""


class EditedMeanwhile(JobsError):
    """Somebody else saved the same row first; `differences` says in what."""

    def __init__(self, message: str, *, differences: list[tuple[str, str, str]]) -> None:
        self.differences = differences
        super().__init__(message)
