"""Direct answers: which lens works, and whether a wide dynamic range is needed."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.studies import trade
from simulator.studies.quick_look import QuickLook
from simulator.studies.reserve import edge
from simulator.studies.session import Session, open_session
from simulator.studies.specify.design import Design
from simulator.studies.specify.exposing import backlit
from simulator.studies.specify.opening import opened
from simulator.studies.specify.result import LensAnswer, WideRangeAnswer
from simulator.studies.specify.screens import lens_choice, lens_range

MARKS = (0.5, 0.7, 1.4, 2.0)
"""Focal lengths that are looked at, over the chosen one."""
MOST_BACKLIGHT = 30.0


class AnswerPoint(NamedTuple):
    """A design before its scene."""

    scene: Scene
    design: Design
    seed: int
    thorough: bool = True
    """Whether the backlight that is borne is sought."""


def lens_answer(point: AnswerPoint) -> LensAnswer | None:
    """The run of focal lengths that work around the chosen one; None for a lens that is built in.

    Lenses that the trade takes for too short, by the height of characters or the pixel density, or
    for too long, by the field that the task needs, are not looked at.
    """
    design, look = point.design, QuickLook(point.seed)
    wanted = point.scene.model.task.wanted_probability
    design, session = opened(point.scene, design, point.seed)
    range_ = lens_range(session)
    shortest = range_.least_mm * trade.CHARACTER_PX[0] / trade.CHARACTER_PX[1]
    longest = max(range_.most_mm, design.lens_mm)
    probabilities = {design.lens_mm: look(session)}
    for times in MARKS:
        choice = lens_choice(design.camera, times * design.lens_mm)
        if choice.mm in probabilities or not 0.95 * shortest <= choice.mm <= 1.02 * longest:
            continue
        other = replace(design, lens=choice.changes, lens_mm=choice.mm)
        try:
            probabilities[choice.mm] = look(opened(point.scene, other, point.seed)[1])
        except InputError:
            continue
    if len(probabilities) < 2:
        return None
    tried = tuple(sorted(probabilities.items()))
    run = _run(tried, design.lens_mm, wanted)
    return LensAnswer(design.lens_mm, tried, *run)


def _run(
    tried: tuple[tuple[float, float], ...], chosen: float, wanted: float
) -> tuple[float | None, float | None]:
    """Ends of the run of passing values that holds the chosen one."""
    values = [mm for mm, _ in tried]
    passing = [chance >= wanted for _, chance in tried]
    at = values.index(chosen)
    if not passing[at]:
        return None, None
    low = high = at
    while low > 0 and passing[low - 1]:
        low -= 1
    while high + 1 < len(values) and passing[high + 1]:
        high += 1
    return values[low], values[high]


def wide_range_answer(point: AnswerPoint) -> WideRangeAnswer:
    """The design with and without wide dynamic range; the backlight that each bears."""
    wanted = point.scene.model.task.wanted_probability
    method = point.design.camera.model.wide_range.method
    chances: dict[bool, float] = {}
    bears: dict[bool, float | None] = {False: None, True: None}
    before_backlight = False
    for on in (False, True):
        if method == "logarithmic" and not on:
            continue
        design = replace(point.design, wide_range=on)
        look = QuickLook(point.seed)
        session = opened(point.scene, design, point.seed)[1]
        chances[on] = look(session)
        before_backlight = backlit(session)
        if point.thorough and before_backlight and chances[on] >= wanted:
            bears[on] = _bears(session, look, wanted)
    without = chances.get(False, chances[True])
    return WideRangeAnswer(
        without < wanted,
        without,
        chances.get(True),
        before_backlight,
        point.design.wide_range,
        bears[False],
        bears[True],
    )


def _bears(session: Session, look: QuickLook, wanted: float) -> float:
    """Times the scene's backlight up to which the task succeeds."""
    openings = [one.opening for one in session.mounted.world.openings]
    held = {
        f"surface.{one.name}.luminance_ratio": one.luminance_ratio
        for one in openings
        if one.luminance_ratio is not None
    }
    free = [one.name for one in openings if one.luminance_ratio is None]

    def passes(times: float) -> bool:
        at = session
        try:
            if held:
                ratios = {key: times * ratio for key, ratio in held.items()}
                at = open_session(session.scene.set(ratios), session.camera, seed=session.seed)
            return look(at.relit(lamps=dict.fromkeys(free, times))) >= wanted
        except InputError:
            return False

    return edge(1.0, MOST_BACKLIGHT, 3.0, passes, 3.0).value
