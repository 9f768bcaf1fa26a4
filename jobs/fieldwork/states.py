"""States of a line, and when a reading of the dial-back proves something."""

from __future__ import annotations

from collections.abc import Sequence

from equipment.engineering.oxidant.readings import SETTLED_TURNOVERS

from .facts import Step

OPEN, ANSWERED, PASSED, FAILED = "open", "answered", "passed", "failed"
SKIPPED, OVERRIDDEN, LOOK_TWICE = "skipped", "overridden", "look-twice"
#: readings after fewer turnovers are early and prove nothing
TURNOVERS_NEEDED = SETTLED_TURNOVERS
#: a wait read to the last digit of a float is not early
ROUNDING = 1e-9


def counts(step: Step) -> bool:
    """A reading that proves something: after three turnovers, by a kit that is not in doubt."""
    return (
        step.read_at is not None
        and step.residual_low_mg_l is not None
        and not step.doubt
        and (step.turnovers or 0) >= TURNOVERS_NEEDED - ROUNDING
    )


#: why a reading is not used that was put right before anything rested on it
PUT_RIGHT = "put right by the next"


def may_put_right(step: Step, steps: Sequence[Step]) -> bool:
    """The last reading that counts, while the pump was not set again and the setting not kept."""
    return counts(step) and not step.is_final and step.number == steps[-1].number
