"""What may and may not be done with the water while a notice stands, in words of the household.

It defers to the health department. Boiling for one minute, not after fuel, chemicals or high
nitrate: EPA, emergency disinfection of drinking water (SEEN); teeth, ice, infant formula, cooking,
babies by boiled or bottled water: Connecticut Department of Public Health, private wells (SEEN).
"""

from __future__ import annotations

from .kinds import LiftedOn, NoticeCause, NoticeLevel, lifted_on

_NOT_AT_ALL = (
    "Not for drinking, cooking, ice, teeth, infant formula, washing, bathing, laundry, plants or "
    "animals.",
    "Use the water that was set aside, or bottled water.",
)
_WASHING = (
    "You may wash, bathe and do the laundry with it; babies and open wounds by boiled or bottled "
    "water."
)
_WASHING_BOTTLED = (
    "You may wash, bathe and do the laundry with it where it neither smells nor stings; babies and "
    "open wounds by bottled water."
)
_NOT_INSIDE = "Not for drinking, teeth, ice, infant formula or cooking."
_BOILED = "For those use bottled water, or water that has boiled for one minute."
_BOTTLED = "For those use bottled water only: boiling does not take out nitrate, fuel or chemicals."
UNTIL_READ = "Until one of us has read your taps and tells an adult of the house by name."
UNTIL_SAMPLED = (
    "Until the samples that lift it are in and one of us tells an adult of the house by name."
)
UNTIL_ENDED = (
    "Until one of us has found that what caused it is gone and tells an adult of the house by name."
)
_UNTIL = {
    LiftedOn.SAMPLES: UNTIL_SAMPLED,
    LiftedOn.READINGS: UNTIL_READ,
    LiftedOn.WORDS: UNTIL_ENDED,
}
#: what boiling leaves in the water, or may leave
NOT_BOILED = (NoticeCause.FLOOD, NoticeCause.OXIDANT, NoticeCause.OTHER)
_TREATED = "You may drink the water of the treated taps for as long as the treatment runs."
_UNTREATED = (
    "Bacteria stay in the well. Taps ahead of the treatment, such as outside taps, are not for "
    "drinking, teeth, ice, infant formula or cooking."
)
_COMES_BACK = (
    "After a power cut, when its alarm goes, or while the valve stands at BYPASS (untreated): do "
    "not drink. Use bottled water, or water that has boiled for one minute, and call us the same "
    "day."
)
UNTIL_RAISED = "From then on our notice holds again, until new samples are in and we tell you."


def uses_held() -> tuple[str, ...]:
    """Where treatment holds bacteria of the well: may, may not, and what ends it."""
    return _TREATED, _UNTREATED, _COMES_BACK, UNTIL_RAISED


def uses(level: str, cause: str) -> tuple[str, ...]:
    """May, may not, and until when."""
    until = _UNTIL[lifted_on(level, cause)]
    if level == NoticeLevel.NO_USE:
        return (*_NOT_AT_ALL, until)
    if level == NoticeLevel.SAMPLE_PENDING or cause not in NOT_BOILED:
        return _NOT_INSIDE, _BOILED, _WASHING, until
    return _NOT_INSIDE, _BOTTLED, _WASHING_BOTTLED, until
