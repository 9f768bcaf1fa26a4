"""Contact (CT) tables for free chlorine, as published; no other disinfectant has one here.

Contents: giardia_ct_3_log, giardia_logs, virus_ct_4_log, GIARDIA_CT_3_LOG, VIRUS_CT_4_LOG.

Cells from memory, checked against the cells read in secondary copies, against the published
regression (never below a cell) and against the order of rows and columns. All fourteen residual
rows of the rule are held; the next higher one is taken between them.
"""

from __future__ import annotations

#: columns of pH: each holds up to and including its number, the first "6.0 or less"
GIARDIA_PH = (6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0)
#: rows of free chlorine mg/L: each holds up to its number; above 3 the last row is used
GIARDIA_RESIDUAL = (0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.4, 2.6, 2.8, 3.0)
#: degC -> row of residual -> column of pH, mg min/L for 3-log inactivation of Giardia cysts.
#: 40 CFR 141.74(b)(3) tables 1.1 to 1.6; EPA 815-R-20-003 (2020) table B-1 (MEMORY)
GIARDIA_CT_3_LOG: dict[float, tuple[tuple[int, ...], ...]] = {
    0.5: (
        (137, 163, 195, 237, 277, 329, 390),
        (141, 168, 200, 239, 286, 342, 407),
        (145, 172, 205, 246, 295, 354, 422),
        (148, 176, 210, 253, 304, 365, 437),
        (152, 180, 215, 259, 313, 376, 451),
        (155, 184, 221, 266, 321, 387, 464),
        (157, 189, 226, 273, 329, 397, 477),
        (162, 193, 231, 279, 338, 407, 489),
        (165, 197, 236, 286, 346, 417, 500),
        (169, 201, 242, 297, 353, 426, 511),
        (172, 205, 247, 298, 361, 435, 522),
        (175, 209, 252, 304, 368, 444, 533),
        (178, 213, 257, 310, 375, 452, 543),
        (181, 217, 261, 316, 382, 460, 552),
    ),
    5.0: (
        (97, 117, 139, 166, 198, 236, 279),
        (100, 120, 143, 171, 204, 244, 291),
        (103, 122, 146, 175, 210, 252, 301),
        (105, 125, 149, 179, 216, 260, 312),
        (107, 127, 152, 183, 221, 267, 320),
        (109, 130, 155, 187, 227, 274, 329),
        (111, 132, 158, 192, 232, 281, 337),
        (114, 135, 162, 196, 238, 287, 345),
        (116, 138, 165, 200, 243, 294, 353),
        (118, 140, 169, 204, 248, 300, 361),
        (120, 143, 172, 209, 253, 306, 368),
        (122, 146, 175, 213, 258, 312, 375),
        (124, 148, 178, 217, 263, 318, 382),
        (126, 151, 182, 221, 268, 324, 389),
    ),
    10.0: (
        (73, 88, 104, 125, 149, 177, 209),
        (75, 90, 107, 128, 153, 183, 218),
        (78, 92, 110, 131, 158, 189, 226),
        (79, 94, 112, 134, 162, 195, 234),
        (80, 95, 114, 137, 166, 200, 240),
        (82, 98, 116, 140, 170, 206, 247),
        (83, 99, 119, 144, 174, 211, 253),
        (86, 101, 122, 147, 179, 215, 259),
        (87, 104, 124, 150, 182, 221, 265),
        (89, 105, 127, 153, 186, 225, 271),
        (90, 107, 129, 157, 190, 230, 276),
        (92, 110, 131, 160, 194, 234, 281),
        (93, 111, 134, 163, 197, 239, 287),
        (95, 113, 137, 166, 201, 243, 292),
    ),
    15.0: (
        (49, 59, 70, 83, 99, 118, 140),
        (50, 60, 72, 86, 102, 122, 146),
        (52, 61, 73, 88, 105, 126, 151),
        (53, 63, 75, 90, 108, 130, 156),
        (54, 64, 76, 92, 111, 134, 160),
        (55, 65, 78, 94, 114, 137, 165),
        (56, 66, 79, 96, 116, 141, 169),
        (57, 68, 81, 98, 119, 144, 173),
        (58, 69, 83, 100, 122, 147, 177),
        (59, 70, 85, 102, 124, 150, 181),
        (60, 72, 86, 105, 127, 153, 184),
        (61, 73, 88, 107, 129, 156, 188),
        (62, 74, 89, 109, 132, 159, 191),
        (63, 76, 91, 111, 134, 162, 195),
    ),
    20.0: (
        (36, 44, 52, 62, 74, 89, 105),
        (38, 45, 54, 64, 77, 92, 109),
        (39, 46, 55, 66, 79, 95, 113),
        (39, 47, 56, 67, 81, 98, 117),
        (40, 48, 57, 69, 83, 100, 120),
        (41, 49, 58, 70, 85, 103, 123),
        (42, 50, 59, 72, 87, 105, 126),
        (43, 51, 61, 74, 89, 108, 129),
        (44, 52, 62, 75, 91, 110, 132),
        (44, 53, 63, 77, 93, 113, 135),
        (45, 54, 65, 78, 95, 115, 138),
        (46, 55, 66, 80, 97, 117, 141),
        (47, 56, 67, 81, 99, 119, 143),
        (47, 57, 68, 83, 101, 122, 146),
    ),
    25.0: (
        (24, 29, 35, 42, 50, 59, 70),
        (25, 30, 36, 43, 51, 61, 73),
        (26, 31, 37, 44, 53, 63, 75),
        (26, 31, 37, 45, 54, 65, 78),
        (27, 32, 38, 46, 55, 67, 80),
        (27, 33, 39, 47, 57, 69, 82),
        (28, 33, 40, 48, 58, 70, 84),
        (29, 34, 41, 49, 60, 72, 86),
        (29, 35, 41, 50, 61, 74, 88),
        (30, 35, 42, 51, 62, 75, 90),
        (30, 36, 43, 52, 63, 77, 92),
        (31, 37, 44, 53, 65, 78, 94),
        (31, 37, 45, 54, 66, 80, 96),
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


def giardia_logs(celsius: float, ph: float, residual: float, minutes: float) -> float | None:
    """Logs of Giardia after T10; None above pH 9.

    The table is read at the next higher residual, so just above a row it asks for more than the
    chlorine gained: more chlorine never gets less credit than the rows below it give.
    """
    by_row = [
        3 * chlorine * minutes / needed
        for chlorine in (*(top for top in GIARDIA_RESIDUAL if top < residual), residual)
        if (needed := giardia_ct_3_log(celsius, ph, chlorine)) is not None
    ]
    return max(by_row, default=None)


def virus_ct_4_log(celsius: float, ph: float) -> float | None:
    """Temperature down, pH up to the tabulated value; None below pH 6 and above pH 10."""
    least, ordinary, most = VIRUS_PH
    if not least <= ph <= most:
        return None
    return float(VIRUS_CT_4_LOG[_table_temperature(celsius)][0 if ph <= ordinary else 1])


def _table_temperature(celsius: float) -> float:
    """The next lower table; the coldest is headed "0.5 degC or lower"."""
    return max((table for table in GIARDIA_CT_3_LOG if table <= celsius), default=0.5)
