"""Contact (CT) tables for free chlorine, as published; no other disinfectant has one here.

Contents: giardia_ct_3_log, virus_ct_4_log, GIARDIA_CT_3_LOG, VIRUS_CT_4_LOG.

Cells from memory, checked against ten cells read in secondary copies and against the published
regression (never below a cell). Six of the fourteen residual rows of the rule are held; the next
higher row is taken between them, which asks for more contact and never for less.
"""

from __future__ import annotations

#: columns of pH: each holds up to and including its number, the first "6.0 or less"
GIARDIA_PH = (6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0)
#: rows of free chlorine mg/L: each holds up to its number; above 3 the last row is used
GIARDIA_RESIDUAL = (0.4, 0.6, 1.0, 1.2, 2.0, 3.0)
#: degC -> row of residual -> column of pH, mg min/L for 3-log inactivation of Giardia cysts.
#: 40 CFR 141.74(b)(3) tables 1.1 to 1.6; EPA 815-R-20-003 (2020) table B-1 (MEMORY)
GIARDIA_CT_3_LOG: dict[float, tuple[tuple[int, ...], ...]] = {
    0.5: (
        (137, 163, 195, 237, 277, 329, 390),
        (141, 168, 200, 239, 286, 342, 407),
        (148, 176, 210, 253, 304, 365, 437),
        (152, 180, 215, 259, 313, 376, 451),
        (165, 197, 236, 286, 346, 417, 500),
        (181, 217, 261, 316, 382, 460, 552),
    ),
    5.0: (
        (97, 117, 139, 166, 198, 236, 279),
        (100, 120, 143, 171, 204, 244, 291),
        (105, 125, 149, 179, 216, 260, 312),
        (107, 127, 152, 183, 221, 267, 320),
        (116, 138, 165, 200, 243, 294, 353),
        (126, 151, 182, 221, 268, 324, 389),
    ),
    10.0: (
        (73, 88, 104, 125, 149, 177, 209),
        (75, 90, 107, 128, 153, 183, 218),
        (79, 94, 112, 134, 162, 195, 234),
        (80, 95, 114, 137, 166, 200, 240),
        (87, 104, 124, 150, 182, 221, 265),
        (95, 113, 137, 166, 201, 243, 292),
    ),
    15.0: (
        (49, 59, 70, 83, 99, 118, 140),
        (50, 60, 72, 86, 102, 122, 146),
        (53, 63, 75, 90, 108, 130, 156),
        (54, 64, 76, 92, 111, 134, 160),
        (58, 69, 83, 100, 122, 147, 177),
        (63, 76, 91, 111, 134, 162, 195),
    ),
    20.0: (
        (36, 44, 52, 62, 74, 89, 105),
        (38, 45, 54, 64, 77, 92, 109),
        (39, 47, 56, 67, 81, 98, 117),
        (40, 48, 57, 69, 83, 100, 120),
        (44, 52, 62, 75, 91, 110, 132),
        (47, 57, 68, 83, 101, 122, 146),
    ),
    25.0: (
        (24, 29, 35, 42, 50, 59, 70),
        (25, 30, 36, 43, 51, 61, 73),
        (26, 31, 37, 45, 54, 65, 78),
        (27, 32, 38, 46, 55, 67, 80),
        (29, 35, 41, 50, 61, 74, 88),
        (32, 38, 46, 55, 67, 81, 97),
    ),
}
#: degC -> pH 6 to 9, pH 10, mg min/L for 4-log inactivation of viruses. EPA guidance manual for
#: the surface water treatment rules (1991) table E-7; EPA 815-R-20-003 table B-2 (MEMORY)
VIRUS_CT_4_LOG: dict[float, tuple[int, int]] = {
    0.5: (12, 90),
    5.0: (8, 60),
    10.0: (6, 45),
    15.0: (4, 30),
    20.0: (3, 22),
    25.0: (2, 15),
}
VIRUS_PH = (6.0, 9.0, 10.0)


def giardia_ct_3_log(celsius: float, ph: float, residual: float) -> float | None:
    """Temperature down, pH up, residual up to the tabulated value; None above pH 9."""
    if ph > GIARDIA_PH[-1]:
        return None
    column = next(i for i, top in enumerate(GIARDIA_PH) if ph <= top)
    row = next(
        (i for i, top in enumerate(GIARDIA_RESIDUAL) if residual <= top), len(GIARDIA_RESIDUAL) - 1
    )
    return float(GIARDIA_CT_3_LOG[_table_temperature(celsius)][row][column])


def virus_ct_4_log(celsius: float, ph: float) -> float | None:
    """Temperature down, pH up to the tabulated value; None below pH 6 and above pH 10."""
    least, ordinary, most = VIRUS_PH
    if not least <= ph <= most:
        return None
    return float(VIRUS_CT_4_LOG[_table_temperature(celsius)][0 if ph <= ordinary else 1])


def _table_temperature(celsius: float) -> float:
    """The next lower table; the coldest is headed "0.5 degC or lower"."""
    return max((table for table in GIARDIA_CT_3_LOG if table <= celsius), default=0.5)
