"""Colours of the sheets."""

from __future__ import annotations

INK, SOFT, RULE, PAPER = "#1b2026", "#5b6570", "#d5d9de", "#ffffff"
WORD_COLOURS = {"legible": "#1f5f8b", "marginal": "#a8761a", "not legible": "#8e2f2a"}
BAR = "#8fa3b3"
