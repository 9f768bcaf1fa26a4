"""Change one constant or sign at a time and see whether a test notices.

    python -m tests.mutants [word ...]

Works in a copy of the tree in a temporary folder, never in place. With words only mutants whose
line holds one of them. Prints one line for each and ends with 1 if any survived.
"""

import importlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SECONDS = 300
ENGINEERING, REPORTS = "equipment/engineering", "jobs/reports"
#: (file, what stands there, what is put in its place)
MUTANTS = [
    (f"{ENGINEERING}/{name}.py", old, new)
    for name, old, new in [
        ("beds/backwash", "PUMP_SHARE = 0.9", "PUMP_SHARE = 1.0"),
        ("beds/backwash", "RATE_TEMPERATURE_C = 15.0", "RATE_TEMPERATURE_C = 20.0"),
        ("beds/backwash", "SHORTEST_PUMP_RUN_MIN = 1.0", "SHORTEST_PUMP_RUN_MIN = 2.0"),
        ("beds/backwash", "NOTED_CHANGE = 0.05", "NOTED_CHANGE = 0.5"),
        ("beds/backwash", 'max(found["recovery"], supply.minutes)', 'found["recovery"]'),
        ("beds/backwash", "supply.stored + supply.well_yield", "supply.stored - supply.well_yield"),
        ("water/balance", "-356.3094", "-356.2094"),
        ("water/balance", "MG_PER_L_PER_GPG = 17.118", "MG_PER_L_PER_GPG = 17.811"),
        ("water/balance", "10 ** (carbonic_pk1(celsius) - ph)",
         "10 ** (ph - carbonic_pk1(celsius))"),
        ("water/balance", "celsius + 273)", "celsius + 237)"),
        ("water/balance", "math.log10(calcium) - 0.4", "math.log10(calcium) + 0.4"),
        ("water/balance", "DAYS_PER_YEAR, LITRES_PER_GALLON, MG_PER_POUND = 365.25",
         "DAYS_PER_YEAR, LITRES_PER_GALLON, MG_PER_POUND = 356.25"),
        ("beds/vessel", "BUSIER_SHARE_OF_TWO = 0.6", "BUSIER_SHARE_OF_TWO = 0.5"),
        ("beds/vessel", "FREEBOARD_PERCENT = 50.0", "FREEBOARD_PERCENT = 30.0"),
        ("beds/vessel", "GALLONS_PER_FT3 = 1728 / 231", "GALLONS_PER_FT3 = 1728 / 277.42"),
        ("beds/vessel", "_busiest_share(count - 1, None)", "_busiest_share(count, None)"),
        ("disinfection/chlorine", "-10.0686", "-10.0866"),
        ("disinfection/chlorine", "CHLORINE_MOLAR = 70.906", "CHLORINE_MOLAR = 35.453"),
        ("disinfection/chlorine", "AMMONIA_RATIO = 10.0", "AMMONIA_RATIO = 7.6"),
        ("disinfection/chlorine", 'product="sulfate"', 'product="sulfur"'),
        ("disinfection/chlorine_contact", "residual <= top", "residual >= top"),
        ("disinfection/chlorine_contact", "if table <= celsius", "if table >= celsius"),
        ("disinfection/contact", "LEAST_FACTOR = 0.1", "LEAST_FACTOR = 0.05"),
        ("disinfection/contact", "4 * ct / virus", "3 * ct / virus"),
        ("disinfection/contact", "turnovers: float = 3.0", "turnovers: float = 2.0"),
        ("disinfection/contact", "if turnovers < 2", "if turnovers < 1"),
        ("disinfection/contact", "math.exp(-turnovers)", "math.exp(turnovers)"),
        ("disinfection/dechlorination", '"ascorbic-acid": ', '"ascorbic-acid": 2 * '),
        ("plumbing/demand", "USE_PER_PERSON_GPD = 75.0", "USE_PER_PERSON_GPD = 60.0"),
        ("plumbing/demand", "PEAK_MIN = 5.0", "PEAK_MIN = 4.0"),
        ("plumbing/demand", "WIDEST_GAP = 0.6", "WIDEST_GAP = 0.9"),
        ("oxidant/demand_fit", "SLOPE_LOW = 0.6", "SLOPE_LOW = 0.9"),
        ("oxidant/demand_fit", "SLOPE_PRIOR = 0.2", "SLOPE_PRIOR = 0.4"),
        ("oxidant/demand_fit", "SETTLED_TURNOVERS = 3.0", "SETTLED_TURNOVERS = 1.0"),
        ("oxidant/demand_fit", "KIT_SHARE = 0.1", "KIT_SHARE = 0.2"),
        ("oxidant/dial_in", "BUBBLE_NOTICE = 30.0", "BUBBLE_NOTICE = 300.0"),
        ("oxidant/dial_in", "STEPS_IN_A_VISIT = 4", "STEPS_IN_A_VISIT = 40"),
        ("oxidant/dial_rules", "STEP_DOWN = 0.5", "STEP_DOWN = 0.2"),
        ("oxidant/dial_rules", "STEP_UP = 1.5", "STEP_UP = 3.0"),
        ("oxidant/dial_rules", "LEAST_RISE = 1.25", "LEAST_RISE = 1.01"),
        ("oxidant/dial_rules", "LEAST_CUT = 0.75", "LEAST_CUT = 0.99"),
        ("oxidant/dial_rules", "UNKNOWN_TAP_SHARE = 0.5", "UNKNOWN_TAP_SHARE = 1.0"),
        ("oxidant/dial_rules", "START_HIGH = 2.0", "START_HIGH = 4.0"),
        ("oxidant/dial_rules", "WORTHWHILE = 0.05", "WORTHWHILE = 0.5"),
        ("oxidant/dial_rules", "FAR_EDGE_SHARE = 0.25", "FAR_EDGE_SHARE = 0.9"),
        ("oxidant/dial_rules", "lowest = last if case.not_clear", "lowest = last if case.clear"),
        ("oxidant/dial_rules", 'START_HIGH if case.oxidant == "peroxide"',
         'START_HIGH if case.oxidant != "peroxide"'),
        ("disinfection/shock", "DEFAULT_CONTACT_H, SHORTEST_CONTACT_H, LONGEST_CONTACT_H = 12.0",
         "DEFAULT_CONTACT_H, SHORTEST_CONTACT_H, LONGEST_CONTACT_H = 8.0"),
        ("disinfection/shock", "WEAK_CONTACT_H = 24.0", "WEAK_CONTACT_H = 12.0"),
        ("disinfection/shock", "TABLE_PRODUCT_MG_H_PER_L = 1000.0",
         "TABLE_PRODUCT_MG_H_PER_L = 500.0"),
        ("disinfection/shock", "GRAMS_PER_OUNCE = 28.349523125", "GRAMS_PER_OUNCE = 31.1034768"),
        ("disinfection/shock", "dose = wanted + demand", "dose = wanted - demand"),
        ("disinfection/shock", "if target > 500", "if target > 900"),
        ("beds/expansion", "POROSITY_POWER, LINEAR, TURBULENT, TURBULENT_POWER = 4.7",
         "POROSITY_POWER, LINEAR, TURBULENT, TURBULENT_POWER = 4.0"),
        ("beds/expansion", "WEN_YU, WEN_YU_FACTOR = 33.7", "WEN_YU, WEN_YU_FACTOR = 37.3"),
        ("oxidant/feed_setting", "REFILL_SHARE = 0.2", "REFILL_SHARE = 0.5"),
        ("oxidant/feed_setting", "MIDDLE_SETTING = 45.0", "MIDDLE_SETTING = 90.0"),
        ("oxidant/feed_setting", "STRONG_SETTING = 60.0", "STRONG_SETTING = 90.0"),
        ("oxidant/feed_setting", "STEADY_FLOW_RATIO = 2.0", "STEADY_FLOW_RATIO = 20.0"),
        ("oxidant/feed_setting", "mg_l > level", "mg_l > 2 * level"),
        ("oxidant/feed_setting", "dose_low = None if low is None else mg_l * gpm / low",
         "dose_low = None if low is None else mg_l * low / gpm"),
        ("oxidant/feed_setting", "GRAMS_PER_POUND = 453.59237", "GRAMS_PER_POUND = 500.0"),
        ("oxidant/feeding", "LOWEST_SETTING = 10.0", "LOWEST_SETTING = 1.0"),
        ("oxidant/feeding", "HIGHEST_SETTING = 90.0", "HIGHEST_SETTING = 99.0"),
        ("oxidant/feeding", "MINUTES_PER_DAY = 1440.0", "MINUTES_PER_DAY = 1400.0"),
        ("water/gas", "INERT_SHARE = 0.7901", "INERT_SHARE = 0.7109"),
        ("water/gas", "CARBON_DIOXIDE_SHARE = 0.01", "CARBON_DIOXIDE_SHARE = 0.1"),
        ("water/gas", "BEADS, VISIBLE, MILKY = 0.93, 1.06, 1.40",
         "BEADS, VISIBLE, MILKY = 0.93, 1.06, 1.90"),
        ("water/gas", "EXCESS_AIR_NITROGEN = 0.95", "EXCESS_AIR_NITROGEN = 0.80"),
        ("water/gas", "around = air + gauge", "around = air - gauge"),
        ("beds/intervals", "SULFUR_SHARE = 0.9407", "SULFUR_SHARE = 0.4907"),
        ("beds/intervals", "LOADING_LIMIT = 500.0", "LOADING_LIMIT = 1000.0"),
        ("beds/intervals", "MAXIMUM_DAYS = 7.0", "MAXIMUM_DAYS = 37.0"),
        ("oxidant/oxidants", "ALLOWANCE = 1.5", "ALLOWANCE = 1.0"),
        ("oxidant/oxidants", "ALLOWANCE_WITH_SULFIDE = 2.0", "ALLOWANCE_WITH_SULFIDE = 1.5"),
        ("oxidant/oxidants", 'if oxidant != "peroxide":', 'if oxidant != "chlorine":'),
        ("oxidant/oxidants", "CHLORINE_PER_NITROGEN = 1.5", "CHLORINE_PER_NITROGEN = 1.0"),
        ("oxidant/oxidants", '"permanganate": 3', '"permanganate": 5'),
        ("oxidant/oxidants", "SLOW_IRON_PH = 6.5", "SLOW_IRON_PH = 5.5"),
        ("oxidant/oxidants", "(2 * OXIDANT_MASS", "(1 * OXIDANT_MASS"),
        ("oxidant/oxidants", "NITROGEN_MASS = 14.007", "NITROGEN_MASS = 17.031"),
        ("plumbing/pipes", "HAZEN_WILLIAMS, SMOOTH_C, FLOW_POWER, DIAMETER_POWER = 4.52",
         "HAZEN_WILLIAMS, SMOOTH_C, FLOW_POWER, DIAMETER_POWER = 10.44"),
        ("plumbing/pipes", "ROUGHNESS_MM = 0.0015", "ROUGHNESS_MM = 0.015"),
        ("plumbing/pipes", "FAST_FT_S = 8.0", "FAST_FT_S = 80.0"),
        ("plan/conflicts", "SOFTENER_IRON = 0.3", "SOFTENER_IRON = 3.0"),
        ("plumbing/tank", "SEA_LEVEL_PSI, LAPSE_PER_FT, LAPSE_POWER = 14.696, 6.8756e-6",
         "SEA_LEVEL_PSI, LAPSE_PER_FT, LAPSE_POWER = 14.696, -6.8756e-6"),
        ("plumbing/tank", "PRECHARGE_BELOW_CUT_IN = 2.0", "PRECHARGE_BELOW_CUT_IN = 0.0"),
        ("plumbing/tank", "SHORTEST_RUN_MIN, SHORTEST_RUN_LARGE_MIN = 1.0",
         "SHORTEST_RUN_MIN, SHORTEST_RUN_LARGE_MIN = 0.5"),
        ("plumbing/tank", "max(start, air), stop, outside)", "start, stop, outside)"),
        ("plumbing/tank", "(gallons + meanwhile)", "(gallons - meanwhile)"),
        ("oxidant/ripple", "HIGH_PEAK = 1.25", "HIGH_PEAK = 2.5"),
        ("oxidant/ripple", "MEAN_OFF = 0.10", "MEAN_OFF = 0.90"),
        ("oxidant/ripple", "CYCLE_SHARE = 0.2", "CYCLE_SHARE = 2.0"),
        ("oxidant/ripple", 'min(rest, on) if restart == "on"', 'min(rest, on) if restart == "off"'),
        ("beds/softening", "IRON_FACTOR = 4.0", "IRON_FACTOR = 1.0"),
        ("beds/softening", "MANGANESE_FACTOR = 2.0", "MANGANESE_FACTOR = 1.0"),
        ("beds/softening", "MAXIMUM_DAYS, MAXIMUM_DAYS_IRON = 14.0, 5.0",
         "MAXIMUM_DAYS, MAXIMUM_DAYS_IRON = 14.0, 14.0"),
        ("beds/softening", "capacity / load - reserve_days", "capacity / load + reserve_days"),
        ("beds/softening", "SALT_PER_GALLON = 3.0", "SALT_PER_GALLON = 2.0"),
        ("beds/softening", "(6.0, 20_000.0)", "(6.0, 30_000.0)"),
        ("beds/softening", "SODIUM_PER_GPG = 7.86", "SODIUM_PER_GPG = 8.76"),
        ("oxidant/solutions", "PEROXIDE_EYE_PERCENT = 8.0", "PEROXIDE_EYE_PERCENT = 35.0"),
        ("oxidant/solutions", "PEROXIDE_EYE_G_PER_L = 82.0", "PEROXIDE_EYE_G_PER_L = 820.0"),
        ("oxidant/solutions", "WATER_DENSITY = 0.9982", "WATER_DENSITY = 0.8982"),
        ("oxidant/strength_loss", "SITE_LOSS_PER_WEEK = (0.01, 0.05)",
         "SITE_LOSS_PER_WEEK = (0.01, 0.5)"),
        ("oxidant/strength_loss", "SLOW_RATE, FAST_RATE, RATE_AT_C = 2.3e-5",
         "SLOW_RATE, FAST_RATE, RATE_AT_C = 3.3e-5"),
        ("oxidant/strength_loss", "REPLACE_AFTER = {HYPOCHLORITE: 45.0",
         "REPLACE_AFTER = {HYPOCHLORITE: 145.0"),
        ("units", "DIGITS = 12", "DIGITS = 17"),
        ("water/properties", "-7.9870401e-3", "-7.8970401e-3"),
        ("water/properties", "(511.45, -7.7)", "(511.45, -7.6)"),
        ("water/properties", "-139.34411, 1.575701e5", "-139.34411, 1.577501e5"),
        ("water/properties", "ATMOSPHERE_K, ATMOSPHERE_N = 2.25577e-5, 5.25588",
         "ATMOSPHERE_K, ATMOSPHERE_N = 2.25577e-5, 5.52588"),
        ("water/properties", "-salinity *", "salinity *"),
        ("water/well_water", "CUBIC_INCHES_PER_GALLON = 231.0", "CUBIC_INCHES_PER_GALLON = 277.42"),
        ("water/well_water", "WIDE_DIAMETER_IN = 60.0", "WIDE_DIAMETER_IN = 600.0"),
        ("water/well_water", "first_feet = whole - second[1]", "first_feet = whole + second[1]"),
    ]
] + [
    (f"{REPORTS}/{name}.py", old, new)
    for name, old, new in [
        ("limits", "centre - half), (", "centre + half), ("),
        ("limits", "z * z / (4 * n * n)", "z * z / (2 * n * n)"),
        ("limits", "tail = (1 - confidence) / 2", "tail = 1 - confidence"),
        ("limits", "_poisson_mean(count - 1, 1 - tail)", "_poisson_mean(count, 1 - tail)"),
        ("limits", "(high - back) / n", "(high + back) / n"),
        ("limits", "callbacks / (followed * left)", "callbacks / (followed * followed)"),
        ("limits", "if time > day", "if time >= day"),
        ("limits", "math.exp(z * error / share)", "math.exp(z * error)"),
        ("statistics", "CONFIDENCE = 0.95", "CONFIDENCE = 0.90"),
        ("statistics", "FEW_JOBS = 10", "FEW_JOBS = 1"),
        ("statistics", "FEW_EXPECTED = 1.0", "FEW_EXPECTED = 0.1"),
        ("statistics", "FEW_FOLLOWED = 5", "FEW_FOLLOWED = 0"),
    ]
]  # fmt: skip
NEAR = {"demand_fit": ["dial_in"], "dial_rules": ["dial_in"], "feed_setting": ["feeding"],
        "intervals": ["softening"], "pipes": ["plumbing"],
        "demand": ["gallons_per_person", "plumbing"],
        "chlorine_contact": ["contact"], "well_water": ["disinfection"], "expansion": ["backwash"],
        "dechlorination": ["disinfection", "chlorine"], "strength_loss": ["chlorine"],
        "conflicts": ["plan"]}  # fmt: skip


