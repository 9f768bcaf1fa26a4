"""The style sheet and the templates: contrast as WCAG asks, and nothing the content policy blocks.

Source: W3C, Web Content Accessibility Guidelines (WCAG) 2.2, Recommendation of 5 October 2023:
relative luminance and contrast ratio (terms), 1.4.3 text 4.5 to 1, 1.4.11 controls 3 to 1.
"""

import re
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
SHEET = (ROOT / "jobs/static/jobs/app.css").read_text()
TOKEN = re.compile(r"--([a-z0-9-]+): (#[0-9a-f]{3,6})\b")


def luminance(colour):
    digits = colour.lstrip("#")
    digits = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def schemes():
    light = dict(TOKEN.findall(SHEET.split("@media (prefers-color-scheme: dark)")[0]))
    dark_part = SHEET.split("@media (prefers-color-scheme: dark)")[1].split("/* ---")[0]
    print_part = SHEET.split("@media print")[1].split("html {")[0]
    assert min(len(TOKEN.findall(part)) for part in (dark_part, print_part)) >= 12
    return {
        "light": light,
        "dark": light | dict(TOKEN.findall(dark_part)),
        "paper": light | dict(TOKEN.findall(print_part)),
    }


TEXT = [
    (text, ground)
    for ground, texts in {
        "deep": ("ink", "ink-2", "water", "sediment", "magenta", "reed"),
        "shoal": ("ink", "ink-2", "water", "sediment", "reed"),
        "ground": ("ink", "ink-2", "water", "sediment"),
        "overprint": ("ink", "ink-2", "water", "magenta"),
        "water": ("on-water",),
    }.items()
    for text in texts
]


def test_contrast_of_black_on_white_is_21_to_1():
    assert contrast("#000", "#ffffff") == pytest.approx(21, abs=0.005)


@pytest.mark.parametrize("scheme", ["light", "dark", "paper"])
@pytest.mark.parametrize(("text", "ground"), TEXT)
def test_text_can_be_read(scheme, text, ground):
    colours = schemes()[scheme]
    assert contrast(colours[text], colours[ground]) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark", "paper"])
@pytest.mark.parametrize("ground", ["deep", "shoal", "ground", "overprint"])
def test_borders_of_controls_can_be_seen(scheme, ground):
    colours = schemes()[scheme]
    assert contrast(colours["edge"], colours[ground]) >= 3


def pages():
    """Every template a browser gets; letters carry their own styles."""
    found = [path for path in (ROOT / "templates").rglob("*.html") if "emails" not in path.parts]
    assert len(found) > 30
    return found


BLOCKED = {
    "style attribute": re.compile(r"\sstyle=", re.I),
    "style element": re.compile(r"<style\b", re.I),
    "script in the page": re.compile(r"<script(?![^>]*\bsrc=)", re.I),
    "handler in an attribute": re.compile(r"\s(?:on[a-z]+|hx-on[:a-z-]*)=", re.I),
    "script address": re.compile(r"javascript:", re.I),
    "trigger that needs eval": re.compile(
        r'hx-(?:vals|headers)=["\']js:|hx-trigger="[^"]*\[', re.I
    ),
    "file from elsewhere": re.compile(r'<(?:script|link|img|iframe)\b[^>]*"https?://', re.I),
}


@pytest.mark.parametrize("what", sorted(BLOCKED))
def test_no_template_has_what_the_content_policy_blocks(what):
    guilty = [str(p.relative_to(ROOT)) for p in pages() if BLOCKED[what].search(p.read_text())]
    assert guilty == []


def test_the_sheet_fetches_nothing_from_elsewhere():
    assert not re.search(r"url\((?!#)|@import", SHEET)
