"""Faults of the engineering: water, disinfection, plumbing, units and the plan."""

from tests.mutants.faults import in_file

FAULTS = [
    *in_file(
        "equipment/engineering/factors.py",
        "factors",
        ("MG_PER_POUND / GRAINS_PER_POUND", "MG_PER_POUND * GRAINS_PER_POUND"),
        ("DAYS_PER_YEAR = 1440.0, 7.0, 365.25", "DAYS_PER_YEAR = 1440.0, 7.0, 356.25"),
        (
            "MINUTES_PER_DAY, DAYS_PER_WEEK, DAYS_PER_YEAR = 1440.0",
            "MINUTES_PER_DAY, DAYS_PER_WEEK, DAYS_PER_YEAR = 1400.0",
        ),
        ("INCHES_PER_FOOT**3 / CUBIC_INCHES_PER_GALLON", "INCHES_PER_FOOT**3 / 277.42"),
        ("CUBIC_INCHES_PER_GALLON = 231.0", "CUBIC_INCHES_PER_GALLON = 277.42"),
        ("GRAMS_PER_OUNCE = GRAMS_PER_POUND / 16", "GRAMS_PER_OUNCE = 31.1034768"),
        ("GRAMS_PER_POUND = 453.59237", "GRAMS_PER_POUND = 500.0"),
        ("PASCALS_PER_ATM / PASCALS_PER_PSI", "PASCALS_PER_PSI / PASCALS_PER_ATM"),
    ),
    *in_file(
        "equipment/engineering/water/balance.py",
        "balance",
        ("-356.3094", "-356.2094"),
        ("10 ** (carbonic_pk1(celsius) - ph)", "10 ** (ph - carbonic_pk1(celsius))"),
        ("celsius + 273)", "celsius + 237)"),
        ("math.log10(calcium) - 0.4", "math.log10(calcium) + 0.4"),
    ),
    *in_file(
        "equipment/engineering/disinfection/chlorine.py",
        "chlorine",
        ("-10.0686", "-10.0866"),
        ("CHLORINE_MOLAR = 70.906", "CHLORINE_MOLAR = 35.453"),
        ("AMMONIA_RATIO = 10.0", "AMMONIA_RATIO = 7.6"),
        ('product="sulfate"', 'product="sulfur"'),
    ),
    *in_file(
        "equipment/engineering/disinfection/chlorine_contact.py",
        "contact",
        ("residual <= top", "residual >= top"),
        ("if table <= celsius", "if table >= celsius"),
    ),
    *in_file(
        "equipment/engineering/disinfection/contact.py",
        "contact",
        ("LEAST_FACTOR = 0.1", "LEAST_FACTOR = 0.05"),
        ("4 * ct / virus", "3 * ct / virus"),
        ("if turnovers < 2", "if turnovers < 1"),
        ("math.exp(-turnovers)", "math.exp(turnovers)"),
    ),
    *in_file(
        "equipment/engineering/disinfection/dechlorination.py",
        "disinfection chlorine",
        ('"ascorbic-acid": ', '"ascorbic-acid": 2 * '),
    ),
    *in_file(
        "equipment/engineering/plumbing/demand.py",
        "gallons_per_person plumbing",
        ("USE_PER_PERSON_GPD = 75.0", "USE_PER_PERSON_GPD = 60.0"),
        ("PEAK_MIN = 5.0", "PEAK_MIN = 4.0"),
        ("WIDEST_GAP = 0.6", "WIDEST_GAP = 0.9"),
    ),
    *in_file(
        "equipment/engineering/disinfection/shock.py",
        "judgement",
        (
            "DEFAULT_CONTACT_H, SHORTEST_CONTACT_H, LONGEST_CONTACT_H = 12.0",
            "DEFAULT_CONTACT_H, SHORTEST_CONTACT_H, LONGEST_CONTACT_H = 8.0",
        ),
        ("WEAK_CONTACT_H = 24.0", "WEAK_CONTACT_H = 12.0"),
        ("TABLE_PRODUCT_MG_H_PER_L = 1000.0", "TABLE_PRODUCT_MG_H_PER_L = 500.0"),
        ("dose = wanted + demand", "dose = wanted - demand"),
        ("if target > 500", "if target > 900"),
    ),
    *in_file(
        "equipment/engineering/water/gas.py",
        "gas",
        ("INERT_SHARE = 0.7901", "INERT_SHARE = 0.7109"),
        ("CARBON_DIOXIDE_SHARE = 0.01", "CARBON_DIOXIDE_SHARE = 0.1"),
        ("BEADS, VISIBLE, MILKY = 0.93, 1.06, 1.40", "BEADS, VISIBLE, MILKY = 0.93, 1.06, 1.90"),
        ("EXCESS_AIR_NITROGEN = 0.95", "EXCESS_AIR_NITROGEN = 0.80"),
        ("around = air + gauge", "around = air - gauge"),
    ),
    *in_file(
        "equipment/engineering/plumbing/pipes.py",
        "plumbing",
        (
            "HAZEN_WILLIAMS, SMOOTH_C, FLOW_POWER, DIAMETER_POWER = 4.52",
            "HAZEN_WILLIAMS, SMOOTH_C, FLOW_POWER, DIAMETER_POWER = 10.44",
        ),
        ("ROUGHNESS_MM = 0.0015", "ROUGHNESS_MM = 0.015"),
        ("FAST_FT_S = 8.0", "FAST_FT_S = 80.0"),
    ),
    *in_file(
        "equipment/engineering/plan/conflicts.py",
        "plan",
        ("MANGANESE_LIMIT = 0.05", "MANGANESE_LIMIT = 0.5"),
    ),
    *in_file(
        "equipment/engineering/plumbing/tank.py",
        "judgement",
        (
            "LAPSE_PER_FT, LAPSE_POWER = 6.8756e-6",
            "LAPSE_PER_FT, LAPSE_POWER = -6.8756e-6",
        ),
        ("PRECHARGE_BELOW_CUT_IN = 2.0", "PRECHARGE_BELOW_CUT_IN = 0.0"),
        (
            "SHORTEST_RUN_MIN, SHORTEST_RUN_LARGE_MIN = 1.0",
            "SHORTEST_RUN_MIN, SHORTEST_RUN_LARGE_MIN = 0.5",
        ),
        ("max(start, air), stop, outside)", "start, stop, outside)"),
        ("(gallons + meanwhile)", "(gallons - meanwhile)"),
    ),
    *in_file(
        "equipment/engineering/units.py",
        "units",
        ("DIGITS = 12", "DIGITS = 17"),
    ),
    *in_file(
        "equipment/engineering/water/properties.py",
        "judgement",
        ("-7.9870401e-3", "-7.8970401e-3"),
        ("(511.45, -7.7)", "(511.45, -7.6)"),
        ("-139.34411, 1.575701e5", "-139.34411, 1.577501e5"),
        (
            "ATMOSPHERE_K, ATMOSPHERE_N = 2.25577e-5, 5.25588",
            "ATMOSPHERE_K, ATMOSPHERE_N = 2.25577e-5, 5.52588",
        ),
        ("-salinity *", "salinity *"),
    ),
    *in_file(
        "equipment/engineering/water/well_water.py",
        "disinfection",
        ("WIDE_DIAMETER_IN = 60.0", "WIDE_DIAMETER_IN = 600.0"),
        ("first_feet = whole - second[1]", "first_feet = whole + second[1]"),
    ),
]
