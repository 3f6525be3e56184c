"""A light budget on A4 landscape: the waterfall above, lights, noise and levels below."""

from __future__ import annotations

import math
from pathlib import Path

from simulator.report.budget.words import (
    Line,
    answer,
    count_words,
    factor_words,
    level_rows,
    light_words,
    lines,
    rows,
    table,
)
from simulator.report.flow import (
    BODY_PT,
    MARGIN_IN,
    SMALL_PT,
    TITLE_PT,
    Bar,
    Block,
    Box,
    Page,
    Row,
    Words,
    heading,
    stack,
)
from simulator.report.inks import BAR, FAIR, GOOD, INK, RULE, SOFT, TRACK
from simulator.report.pictures import origin_text, save_figure
from simulator.report.record import write_record
from simulator.report.wording import digits, entry, say
from simulator.studies.budget.study import LightBudget
from simulator.studies.folder import result_folder
from simulator.studies.provenance import versions
from simulator.studies.tables import write_csv

DPI = 150
NAME_IN, EQUATION_IN, FACTOR_IN, LEFT_IN = 2.25, 3.2, 0.75, 1.15
"""Columns of the waterfall: words, equation, factor, what is left."""
AXIS_IN = 0.25
"""Room between the factors and the axis."""
BLOCKS_IN = 2.15
"""Height of the blocks below the waterfall."""
FOOT_IN = 0.2
MOST_LIGHTS = 7


