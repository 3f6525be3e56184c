"""Colours of everything that is drawn or written: the only place that holds any."""

from __future__ import annotations

INK, SOFT, RULE, PAPER = "#1b2026", "#5b6570", "#d5d9de", "#ffffff"
GOOD, FAIR, POOR = "#1f5f8b", "#a8761a", "#8e2f2a"
WORD_COLOURS = {"legible": GOOD, "marginal": FAIR, "not legible": POOR}
SMALL_SOFT, SMALL_FAIR = "#4c5661", "#8a5f12"
"""Darker, for small text on a screen (WCAG 2.2 asks a contrast of 4.5)."""
BAR, TRACK = "#8fa3b3", "#eceff2"
"""A bar, and the empty part of its length."""
LINES = (GOOD, "#b5651d", "#4d7c3a", "#7a4a8c", POOR)
"""Lines of a chart in their order; each also has its own stroke or mark."""
FAILS, UNDECIDED, SUCCEEDS = "#8e2f2a", "#ecd0a6", "#34857c"
"""No picture succeeds, half of them do, all of them do; hours that fall short, are left open by
their interval, reach the target."""
LAMP, VISIBLE_LIGHT, INFRARED, VIEW = "#f4d35e", "#c98a1b", "#8c3b5e", "#2f6f8f"
"""A lamp on a dark map; on a plan: visible light, infrared, what the camera sees."""
OUTSIDE, LEGEND, MARK = "#f4f5f7", "#dfe3e8", "#7d7c78"
"""Ground that no camera sees, the board behind a plan's legend, a mark on it."""
