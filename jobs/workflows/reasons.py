"""Why: what a person says for an act that others have to understand later."""

from __future__ import annotations

from jobs.errors import BadEntry

#: letters: of what is undone or put off; of what gives up a promise; of what moves a count
ANY, SHORT, FULL = 1, 5, 10
WORDS = {SHORT: "five", FULL: "ten"}
LONGEST = 300


def reason_given(
    reason: str, say: str = "Say why.", *, least: int = ANY, field: str = "reason"
) -> str:
    """The reason on one line; "wrong" alone tells nobody why a promise or a count is another."""
    reason = " ".join(reason.split())
    if len(reason) < least:
        how = f", in {WORDS[least]} letters or more." if least in WORDS else "."
        raise BadEntry(say.removesuffix(".") + how, field=field)
    return reason[:LONGEST]


def explained(reason: str) -> str:
    """What changes who counts for what."""
    return reason_given(reason, least=FULL)
