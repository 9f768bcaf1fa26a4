"""What a workflow says when it refuses. The message is what the user reads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any


class JobsError(Exception):
    """Base of all refusals. `field` names the form field at fault, "" for the whole."""

    #: (label, ours, theirs) where somebody else saved the same row first
    differences: Sequence[tuple[str, str, str]] = ()
    #: what may be done instead, by name
    offer: Mapping[str, Any] = {}

    def __init__(self, message: str, *, field: str = "") -> None:
        self.message = message
        self.field = field
        super().__init__(message)


class NotAllowed(JobsError):
    """The person may not do this."""


class VisitCancelled(NotAllowed):
    """Nothing of this job is theirs any more; told again it may be kept, once a visit is."""

    offer = {"asks": "visit"}


class TechnicianBooked(JobsError):
    """The technician already has a visit in that time."""


class VisitChanged(JobsError):
    """Somebody else changed the visit meanwhile."""


class WrongState(JobsError):
    """The step does not fit the state the row is in."""


class PutMeanwhile(WrongState):
    """Somebody else has put another value in the same box since the person looked."""

    def __init__(
        self, message: str, *, field: str, standing: int, by: str, theirs: Mapping[str, Any]
    ) -> None:
        self.standing, self.by, self.theirs = standing, by, theirs
        super().__init__(message, field=field)


class OtherContent(WrongState):
    """The name of an act comes back with another content."""


class PartTakenOut(WrongState):
    """The part is not fitted any more; `offer` names the one in its place."""

    def __init__(self, message: str, *, field: str, instead: int | None) -> None:
        self.offer = {"instead": instead} if instead else {}
        super().__init__(message, field=field)


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
