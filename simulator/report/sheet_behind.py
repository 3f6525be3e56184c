"""The pages behind the sheet's front, for the engineer: limits, figures, lights, what was assumed.

They flow in columns over as many pages as they take.
"""

from __future__ import annotations

from collections.abc import Sequence

from simulator.judge import explanation
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.lighting import Contribution
from simulator.judge.result import TargetBrief, Verdict
from simulator.report.figure_rows import figure_rows
from simulator.report.flow import (
    HEIGHT_IN,
    INNER_IN,
    MARGIN_IN,
    SMALL_PT,
    TITLE_PT,
    Block,
    Box,
    Columns,
    Gap,
    Page,
    Row,
    Words,
    heading,
    listed,
)
from simulator.report.inks import SOFT
from simulator.report.pictures import origin_text
from simulator.report.wording import capital, digits, percent
from simulator.report.wording.verdict import effects_of, limit_effect, remedy_lines, said
from simulator.studies.survey.site import PART

COLUMNS, DPI = 3, 150.0
MOST_REMEDIES = 12
LEAST_SHARE = 0.005
"""Lights that give less of the signal are told together."""


def draw_behind(verdict: Verdict, lights: Sequence[Contribution]) -> list[Page]:
    """The pages behind the front.

    Parameters
    ----------
    lights
        What falls on the target, light by light.
    """
    blocks: list[Block] = []
    for section in (
        _limits(verdict), _certainty(verdict), _remedies(verdict), _figures(verdict),
        _lights(lights),
        _others(verdict), listed("What was assumed", verdict.conditions, 0.03),
        listed("Take care", verdict.cautions, 0.03), _origin(verdict),
    ):  # fmt: skip
        blocks += [*section, Gap(0.16)] if section else []
    head = Words(f"{verdict.title}: details", TITLE_PT, bold=True, gap=0.12)
    down = MARGIN_IN + head.height(INNER_IN)
    box = Box(MARGIN_IN, down, INNER_IN, HEIGHT_IN - MARGIN_IN - down)
    pages = Columns(box, COLUMNS).lay(lambda: Page(DPI), blocks[:-1])
    for page in pages:
        head.draw(page, MARGIN_IN, MARGIN_IN, INNER_IN)
    return pages


def _limits(verdict: Verdict) -> list[Block]:
    """Limits with what fixing each brings."""
    rows = explanation.main_limits(verdict)
    if not rows:
        return []
    shares = (0.37, 0.18, 0.2, 0.25)
    head = Row(
        ("", "costs", "P, fixed alone", "P, all else fixed"), shares, (1, 2, 3), (SOFT,) * 4,
        rule=False, keep=True,
    )  # fmt: skip
    blocks: list[Block] = [heading("What limits it, impairment by impairment"), head]
    for row in rows:
        figures = (
            percent(row.share),
            f"{row.probability_without:.2f}",
            f"{row.probability_only:.2f}",
        )
        noun = capital(IMPAIRMENTS[row.factor].noun)
        blocks.append(Row((noun, *figures), shares, (1, 2, 3), keep=True))
        effect = capital(limit_effect(row, verdict.probability))
        blocks.append(Words(f"{effect}.", SMALL_PT, colour=SOFT))
    single = None if verdict.remedies else explanation.no_single_fix(verdict.limits)
    notes = said(single, explanation.helpers(verdict), explanation.cost_explained(verdict))
    return [*blocks, *(Words(note, SMALL_PT) for note in notes)]


def _certainty(verdict: Verdict) -> list[Block]:
    """Why the verdict is marginal, what would settle it, and what a class of density leaves out."""
    texts = said(
        explanation.why_marginal(verdict), verdict.messages.to_settle,
        explanation.density_note(verdict),
    )  # fmt: skip
    return [heading("How sure"), *(Words(text, SMALL_PT) for text in texts)] if texts else []


def _remedies(verdict: Verdict) -> list[Block]:
    """All changes that reach the target, with what else they do."""
    lines = remedy_lines(verdict, MOST_REMEDIES)
    if not lines:
        return []
    reaching = [row for row in verdict.remedies if row.reaches]
    blocks: list[Block] = [heading("What to change, with side effects")]
    for k, line in enumerate(lines):
        blocks.append(Words(line, SMALL_PT))
        if k < len(reaching) and reaching[k].side_effects:
            blocks.append(Words(effects_of(reaching[k]), SMALL_PT, colour=SOFT, gap=0.06))
    return blocks


def _figures(verdict: Verdict) -> list[Block]:
    """Every figure."""
    rows = [Row(cells, (0.48, 0.52), gap=0.025) for cells in figure_rows(verdict, "back")]
    note = Words(f"Class after {verdict.geometry.density_edition}.", SMALL_PT, colour=SOFT)
    return [heading("The target in figures"), *rows, note]


def shining(lights: Sequence[Contribution]) -> list[Contribution]:
    """Lights that give signal, the strongest first; the parts of an opening as one row."""
    out: dict[str, Contribution] = {}
    for row in lights:
        name = row.name.split(PART)[0]
        key = name if PART in row.name else f"{row.light} {name}"
        first = out.get(key)
        out[key] = row._replace(name=name) if first is None else first.with_part(row)
    every = [row for row in out.values() if row.electrons_per_s > 0.0]
    return sorted(every, key=lambda row: -row.electrons_per_s)


def _lights(lights: Sequence[Contribution]) -> list[Block]:
    """What lights the target; lights that hardly count in one row."""
    every = shining(lights)
    if not every:
        return []
    sum_of_all = sum(row.electrons_per_s for row in every)
    counting = [row for row in every if row.electrons_per_s >= LEAST_SHARE * sum_of_all]
    shares = (0.5, 0.28, 0.22)
    rows = []
    for row in counting:
        amount, unit = row.quantity
        part = percent(row.electrons_per_s / sum_of_all)
        rows.append(Row((row.name, f"{digits(amount, 2)} {unit}", part), shares, (1, 2)))
    if len(counting) < len(every):
        rest = sum(row.electrons_per_s for row in every[len(counting) :]) / sum_of_all
        rows.append(
            Row(
                (f"{len(every) - len(counting)} more", "", f"< {percent(max(rest, 0.01))}"),
                shares,
                (1, 2),
            )
        )
    titles = ("", "on the target", "of the signal")
    head = Row(titles, shares, (1, 2), (SOFT,) * 3, rule=False, keep=True)
    return [heading("What lights the target"), head, *rows]


def _others(verdict: Verdict) -> list[Block]:
    """The scene's other targets."""
    others = [row for row in verdict.targets if row.name != verdict.target.name]
    if not others:
        return []
    rows = [Row((row.name, _other(row)), (0.4, 0.6)) for row in others]
    return [heading("The other targets"), *rows]


def _other(row: TargetBrief) -> str:
    if row.box_px is None:
        return "not visible"
    text = f"{row.pixels_per_m:.0f} px/m, level {row.mean_level:.0f} of 255"
    if row.probability is not None:
        text += f", read in {percent(row.probability)} of pictures"
    return text


def _origin(verdict: Verdict) -> list[Block]:
    """Where the pages come from."""
    origin = origin_text(verdict)
    return [heading("Source"), Words(f"Predicted, not photographed. {origin['Comment']}", SMALL_PT)]
