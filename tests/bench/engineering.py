"""Time of one call of every calculation, beside its plain-float body where it has one alone."""

import os
import subprocess
import sys
import tempfile

from equipment.engineering import factors
from equipment.engineering.beds import softening, vessel
from equipment.engineering.disinfection import chlorine, contact
from equipment.engineering.oxidant import (
    feeding,
    ripple,
    solutions,
    strength_loss,
)
from equipment.engineering.plumbing import fixtures, pipes, tank
from equipment.engineering.registry import compute, load
from equipment.engineering.water import carbonate, properties
from jobs.reports import limits
from tests.equipment.engineering.examples import entries

from . import clock
from .clock import head, line, median_seconds

CALLS = 60
#: whose answer is found step by step, or among all combinations: another budget
ITERATIVE = {
    "backwash",
    "bed-expansion",
    "dial-in",
    "friction",
    "funnel-limits",
    "neutralizer",
    "observed-expected",
    "peak-demand",
    "saturation-index",
    "survival",
}
FOLLOWED = [(14, False), (21, True), (30, False), (45, True), (60, False), (90, False)]
#: the body of a calculation with the numbers of its example
PLAIN = {
    "bucket-flow": lambda: vessel._bucket_flow(5, 38),
    "callback-rate": lambda: limits.wilson_limits(3, 48, 0.95),
    "carbon-dioxide": lambda: carbonate.carbonate_of(6.5, 10, 150, 60, 240),
    "contact": lambda: contact._credit("chlorine", 4.5, 1.0, 10.0, 7.2),
    "dose-from-setting": lambda: feeding.dose_per_percent(8, 71.6, 17),
    "dose-ripple": lambda: ripple.ripple(0.2, 0.2),
    "friction": lambda: pipes.darcy_psi(0.785, 60, pipes.velocity_ft_s(0.785, 8), 10),
    "funnel-limits": lambda: [limits.funnel_exact(0.06, 48, p) for p in (0.025, 0.975)],
    "hypochlorous": lambda: 1 / (1 + 10 ** (7.6 - chlorine.morris_pka(12))),
    "observed-expected": lambda: limits.poisson_limits(7, 0.95),
    "oxygen-saturation": lambda: properties.oxygen_at_saturation(
        11, properties.standard_pressure(600)
    ),
    "peak-demand": lambda: fixtures.likely_flow(fixtures.dwelling(2.5, 1)),
    "pipe-volume": lambda: factors.cylinder_gal(pipes.inside_diameter_in("pex", "3/4 in"), 80),
    "pressure-tank": lambda: tank.acceptance(38, 40, 60, tank.atmosphere_psi(0)),
    "softener": lambda: softening.run_days(1.5 * softening.capacity_grain_per_ft3(8), 4608, 1),
    "solution-strength": lambda: solutions._percent_after(35, 1.132, 1, 4),
    "strength-age": lambda: strength_loss.hypochlorite_left(100, 60, 0.002, 3e-5),
    "survival": lambda: limits.kaplan_meier(FOLLOWED, 30),
    "water-properties": lambda: (
        properties.water_density_kg_m3(11),
        properties.water_viscosity_mpa_s(11),
    ),
}
#: large inputs of those that go step by step
LARGE = {
    "observed-expected": {"observed": "1000", "expected": "900"},
    "funnel-limits": {"rate": "0.06", "jobs": "100000", "tail": "0.001"},
    "survival": {"follow_up": [f"{i % 400}:{i % 7 == 0:d}" for i in range(500)], "at": "300 day"},
    "dial-in": {
        "oxidant": "peroxide",
        "flow": "8 gpm",
        "strength": "71.6 g/L",
        "feeder_output": "17 gpd",
        "target_low": "5 mg/L",
        "target_high": "15 mg/L",
        "reading": [f"{10 + 5 * i}:{5 * i}-{5 * i + 10}" for i in range(12)],
    },
    "friction": {
        "material": "pex",
        "nominal_size": "3/8 in",
        "length": "100 ft",
        "flow": "0.9 gpm",
        "temperature": "5 degC",
    },
}
#: microseconds of a call
CLOSED_BUDGET, ITERATIVE_BUDGET = 60, 5000
IMPORTING = """
from time import {clock} as now
started = now()
import pint
pint_there = now()
from equipment.engineering import registry
registry.load()
print(pint_there - started, now() - pint_there)
"""
#: fresh interpreters; the quickest counts, the others met what else the machine was doing
STARTS = 7


def show():
    head("One call of a calculation (typed values read; units checked, answer wrapped)")
    print(
        f"{'name':<22} {'median us':>10} {'times plain':>12} {'budget us':>10} {'to JSON us':>11}"
    )
    worst = {True: 0.0, False: 0.0}
    worst_whole = 0.0
    for entry, typed in entries():
        micro = median_micro(run_of(entry, typed), CALLS)
        whole = median_micro(lambda e=entry, t=typed: compute(e.name, **t), CALLS)
        iterative = entry.name in ITERATIVE
        worst[iterative] = max(worst[iterative], micro)
        worst_whole = max(worst_whole, whole)
        plain = PLAIN.get(entry.name)
        ratio = f"{micro / median_micro(plain, CALLS):.0f}" if plain else ""
        budget = ITERATIVE_BUDGET if iterative else CLOSED_BUDGET
        print(f"{entry.name:<22} {micro:>10.1f} {ratio:>12} {budget:>10} {whole:>11.1f}")
    line("slowest closed form", f"{worst[False]:.0f} us", f"< {CLOSED_BUDGET} us")
    line("slowest iterative", f"{worst[True]:.0f} us", f"< {ITERATIVE_BUDGET} us")
    for name, typed in LARGE.items():
        micro = median_micro(run_of(load()[name], typed), 5)
        line(f"{name} with large inputs", f"{micro:.0f} us", f"< {ITERATIVE_BUDGET} us")
    line("slowest from typed text to JSON", f"{worst_whole:.0f} us")
    show_imports()


def run_of(entry, typed):
    """A call of the calculation with the texts already read."""
    pairs = [(k, t) for k, v in typed.items() for t in (v if isinstance(v, list) else [v])]
    values = entry.read_inputs(pairs)
    return lambda: entry.run(values)


def median_micro(call, rounds):
    return 1e6 * median_seconds(call, rounds)


def show_imports():
    """In fresh interpreters with byte code kept, as in an installation; the first one makes it."""
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"PYTHONPYCACHEPREFIX": folder}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        first, *starts = [import_milliseconds(environment) for _ in range(1 + STARTS)]
    alone, beyond = (min(times) for times in zip(*starts, strict=True))
    line("import pint", f"{alone:.0f} ms")
    line("importing all calculations beyond it", f"{beyond:.0f} ms", "< 100 ms")
    line("the same at the first start, without byte code", f"{first[1]:.0f} ms")


def import_milliseconds(environment):
    """Pint alone, and all calculations beyond it."""
    code = IMPORTING.format(clock=clock.now.__name__)
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, env=environment
    )
    return [1000 * float(seconds) for seconds in run.stdout.split()]
