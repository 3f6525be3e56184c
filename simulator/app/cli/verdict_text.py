"""The verdict as a few lines a person can read."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

_STYLES = {"legible": "bold green", "marginal": "bold yellow", "not legible": "bold red"}
_SHOWN = 3
_LEAST_SHARE = 0.02
"""Limits that explain less of the loss are not worth a line."""


def _shutter(seconds: float) -> str:
    return f"1/{1.0 / seconds:.0f} s" if seconds < 0.5 else f"{seconds:.2g} s"


def _limited_by(limit: Any) -> str:
    words = ", ".join(str(part) for part in limit) if isinstance(limit, list) else str(limit or "")
    return f", limited by {words}" if words and words != "nothing" else ""


def verdict_rows(verdict: Mapping[str, Any], question: str) -> list[tuple[str, str]]:
    """Label and text of each line, in the order they are shown.

    Parameters
    ----------
    verdict
        The table of verdict.json.
    question
        The question the scene asks; may be empty.
    """
    exposure, geometry, target = verdict["exposure"], verdict["geometry"], verdict["target"]
    rows = [("question", question)] if question else []
    rows += [
        (
            "verdict",
            f"{verdict['verdict']}: probability {verdict['probability']:.2f}"
            f" ({verdict['probability_low']:.2f} to {verdict['probability_high']:.2f}),"
            f" wanted {verdict['task']['wanted_probability']:.2f}",
        ),
        (
            "camera",
            f"{exposure['mode']} mode, shutter {_shutter(exposure['shutter_s'])},"
            f" gain {exposure['gain_db']:.1f} dB, f/{exposure['f_number']:.1f}"
            f"{_limited_by(exposure['limited_by'])}",
        ),
        (
            "target",
            f'{target["kind"]} "{target["text"]}" at {geometry["distance_m"]:.1f} m:'
            f" {geometry['pixels_per_m']:.0f} px/m ({geometry['density_class']}),"
            f" characters {target['character_height_px']:.1f} px high",
        ),
    ]
    rows += [
        (
            "limit",
            f"{limit['factor']}: probability {limit['probability_without']:.2f} with it alone"
            f" removed, {limit['probability_only']:.2f} with it alone left",
        )
        for limit in verdict["limits"][:_SHOWN]
        if limit["share"] >= _LEAST_SHARE
    ]
    rows += [
        (
            "remedy",
            f"{remedy['lever']} from {remedy['from']} to {remedy['to']} {remedy['unit']}:"
            f" probability {remedy['probability']:.2f}",
        )
        for remedy in verdict["remedies"][:_SHOWN]
    ]
    return rows + [("caution", str(caution)) for caution in verdict["cautions"]]


def print_verdict(verdict: Mapping[str, Any], question: str, folder: Path) -> None:
    """Print the verdict to stdout: with colour on a terminal, plain where it is piped."""
    console = Console(highlight=False)
    rows = [*verdict_rows(verdict, question), ("result", str(folder))]
    if not console.is_terminal:
        for label, text in rows:
            print(f"{label + ':':<10}{text}")
        return
    table = Table.grid(padding=(0, 2))
    shown = ""
    for label, text in rows:
        style = _STYLES.get(verdict["verdict"], "") if label == "verdict" else ""
        table.add_row(Text("" if label == shown else label, style="dim"), Text(text, style=style))
        shown = label
    console.print(table)
