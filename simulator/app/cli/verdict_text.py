"""The verdict as a few lines a person can read."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from simulator.judge.density import density_note
from simulator.judge.limit_words import helpers, limit_line, share_explained, shares_listed
from simulator.judge.limits import no_single_fix
from simulator.judge.result import TargetBrief, TargetSeen, Verdict
from simulator.judge.verdict import shown_word, why_marginal
from simulator.judge.words import main_limits, remedy_lines, size_words
from simulator.report.wording import shutter

_STYLES = {"legible": "bold green", "marginal": "bold yellow", "not legible": "bold red"}
_SHOWN = 3


def _limited_by(limit: str) -> str:
    return "" if limit == "nothing" else f", limited by {limit}"


def _named(target: TargetSeen | TargetBrief) -> str:
    text = target.text
    return f'{target.kind} "{text}"' if text else f"{target.kind} '{target.name}'"


def _beside(row: TargetBrief) -> str:
    """What a target beside the task's shows."""
    if row.box_px is None:
        return f"{_named(row)} is not to be seen"
    text = (
        f"{_named(row)} at {row.distance_m:.1f} m: {row.pixels_per_m:.0f} px/m"
        f" ({row.density_class}), level {row.mean_level:.0f} of 255"
    )
    if row.probability is not None:
        text += f", read with probability {row.probability:.2f}"
    return text


def _marginal(verdict: Verdict) -> list[tuple[str, str]]:
    """Why it is marginal, and what would settle it."""
    told = (
        ("marginal", why_marginal(verdict), "Marginal: "),
        ("settle", verdict.to_settle, "The verdict is marginal; to settle it, "),
    )
    return [(label, text.removeprefix(head)) for label, text, head in told if text]


def verdict_rows(verdict: Verdict, question: str) -> list[tuple[str, str]]:
    """Label and text of each line, in the order they are shown.

    Parameters
    ----------
    question
        The question the scene asks; may be empty.
    """
    exposure, geometry, target = verdict.exposure, verdict.geometry, verdict.target
    rows = [("question", question)] if question else []
    rows += [("answer", verdict.sentences.customer)] if verdict.sentences else []
    rows += [
        (
            "verdict",
            f"{shown_word(verdict.verdict, verdict.task.name)}:"
            f" probability {verdict.probability:.2f}"
            f" ({verdict.probability_low:.2f} to {verdict.probability_high:.2f}),"
            f" wanted {verdict.task.wanted_probability:.2f}",
        ),
        *_marginal(verdict),
        (
            "camera",
            f"{exposure.mode} mode, shutter {shutter(exposure.shutter_s)},"
            f" gain {exposure.gain_db:.1f} dB, f/{exposure.f_number:.1f}"
            f"{_limited_by(exposure.limited_by)}",
        ),
        (
            "target",
            f"{_named(target)} at {geometry.distance_m:.1f} m:"
            f" {geometry.pixels_per_m:.0f} px/m ({geometry.density_class}),"
            f" {size_words(target)}",
        ),
    ]
    note = density_note(verdict)
    rows += [("density", note)] if note else []
    rows += [("beside", _beside(row)) for row in verdict.targets if row.name != target.name]
    limits = main_limits(verdict)
    rows += [("limit", limit_line(row, verdict.probability)) for row in limits[:_SHOWN]]
    if len(limits) > _SHOWN:
        rows.append(("limit", f"less, of 100 pictures: {shares_listed(limits[_SHOWN:])}"))
    told = (
        no_single_fix(verdict.limits),
        helpers(verdict) if limits else None,
        share_explained(verdict),
    )
    rows += [("limit", text) for text in told if text]
    for text, effects in zip(
        remedy_lines(verdict.remedies)[:_SHOWN], verdict.remedies, strict=False
    ):
        rows.append(("remedy", text))
        if effects.reaches and effects.side_effects:
            rows.append(("besides", "; ".join(effects.side_effects)))
    return rows + [("caution", str(caution)) for caution in verdict.cautions]


NOT_SOUGHT = "not sought; the same command without --no-remedies seeks the least change"


def print_verdict(verdict: Verdict, question: str, folder: Path, *, sought: bool = True) -> None:
    """Print the verdict to stdout: with colour on a terminal, plain where it is piped."""
    console = Console(highlight=False)
    rows = verdict_rows(verdict, question)
    if not sought and not verdict.remedies and verdict.verdict != "legible":
        rows.append(("remedy", NOT_SOUGHT))
    rows.append(("result", str(folder)))
    if not console.is_terminal:
        for label, text in rows:
            print(f"{label + ':':<10}{text}")
        return
    table = Table.grid(padding=(0, 2))
    shown = ""
    for label, text in rows:
        style = _STYLES.get(verdict.verdict, "") if label == "verdict" else ""
        table.add_row(Text("" if label == shown else label, style="dim"), Text(text, style=style))
        shown = label
    console.print(table)
