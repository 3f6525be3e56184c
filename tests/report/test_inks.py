"""Colours stand in one place."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from simulator.report import inks

ROOT = Path(inks.__file__).parent
HEX = re.compile(r"#[0-9a-fA-F]{6}\b")


@pytest.mark.invariant
def test_no_other_file_of_the_reports_names_a_colour():
    files = [p for p in ROOT.rglob("*") if p.suffix in (".py", ".html", ".css", ".j2")]
    assert [p.name for p in files if HEX.search(p.read_text(encoding="utf-8"))] == ["inks.py"]


@pytest.mark.by_hand
@pytest.mark.parametrize("colour", [inks.SMALL_SOFT, inks.SMALL_FAIR, inks.GOOD, inks.POOR])
def test_small_text_is_readable(colour):
    """Contrast of at least 4.5 on white paper (WCAG 2.2, success criterion 1.4.3; from memory)."""
    levels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in levels]
    luminance = sum(w * v for w, v in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
    assert 1.05 / (luminance + 0.05) >= 4.5
