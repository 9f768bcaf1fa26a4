"""Size of a retention tank for a contact time.

Contents: retention_size.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity, ranged

from .contact import FACTOR, FACTOR_SOURCE, FLOW, GAL, GPM, LARGEST_GPM, MINUTE, baffling


class RetentionSize(Answer):
    method: ClassVar[str] = "retention-size/1"

    volume: Quantity = result(GAL, "water volume of the contact tank")


def retention_size(
    *, flow: Quantity, contact_time: Quantity, baffling_factor: float
) -> RetentionSize:
    """Volume of a retention tank for a contact time.

    V = Q t / BF

    flow             Q, as for contact     [gpm]   above 0 to 500
    contact_time     t                     [min]   above 0 to 240
    baffling_factor  BF, 1 for nominal detention   [bare]  0.1 to 1
    returns          volume gal

    Raises OutOfRange naming the key. Source: definition of T10 (EPA guidance 1991 appendix C,
    MEMORY); household rule of 20 min nominal: extension text of 2005 (SEEN).
    """
    gpm = ranged("flow", flow, GPM, 0.0, LARGEST_GPM, low_open=True)
    minutes = ranged("contact_time", contact_time, MINUTE, 0.0, 240.0, low_open=True)
    factor = baffling(baffling_factor)
    volume = gpm * minutes / factor
    return RetentionSize(
        volume=q(volume, GAL),
        sources=(FACTOR_SOURCE,),
        working=(f"volume = {gpm:g} gpm x {minutes:g} min / {factor:g} = {volume:.4g} gal",),
    )


register(
    Calculation(
        name="retention-size",
        title="Size of a contact tank",
        function=retention_size,
        answer=RetentionSize,
        keys=(
            FLOW,
            Key(
                name="contact_time",
                unit=MINUTE,
                required=True,
                low=0,
                low_open=True,
                high=240,
                help="time wanted; nominal with factor 1, T10 otherwise",
            ),
            FACTOR,
        ),
    )
)
