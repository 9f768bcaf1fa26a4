"""Faults of the statistics behind the reports."""

from tests.mutants.faults import in_file

FAULTS = [
    *in_file(
        "jobs/reports/limits.py",
        "reports/statistics",
        ("centre - half), (", "centre + half), ("),
        ("z * z / (4 * n * n)", "z * z / (2 * n * n)"),
        ("tail = (1 - confidence) / 2", "tail = 1 - confidence"),
        ("_poisson_mean(count - 1, 1 - tail)", "_poisson_mean(count, 1 - tail)"),
        ("(high - back) / n", "(high + back) / n"),
        ("callbacks / (followed * left)", "callbacks / (followed * followed)"),
        ("if time > day", "if time >= day"),
        ("math.exp(z * error / share)", "math.exp(z * error)"),
    ),
    *in_file(
        "jobs/reports/statistics.py",
        "reports/statistics",
        ("CONFIDENCE = 0.95", "CONFIDENCE = 0.90"),
        ("FEW_JOBS = 10", "FEW_JOBS = 1"),
        ("FEW_EXPECTED = 1.0", "FEW_EXPECTED = 0.1"),
        ("FEW_FOLLOWED = 5", "FEW_FOLLOWED = 0"),
    ),
]
