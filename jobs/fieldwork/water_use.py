"""What may and may not be done with the water while a notice stands, in words of the household.

It defers to the health department. Boiling for one minute, not after fuel, chemicals or high
nitrate: EPA, emergency disinfection of drinking water (SEEN); teeth, ice, infant formula, cooking,
babies by boiled or bottled water: Connecticut Department of Public Health, private wells (SEEN).
"""

from __future__ import annotations

from .kinds import NoticeCause, NoticeLevel

_NOT_AT_ALL = (
    "Not for drinking, cooking, ice, teeth, infant formula, washing, bathing, laundry, plants or "
    "animals.",
    "Use the water that was set aside, or bottled water.",
)
_WASHING = (
    "You may wash, bathe and do the laundry with it; babies and open wounds by boiled or bottled "
    "water."
)
_NOT_INSIDE = "Not for drinking, teeth, ice, infant formula or cooking."
_BOILED = "For those use bottled water, or water that has boiled for one minute."
_BOTTLED = "For those use bottled water only: boiling does not take out nitrate, fuel or chemicals."
UNTIL_READ = "Until one of us has read your taps and tells an adult of the house by name."
UNTIL_SAMPLED = (
    "Until the samples that lift it are in and one of us tells an adult of the house by name."
)
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
    if level == NoticeLevel.NO_USE:
        return (*_NOT_AT_ALL, UNTIL_READ)
    instead = _BOTTLED if cause == NoticeCause.FLOOD else _BOILED
    return _NOT_INSIDE, instead, _WASHING, UNTIL_SAMPLED
