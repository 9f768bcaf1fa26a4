"""Passwords that are long and yet guessed at once: one letter again and again, a common word with
figures behind it, the words of our trade, company and person."""

from __future__ import annotations

import re

from django.contrib.auth.models import User
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError

from jobs.models import Company

#: what a guesser of passwords of this company begins with; common practice, no source
WORDS = (  # noqa: SIM905
    "revisit password passwort passphrase welcome letmein login admin secret changeme qwerty "
    "qwertyuiop asdfgh asdfghjkl zxcvbn abcdefghijklm water well wells pump pumps filter treatment "
    "dispatcher dispatch technician owner office company service spring summer autumn winter "
    "january february march april june july august september october november december"
).split()
FEWEST_DIFFERENT, FEWEST_OWN = 5, 6
#: figures and signs that stand for letters
UNDONE = str.maketrans("013457@$!", "oieastasi")
REPEATED = re.compile(r"(.{1,4}?)\1{2,}.{0,3}")


class GuessablePasswordValidator:
    """Asks what is left of a password without what everybody would try."""

    def validate(self, password: str, user: User | None = None) -> None:
        said = password.casefold()
        if len(set(said)) < FEWEST_DIFFERENT or REPEATED.fullmatch(said):
            raise ValidationError(
                "This password repeats the same few characters: three or four unrelated words "
                "are better.",
                code="password_repeats",
            )
        if is_common(said) or len(set(own_part(said, user))) < FEWEST_OWN:
            raise ValidationError(
                "This password is made of words that are tried first (common ones, those of this "
                "work, your own name): add unrelated words.",
                code="password_guessable",
            )

    def get_help_text(self) -> str:
        return "Three or four unrelated words are best; common words and names alone are refused."


def is_common(said: str) -> bool:
    """A common password, whatever figures and signs stand around it."""
    common = CommonPasswordValidator().passwords
    core = said.strip("0123456789 !?.,;:-_+*#$%&/()@")
    return bool({said, core, core.translate(UNDONE)} & common)


def own_part(said: str, user: User | None) -> str:
    """What stays when known words, figures and signs are taken out."""
    rest = said.translate(UNDONE)
    for word in sorted({*WORDS, *_words_of_company(), *_words_of(user)}, key=len, reverse=True):
        rest = rest.replace(word, " ")
    return re.sub(r"[\W\d_]", "", rest)


def _words_of_company() -> set[str]:
    company = Company.load()
    return _long_words(company.name, company.town, company.street)


def _words_of(user: User | None) -> set[str]:
    if user is None:
        return set()
    return _long_words(user.username, user.first_name, user.last_name, user.email)


def _long_words(*texts: str) -> set[str]:
    return {word for text in texts for word in re.findall(r"[^\W\d_]{3,}", text.casefold())}
