"""What is said first where a caller may be in danger, before a visit is booked."""

from __future__ import annotations

from jobs.fieldwork.dangers import RED

#: (what the caller tells, what is read out, in this order)
URGENT: tuple[tuple[str, tuple[str, ...]], ...] = tuple(
    (red.title, red.lines) for red in RED.values()
)
#: what the person at the desk does then
THEN = (
    "Ask who else gets water from this well, and whether anybody is on home dialysis.",
    "Find the house and open “do not use the water” before the call ends; ask them to say back to "
    "you what they will do.",
)