def save_budget(folder: Path, budget: LightBudget) -> Path:
    """Write budget.png, budget.svg, budget.csv, verdict.json and inputs/, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    record = table(budget)
    origin = origin_text(record)
    with result_folder(folder) as place:
        page = draw_budget(budget)
        save_figure(page.figure, place / "budget.png", dpi=DPI, metadata=origin)
        _save_svg(page, place / "budget.svg", str(record["title"]))
        write_csv(place / "budget.csv", rows(budget))
        write_record(place, record, {"scene": budget.scene, "camera": budget.camera})
    return folder


def _save_svg(page: Page, path: Path, title: str) -> None:
    """The page as lines and letters, the same bytes each time."""
    from matplotlib import rc_context

    with rc_context({"svg.hashsalt": "nightproof", "svg.fonttype": "path"}):
        save_figure(page.figure, path, format="svg", metadata={"Title": title, "Date": None})


def draw_budget(budget: LightBudget) -> Page:
    """The page."""
    page = Page(DPI)
    x, width = MARGIN_IN, page.size_in[0] - 2.0 * MARGIN_IN
    y = MARGIN_IN
    for words in (
        Words(budget.scene.model.title, TITLE_PT, bold=True),
        Words(say(answer(budget)), BODY_PT, gap=0.1),
    ):
        words.draw(page, x, y, width)
        y += words.height(width)
    low = page.size_in[1] - MARGIN_IN - FOOT_IN
    _waterfall(page, lines(budget), Box(x, y, width, low - BLOCKS_IN - y - 0.1))
    _blocks(page, budget, Box(x, low - BLOCKS_IN, width, BLOCKS_IN))
    _foot(page, budget, x, low, width)
    return page


def _waterfall(page: Page, steps: list[Line], box: Box) -> None:
    """Steps one below the other; bars on an axis of powers of ten."""
    if not steps:
        return
    row_in = min(0.24, (box.height - 0.25) / (len(steps) + 1))
    bar = box.left + NAME_IN + EQUATION_IN + FACTOR_IN + AXIS_IN
    room = box.width - (bar - box.left) - LEFT_IN
    values = [v for step in steps for v in (step.before, step.after) if v is not None and v > 0.0]
    low, high = math.floor(math.log10(min(values))), math.ceil(math.log10(max(values)))
    high = max(high, low + 1)

    def at(value: float) -> float:
        return bar + room * (math.log10(max(value, 10.0**low)) - low) / (high - low)

    head = box.top
    for left, text in (
        (box.left, "step"), (box.left + NAME_IN, "equation and values"),
    ):  # fmt: skip
        page.text(left, head, text, SMALL_PT, colour=SOFT)
    page.text(bar - AXIS_IN, head, "factor", SMALL_PT, colour=SOFT, align="right")
    page.text(box.left + box.width, head, "left in a pixel", SMALL_PT, colour=SOFT, align="right")
    bottom = head + row_in * (len(steps) + 1)
    step = max(1, math.ceil((high - low) / 8))
    for power in range(low, high + 1, step):
        place = at(10.0**power)
        page.line(place, head + 0.16, place, bottom, RULE, 0.6)
        page.text(place, head, _power(power), SMALL_PT, colour=SOFT, align="center")
    for k, one in enumerate(steps):
        y = head + row_in * (k + 1)
        page.text(box.left, y, one.name, SMALL_PT, bold=one.factor is None)
        page.text(box.left + NAME_IN, y, one.equation, SMALL_PT, colour=SOFT)
        page.text(bar - AXIS_IN, y, factor_words(one), SMALL_PT, align="right")
        count = count_words(one.after, one.unit)
        page.text(box.left + box.width, y, count, SMALL_PT, align="right")
        _bar(page, one, at, bar, y, row_in)


def _power(power: int) -> str:
    if 0 <= power <= 3:
        return f"{10**power:,}".replace(",", " ")
    digits_up = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
    return f"10{str(power).translate(digits_up)}"


def _bar(page: Page, one: Line, at, left: float, y: float, row_in: float) -> None:  # type: ignore[no-untyped-def]
    """What is left, and lighter what the step took; electrons in another colour than photons."""
    high, top = 0.58 * row_in, y + 0.04
    colour = GOOD if one.unit == "electrons" else BAR
    page.rectangle(Box(left, top, max(at(one.after) - left, 0.01), high), colour)
    if one.before is None:
        return
    a, b = sorted((at(one.before), at(one.after)))
    taken = TRACK if one.after <= one.before else FAIR
    if b > a:
        page.rectangle(Box(a, top, b - a, high), taken)


def _blocks(page: Page, budget: LightBudget, box: Box) -> None:
    """Lights, noise and levels side by side."""
    page.line(box.left, box.top - 0.06, box.left + box.width, box.top - 0.06, RULE, 0.6)
    gap = 0.35
    wide = (box.width - 2.0 * gap) / 3.0
    for k, blocks in enumerate((_lights(budget), _noise(budget), _levels(budget))):
        stack(page, Box(box.left + k * (wide + gap), box.top, wide, box.height), blocks)


def _lights(budget: LightBudget) -> list[Block]:
    """How much each light gives."""
    k = budget.channel
    given = [(light_words(c), float(c.electrons[k])) for c in budget.chains]
    most = max([electrons for _, electrons in given], default=1.0) or 1.0
    out: list[Block] = [heading("Which light it is")]
    for name, electrons in given[:MOST_LIGHTS]:
        amount = f"{digits(electrons)} e⁻"
        out.append(Bar(name, electrons / most, amount, GOOD, 2.0, 0.65))
    left = sum(electrons for _, electrons in given[MOST_LIGHTS:])
    if left > 0.0:
        out.append(Words(f"{len(given) - MOST_LIGHTS} more: {digits(left)} e⁻", SMALL_PT))
    return out


def _noise(budget: LightBudget) -> list[Block]:
    """Terms of the noise, and their sum."""
    most = max([one.electrons for one in budget.noise], default=1.0) or 1.0
    out: list[Block] = [heading(f"Noise of a pixel: {digits(budget.temporal_noise)} e⁻")]
    for term in budget.noise:
        colour = GOOD if term.temporal else BAR
        words = entry("budget-noise", term.name)["name"]
        amount = f"{digits(term.electrons)} e⁻"
        out.append(Bar(words, term.electrons / most, amount, colour, 1.75, 0.65))
    out.append(Words("Dark bars differ from picture to picture, light ones stay.", SMALL_PT,
                     colour=SOFT))  # fmt: skip
    return out


def _levels(budget: LightBudget) -> list[Block]:
    """From electrons to the display."""
    out: list[Block] = [heading("To the display")]
    for name, value, unit, _ in level_rows(budget):
        if value is not None:
            cells = name, f"{digits(value, 4)} {unit}"
            out.append(Row(cells, (0.65, 0.35), right=(1,), colours=(INK, INK), gap=0.012))
    return out


def _foot(page: Page, budget: LightBudget, x: float, y: float, width: float) -> None:
    page.line(x, y, x + width, y, RULE, 0.6)
    origin = "Predicted, not photographed; photons and electrons of one green pixel in one exposure"
    origin += f"; {budget.scene.name}, {budget.camera.name}; seed {budget.seed}"
    origin += f"; nightproof {versions()['nightproof']}; inputs {table(budget)['input_hash']}"
    page.text(x, y + 0.04, origin, SMALL_PT, colour=SOFT)