def tests_for(path):
    """Files of tests, the likeliest to notice first."""
    folder = "tests/equipment/engineering"
    if path.startswith(REPORTS):
        return ["tests/jobs/reports/test_statistics.py", f"{folder}/test_published.py"]
    stem = Path(path).stem
    near = [f"{folder}/test_{name}.py" for name in [stem, *NEAR.get(stem, [])]]
    rest = [f"{folder}/test_{name}.py" for name in ("judgement", "published", "properties")]
    return [name for name in near if Path(name).exists()] + rest


def forget_loaded(path):
    """The engineering is imported anew; the unit registry, slow to build, only if it changed."""
    kept = {f"{ENGINEERING.replace('/', '.')}.{name}" for name in ("units", "errors", "results")}
    changed = path.removesuffix(".py").replace("/", ".")
    for name in list(sys.modules):
        ours = name.startswith(("equipment.engineering.", "equipment.published", "jobs.reports."))
        if ours and (changed in kept or name not in kept):
            del sys.modules[name]
            package, _, attribute = name.rpartition(".")
            vars(sys.modules[package]).pop(attribute, None)


class FirstFailure:
    """A pytest plugin that remembers which test failed."""

    name = ""

    def pytest_runtest_logreport(self, report):
        if report.failed and not self.name:
            self.name = report.nodeid.split("/")[-1]

    def pytest_collectreport(self, report):
        if report.failed and not self.name:
            self.name = f"{report.nodeid.split('/')[-1]} (import)"


