"""Published limits of drinking water that figures are compared with.

Secondary ones are about taste, stains and pipes, primary ones about health.
"""

from __future__ import annotations

#: secondary, 40 CFR 143.3 (SEEN): lowest and highest pH, the others in mg/L
PH_RANGE = (6.5, 8.5)
IRON_MG_L, MANGANESE_MG_L, DISSOLVED_SOLIDS_MG_L = 0.3, 0.05, 500.0
#: primary: nitrate as N, 40 CFR 141.62; largest residual level of chlorine, 40 CFR 141.65 (SEEN)
NITRATE_MG_L, CHLORINE_MG_L = 10.0, 4.0
#: nuisance of hydrogen sulfide, university extension texts (SEEN)
SULFIDE_MG_L = 0.5
