"""What stands in the ground and on the wall, and everything measured on it."""

from .assessments import StoredAssessment
from .catalog import FeedPump, Medium, OxidantProduct, Resin, RetentionTank, Vessel
from .measurements import Fill, Measurement, SettingChange
from .samples import ResultTold, Sample
from .sites import Site, SpecialUse
from .trains import Stage, Train
from .wells import Well

__all__ = [
    "FeedPump",
    "Fill",
    "Measurement",
    "Medium",
    "OxidantProduct",
    "Resin",
    "ResultTold",
    "RetentionTank",
    "Sample",
    "SettingChange",
    "Site",
    "SpecialUse",
    "Stage",
    "StoredAssessment",
    "Train",
    "Vessel",
    "Well",
]