def failing_test(path):
    """Runs in a child process of its own: the test that failed, "" if none did."""
    forget_loaded(path)
    statistics = importlib.import_module(f"{REPORTS.replace('/', '.')}.statistics")
    statistics.register_statistics()
    for tests in tests_for(path):
        first = FirstFailure()
        if pytest.main(["-x", "-q", "-p", "no:cacheprovider", tests], plugins=[first]) != 0:
            return first.name or tests
    return ""


def caught_by(path, old, new):
    target = Path(path)
    text = target.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise SystemExit(f"{path}: {old!r} stands there {text.count(old)} times, not once")
    write(target, text.replace(old, new))
    told, tell = os.pipe()
    child = os.fork()
    if not child:
        signal.alarm(SECONDS)  # a change may make a search endless
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        try:
            found = failing_test(path)
        except Exception as error:  # the module itself no longer loads
            found = type(error).__name__
        os.write(tell, found.encode())
        os._exit(0)
    os.close(tell)
    with os.fdopen(told) as answer:
        found = answer.read()
    status = os.waitpid(child, 0)[1]
    write(target, text)
    return found or (f"no end within {SECONDS} s" if status else "")


def write(target, text):
    """The text, and no compiled form of the one before (two writes may share a second)."""
    target.write_text(text, encoding="utf-8")
    for compiled in target.parent.glob(f"__pycache__/{target.stem}.*"):
        compiled.unlink()


def inside(words):
    """In the copy: one child for each mutant, with the slow libraries loaded before."""
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings_test"
    importlib.import_module("django").setup()
    chosen = [each for each in MUTANTS if not words or any(w in " ".join(each) for w in words)]
    survived = 0
    for path, old, new in chosen:
        test = caught_by(path, old, new)
        survived += not test
        verdict = "caught  " if test else "SURVIVED"
        print(f"{verdict} {Path(path).name}: {old} -> {new}  {test}", flush=True)
    print(f"{len(chosen)} mutants, {survived} survived")
    return 1 if survived else 0


def main(words):
    if words[:1] == ["--inside"]:
        return inside(words[1:])
    leave = shutil.ignore_patterns("__pycache__", "var", ".venv", ".git", ".*_cache", ".hypothesis")
    with tempfile.TemporaryDirectory() as folder:
        tree = shutil.copytree(ROOT, Path(folder) / "tree", ignore=leave)
        words = [sys.executable, "-m", "tests.mutants", "--inside", *words]
        return subprocess.run(words, cwd=tree, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
