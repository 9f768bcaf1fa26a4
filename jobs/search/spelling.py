"""How words are written for comparing: folded, by sound, in pieces, and with one slip."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from rapidfuzz import fuzz
from rapidfuzz.distance import OSA

from equipment.models.sites import street_key

#: columns of the word tables
LONGEST = 60
LETTERS, DIGITS = "abcdefghijklmnopqrstuvwxyz", "0123456789"
WHOLE_SLIPS = 5
#: letters that sound alike, in this order (common practice, no source)
SOUNDS = tuple(
    (re.compile(pattern), sound)
    for pattern, sound in (
        (r"sch", "sh"),
        (r"ph", "f"),
        (r"gh(?=t)", ""),
        (r"ck|ch|c|qu|q", "k"),
        (r"x", "ks"),
        (r"tz|z", "s"),
        (r"th|dt", "t"),
        (r"wh|w|v", "v"),
        (r"kn", "n"),
        (r"(?<=.)h", ""),
        (r"y", "i"),
        (r"[aeiou]*[ei][aeiou]+|[aou]+[ei][aeiou]*", "e"),
        (r"[aou]{2,}", "o"),
        (r"(.)\1+", r"\1"),
    )
)


def fold(text: str) -> list[str]:
    """Words in lower case, without accents and marks; an apostrophe parts no word."""
    plain = unicodedata.normalize("NFKD", text.casefold().replace("'", "").replace("’", ""))
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    words = "".join(c if c.isalnum() else " " for c in plain).split()
    return [word[:LONGEST] for word in words]


def name_words(name: str) -> set[str]:
    """The words of a name, and short ones (de, van, mc, o) joined with what follows too."""
    parts = fold(name)
    found = set(parts)
    short: list[str] = []
    for part in parts:
        short = [before + part for before in short]
        found.update(joined[:LONGEST] for joined in short)
        short = [*short, part] if len(part) <= 3 else []
    return found | set(fold(re.sub(r"['’]", " ", name)))


def address_words(street: str, town: str) -> set[str]:
    return set(street_key(" ".join(fold(f"{street} {town}"))).split())


def code_words(code: str) -> set[str]:
    """A tag or serial number: as one, in its parts, and the last four figures of long parts."""
    parts = fold(code)
    if not parts:
        return set()
    found = {"".join(parts)[:LONGEST], *parts}
    for part in parts:
        found.update(re.findall(r"\d+|[^\d]+", part))
    found.update(part[-4:] for part in list(found) if part.isdigit() and len(part) > 4)
    return found


def without_country(digits: str) -> str:
    return digits[1:] if len(digits) == 11 and digits.startswith("1") else digits


def phone_words(digits: str) -> set[str]:
    """A telephone number: whole, without the country, the local seven figures, the last four."""
    own = without_country(digits)
    return {own[:LONGEST], own[-10:], own[-7:], own[-4:]} if own else set()


def email_word(email: str) -> str:
    return email.casefold()[:LONGEST]


@lru_cache(10_000)
def sound(word: str) -> str:
    for pattern, instead in SOUNDS:
        word = pattern.sub(instead, word)
    return word


def pieces(word: str, *, whole: bool = True) -> set[str]:
    """The three-letter pieces of the sound of a word, its beginning and end marked."""
    if len(word) < 3 or not word.isalpha():
        return set()
    marked = f"^^{sound(word)}" + ("$" if whole else "")
    return {marked[i : i + 3] for i in range(len(marked) - 2)}


def one_slip(word: str) -> set[str]:
    """What one slip of a finger makes of this: swapped, one too many, wrong, left out.

    Of longer words without figures only the first two; the others leave most pieces intact.
    """
    if len(word) < 3:
        return set()
    cuts = [(word[:i], word[i:]) for i in range(len(word) + 1)]
    found = {a + b[1] + b[0] + b[2:] for a, b in cuts if len(b) > 1}
    found.update(a + b[1:] for a, b in cuts if b)
    keys = DIGITS if re.search(r"\d", word) else LETTERS if len(word) <= WHOLE_SLIPS else ""
    found.update(a + key + b[1:] for a, b in cuts if b for key in keys)
    found.update(a + key + b for a, b in cuts for key in keys)
    return found - {word}


def likeness(typed: str, kept: str) -> float:
    """0 to 1: by letters, by slips of a finger, and by sound."""
    if typed == kept:
        return 1
    best = OSA.normalized_similarity(typed, kept)
    if not (typed.isalpha() and kept.isalpha()):
        return best
    heard = fuzz.ratio(sound(typed), sound(kept)) / 100 - 0.04
    inside = 0.85 if len(typed) >= 4 and typed in kept else 0
    return max(best, fuzz.ratio(typed, kept) / 100, heard, inside)
