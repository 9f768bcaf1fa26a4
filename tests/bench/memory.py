"""Memory of the processes of an installation that runs on this machine."""

import os
from pathlib import Path

from .clock import head, line

PARTS = {"serve": "config.family", "web": "config.web_server", "worker": "worker", "beat": "beat"}


def show():
    """Proportional set size: a page shared by three processes counts a third in each."""
    head("Memory of all processes of an installation (sum of PSS)")
    found = dict.fromkeys(PARTS, 0)
    for folder in Path("/proc").glob("[0-9]*"):
        part = part_of(folder)
        if part:
            found[part] += pss_kib(folder)
    if not found["web"] or not found["worker"]:
        print("not measured: `make demo` or `make run` is not running beside this")
        return
    for part, size in found.items():
        line(part, f"{size / 1024:.0f} MiB")
    line("all of them", f"{sum(found.values()) / 1024:.0f} MiB", "< 300, after charts < 400 MiB")


def part_of(folder):
    """Which part of an installation a process is, "" if none."""
    try:
        words = (folder / "cmdline").read_bytes().decode(errors="replace").split("\0")
    except OSError:
        return ""
    if folder.name == str(os.getpid()) or not any("python" in word for word in words[:1]):
        return ""
    for part, word in PARTS.items():
        if word in words and ("config" in words or word.startswith("config.")):
            return part
    return ""


def pss_kib(folder):
    try:
        text = (folder / "smaps_rollup").read_text()
    except OSError:  # ended meanwhile, or another user's
        return 0
    return next(int(row.split()[1]) for row in text.splitlines() if row.startswith("Pss:"))
