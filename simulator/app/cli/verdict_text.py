"""The verdict as a few lines a person can read."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table
from rich.text import Text

from simulator.judge import explanation
from simulator.judge.result import TargetBrief, TargetSeen, Verdict
from simulator.judge.result_parts import Reserve
from simulator.messages import Message
from simulator.report.wording import f_number, percent, percent_range, say, shutter
from simulator.report.wording.verdict import (
    command_of,
    costs_listed,
    limit_line,
    remedy_lines,
    said,
    shown_word,
    size_words,
)
from simulator.studies.reserve import reserve_message

if TYPE_CHECKING:
    from simulator.studies.predict import Count

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
        return f"{_named(row)} is not visible"
    text = (
        f"{_named(row)} at {row.distance_m:.1f} m: {row.pixels_per_m:.0f} px/m"
        f" ({row.density_class}), level {row.mean_level:.0f} of 255"
    )
    if row.probability is not None:
        text += f", read in {percent(row.probability)} of pictures"
    return text


def verdict_rows(verdict: Verdict, question: str) -> list[tuple[str, str]]:
    """Label and text of each line, in the order they are shown.

    Parameters
    ----------
    question
        The question the scene asks; may be empty.
    """
    rows = [("question", question)] if question else []
    rows += [("answer", verdict.sentences.customer)] if verdict.sentences else []
    rows += [("verdict", _verdict(verdict))]
    rows += _lines("marginal", explanation.why_marginal(verdict))
    rows += _lines("settle", verdict.messages.to_settle)
    rows += [("camera", _exposure(verdict)), ("target", _target(verdict))]
    rows += _lines("density", explanation.density_note(verdict))
    rows += [("beside", _beside(row)) for row in verdict.targets if row.name != verdict.target.name]
    rows += _limits(verdict)
    reaching = [row for row in verdict.remedies if row.reaches]
    for k, text in enumerate(remedy_lines(verdict, _SHOWN)):
        rows.append(("remedy", text))
        if reaching:
            rows.append(("", command_of(reaching[k])))
            rows += [("effect", text) for text in reaching[k].side_effects]
    return rows + [("caution", text) for text in verdict.cautions]


def _lines(label: str, *messages: Message | None) -> list[tuple[str, str]]:
    return [(label, text) for text in said(*messages)]


def _verdict(verdict: Verdict) -> str:
    target = verdict.task.wanted_probability
    interval = percent_range(verdict.probability_low, verdict.probability_high, target)
    return (
        f"{shown_word(verdict.verdict, verdict.task.name)}: {percent(verdict.probability, target)}"
        f" of pictures ({interval}), target {percent(target)}"
    )


def _exposure(verdict: Verdict) -> str:
    e = verdict.exposure
    return (
        f"{e.mode} mode, shutter {shutter(e.shutter_s)}, gain {e.gain_db:.1f} dB,"
        f" {f_number(e.f_number)}{_limited_by(e.limited_by)}"
    )


def _target(verdict: Verdict) -> str:
    place = verdict.geometry
    return (
        f"{_named(verdict.target)} at {place.distance_m:.1f} m: {place.pixels_per_m:.0f} px/m"
        f" ({place.density_class}), {size_words(verdict.target)}"
    )


def _limits(verdict: Verdict) -> list[tuple[str, str]]:
    limits = explanation.main_limits(verdict)
    rows = [("limit", limit_line(row, verdict.probability)) for row in limits[:_SHOWN]]
    if len(limits) > _SHOWN:
        rows.append(("limit", f"less: {costs_listed(limits[_SHOWN:])}"))
    return rows + _lines(
        "limit",
        explanation.no_single_fix(verdict.limits),
        explanation.helpers(verdict) if limits else None,
        explanation.cost_explained(verdict),
    )


LABEL_WIDTH = len("question")
"""Characters of the longest label."""
NOT_SOUGHT = "not searched for; leave out --no-remedies to find the least change"


def print_verdict(verdict: Verdict, question: str, *, sought: bool = True) -> None:
    """Print the verdict to stdout at once: with colour on a terminal, plain where it is piped."""
    rows = verdict_rows(verdict, question)
    if not sought and not verdict.remedies and verdict.verdict != "legible":
        rows.append(("remedy", NOT_SOUGHT))
    if verdict.reserve is not None:
        rows.append(("reserve", _reserve_text(verdict.reserve)))
    _print_rows(rows, _STYLES.get(verdict.verdict, ""))


def print_count(count: Count) -> None:
    """Print how often the task succeeds, before limits, tolerances and remedies are known."""
    wanted = count.task.wanted_probability
    interval = percent_range(count.low, count.high, wanted)
    said_first = (
        f"{shown_word(count.word, count.task.name)}: {percent(count.value, wanted)} of pictures"
        f" ({interval} without tolerances), target {percent(wanted)}"
    )
    _print_rows([("so far", said_first)], _STYLES.get(count.word, ""))


def print_reserve(reserve: Reserve) -> None:
    """Print the reserve, where it was found after the rest."""
    _print_rows([("reserve", _reserve_text(reserve))])


def _reserve_text(reserve: Reserve) -> str:
    return say(reserve_message(reserve, headed=False))


def print_result(folder: Path) -> None:
    """Print where the files are, once they are written."""
    _print_rows([("result", str(folder))])


def _print_rows(rows: list[tuple[str, str]], verdict_style: str = "") -> None:
    console = Console(highlight=False)
    if not console.is_terminal:
        for label, text in rows:
            print(f"{label + ':' if label else '':<10}{text}", flush=True)
        return
    table = Table.grid(padding=(0, 2))
    table.add_column(min_width=LABEL_WIDTH)
    table.add_column()
    shown = ""
    for label, text in rows:
        style = verdict_style if label == "verdict" else ""
        table.add_row(Text("" if label == shown else label, style="dim"), Text(text, style=style))
        shown = label
    console.print(table)
