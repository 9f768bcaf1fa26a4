"""What we come for and what to do before it, in the words of the household."""

from __future__ import annotations

from jobs.models import FollowUp, Job
from jobs.schedule.hours import date_words

#: finishes the sentence "We come ..."
PURPOSES: dict[str, str] = {
    Job.Kind.SURVEY: "to look at the well and the plumbing and to test the water",
    Job.Kind.SAMPLE: "to take a water sample",
    Job.Kind.INSTALL: "to fit the water treatment",
    Job.Kind.DISINFECT: "to disinfect the well and the pipes of the house",
    Job.Kind.STARTUP: "to start the water treatment and set it to your water",
    Job.Kind.RECHECK: "to check the setting of the small dosing pump",
    Job.Kind.INTERVAL: "to check how often the tanks rinse themselves",
    Job.Kind.REFILL: "to refill the solution tank",
    Job.Kind.SERVICE: "to service the water treatment",
    Job.Kind.REBED: "to change the filling of a tank",
    Job.Kind.REPAIR: "to repair the water treatment",
    Job.Kind.CALLBACK: "to look at what you told us about",
    Job.Kind.REMOVAL: "to take out the water treatment",
    Job.Kind.OTHER: "for the work we agreed on",
}
PREPARE = "Clear the way to the tanks. Somebody over 18 at home. Keep dogs inside."
#: where nothing stands yet
PREPARE_THE_WELL = (
    "Clear the way to the well and to where its water comes in. Somebody over 18 at home. "
    "Keep dogs inside."
)
REASONS: dict[str, str] = {
    Job.Kind.RECHECK: "Wells settle, so we measure again one to two weeks after the dosing pump "
    "is set.",
    Job.Kind.INTERVAL: "What your water brings decides how often the tanks must rinse.",
    Job.Kind.REFILL: "The solution is used up as you use water, and it grows weak with age.",
}
_OFF = "The water is off for a part of the visit."
WATER: dict[str, str] = {
    Job.Kind.DISINFECT: (
        "Strong chlorine stands in the well and the pipes for many hours. Nobody and no animal "
        "drinks, cooks, bathes or washes with the water until we tell you. Set water for a day "
        "aside before we come. Call us at once if anybody at home has dialysis, and before we "
        "come if fish, livestock or plants get this water."
    ),
    Job.Kind.INSTALL: _OFF,
    Job.Kind.STARTUP: _OFF,
    Job.Kind.SERVICE: _OFF,
    Job.Kind.REBED: _OFF,
    Job.Kind.REPAIR: _OFF,
    Job.Kind.REMOVAL: _OFF,
}
#: for whoever lives with a feed pump; beside them stands that label and code come first
HOUSEHOLD_CAUTIONS = (
    "Before a valve is turned to BYPASS (untreated), unplug the small dosing pump: otherwise its "
    "solution goes to your "
    "taps.",
    "Pink, milky or strongly smelling water at a tap: do not use it, unplug the small dosing pump "
    "and call us.",
    "The solution burns eyes and skin. Do not touch or refill it without eye cover and gloves, and "
    "never mix it with another product.",
    "What stands in the record was measured at that place and time. It does not replace a "
    "laboratory test, and says nothing about what was not tested.",
)


def about_when(promise: FollowUp) -> str:
    """A promise as the customer reads it: a day about which we come, and for what."""
    return f"About {date_words(promise.due_on)}: {PURPOSES[promise.terms.job_kind]}"
