"""How people, settings and reasons are named."""

from __future__ import annotations

import re
from typing import Protocol

from equipment.quantities import SettingName

SOFT_HYPHEN = "\u00ad"
_PAIR = re.compile(r"[cpst]h|s[pt]|[bcfgp][lr]|[dt]r", re.IGNORECASE)
_VOWELS = "aeiouyàáâäãåæèéêëìíîïòóôöõøùúûüý"
SETTINGS: dict[str, str] = {
    SettingName.OUTPUT: "dosing pump setting",
    SettingName.STRENGTH: "strength of the solution",
    SettingName.WASH_INTERVAL: "days between backwashes",
    SettingName.WASH_HOUR: "hour of the backwash",
    SettingName.HARDNESS: "hardness programmed",
    SettingName.SALT: "salt for each regeneration",
}


class Named(Protocol):
    """Whoever signs in."""

    def get_full_name(self) -> str: ...

    def get_username(self) -> str: ...


class Setting(Protocol):
    """A setting that was changed."""

    @property
    def part(self) -> str: ...

    name: str


def person(user: Named | None) -> str:
    """Full name, or the sign-in name where no other is kept."""
    if user is None:
        return ""
    return user.get_full_name() or user.get_username()


def sentence(text: str) -> str:
    """A reason as a sentence of its own, whatever way it was written."""
    text = str(text).strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")


def capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def setting_name(name: str) -> str:
    return SETTINGS.get(name, name.replace("_", " "))


def setting_of(part: object, name: str) -> str:
    """A setting behind its part, which is not said twice: "Dosing pump setting"."""
    said = setting_name(name)
    return capital(said if said.startswith(f"{part} ".lower()) else f"{part}: {said}")


def soft(name: object) -> str:
    """Soft hyphens in words longer than nine letters, so that a narrow cell can break them."""
    return re.sub(r"[^\W\d_]{10,}", lambda word: _hyphened(word[0]), str(name))


def _hyphened(word: str) -> str:
    """Breaks before a consonant (or a pair that begins syllables) with four letters each side."""
    parts, start = [], 0
    for place in range(1, len(word) - 1):
        here, after = word[place].lower(), word[place + 1].lower()
        if here in _VOWELS or after not in _VOWELS:
            continue
        cut = place - 1 if _PAIR.fullmatch(word[place - 1 : place + 1]) else place
        if cut - start >= 4 and len(word) - cut >= 4:
            parts.append(word[start:cut])
            start = cut
    return SOFT_HYPHEN.join([*parts, word[start:]])
