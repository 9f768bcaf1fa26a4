"""Of what a record worked out about the feed: which figure counts."""

from __future__ import annotations

from datetime import datetime

from jobs.fieldwork.keys import PanelName

#: at the setting that was left, else at the one worked out
FED = (PanelName.DOSE_FROM_SETTING, PanelName.FEED_SETTING)


def age_of(name: str, recorded_at: datetime) -> tuple[datetime, bool]:
    """Newest counts; of one closing, what was left counts before what was worked out."""
    return recorded_at, name == PanelName.DOSE_FROM_SETTING
