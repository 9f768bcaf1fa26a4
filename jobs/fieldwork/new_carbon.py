"""Whether the carbon is so new that it takes odour up by itself: the one judgement of it.

Then only a tap that is not clear says something of the dose; that it is clear is proved at the
recheck. Common practice, no source.
"""

from __future__ import annotations

from equipment.engineering.names import Oxidant

from .asked import Asked
from .keys import NEW_MEDIA, TAKEN_OVER, LineKey

#: younger on the day a record is begun; no usual recheck comes sooner
NEW_DAYS = 7
SAID = (
    "The carbon is new and takes odour up by itself: a tap that is not clear counts, a clear one "
    "proves nothing today. Smell again at the recheck."
)


def hides_odour(asked: Asked) -> bool:
    """Of a start-up what is started says it, else the day on which the carbon was fitted.

    Permanganate has no residual to stand on: there the tap goes on counting.
    """
    carbon = [stage for stage in asked.stages if stage.medium and stage.medium.is_carbon]
    if not carbon or asked.oxidant == Oxidant.PERMANGANATE:
        return False
    if asked.raw_sulfide is not None and not asked.has_sulfide:
        return False
    scope = asked.text(LineKey.SCOPE)
    if scope in NEW_MEDIA:
        return True
    ages = [stage.fitted_days for stage in carbon if stage.fitted_days is not None]
    return scope != TAKEN_OVER and any(days < NEW_DAYS for days in ages)
