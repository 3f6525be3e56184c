"""Plan and side view of a way: camera, lamp, target, field, and the measures for mounting."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from simulator.report.inks import INK, LAMP, PAPER, RULE, SOFT, VIEW
from simulator.report.wording import three_digits
from simulator.studies.placing import placed
from simulator.studies.specify.design import LAMP_NAME
from simulator.studies.specify.result import Specification, Way
from simulator.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BEYOND = 1.25
"""How far the drawing goes beyond the target."""
SIZE_PT = 8.0
VIEWS_IN, VIEWS_DPI = (9.6, 2.9), 150


class Layout:
    """Places that both views draw."""

    def __init__(self, specification: Specification, way: Way) -> None:
        scene, camera = way.design.applied(specification.scene)
        in_scene = placed(scene.model, camera.model)
        world, view = in_scene.world, in_scene.view
        card = world.cards[world.targets[scene.model.task.target][0]]
        self.name = scene.model.task.target
        self.camera: FloatArray = np.asarray(view.position_m)
        self.target: FloatArray = np.asarray(card.centre_m)
        lamps = [one.position_m for one in world.lights if one.name == LAMP_NAME]
        self.lamp: FloatArray | None = None if not lamps else np.asarray(lamps[0])
        self.beside_m = way.design.lamp_beside_m
        self.walls = [one for one in world.cards if one.width_m > 0.8 and abs(one.normal[2]) < 0.5]
        far = BEYOND * float(np.linalg.norm((self.target - self.camera)[:2]))
        middle = view.height_px / 2.0
        to = self.target - self.camera
        self.sides = [_at(view.direction(x, middle), to, far) for x in (0.0, float(view.width_px))]
        centre = view.width_px / 2.0
        self.edges = [
            _at(view.direction(centre, y), to, far) for y in (0.0, float(view.height_px))
        ]  # fmt: skip
        self.far = far


def _at(direction: FloatArray, to: FloatArray, far: float) -> FloatArray:
    """A ray as far as `far` over the ground towards the target [m]."""
    ahead = float(direction[:2] @ to[:2]) / max(float(np.linalg.norm(to[:2])), 1e-6)
    level = math.hypot(float(direction[0]), float(direction[1]))
    return np.asarray(direction) * far / max(ahead, 0.1 * level, 1e-6)


def views(specification: Specification, way: Way) -> Figure:
    """Plan and side view of a way beside each other, as one drawing."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=VIEWS_IN, dpi=VIEWS_DPI, facecolor=PAPER, layout="constrained")
    layout = Layout(specification, way)
    for draw, axes in zip((draw_plan, draw_side), figure.subplots(1, 2), strict=True):
        draw(axes, layout)
    return figure


def draw_plan(axes: Axes, at: Layout) -> None:
    """Seen from above: away from the camera to the right."""
    a = at.camera
    ends = [a + one for one in at.sides]
    axes.fill([a[1], ends[0][1], ends[1][1]], [a[0], ends[0][0], ends[1][0]],
              color=VIEW, alpha=0.12, linewidth=0)  # fmt: skip
    for wall in at.walls:
        left, right = wall.point_m(0.0, 0.0), wall.point_m(wall.width_m, 0.0)
        axes.plot([left[1], right[1]], [left[0], right[0]], color=RULE, lw=2.0)
    _line(axes, a[[1, 0]], at.target[[1, 0]])
    level = float(np.linalg.norm((at.target - a)[:2]))
    _measure(axes, a[[1, 0]], at.target[[1, 0]], f"{level:.1f} m")
    _marks(axes, at, (1, 0))
    if at.lamp is not None:
        _note(axes, at.lamp[[1, 0]], f"lamp {at.beside_m[0]:g} m beside")
    _frame(axes, at, "Plan", "across [m]")
    half = max(1.5, 0.30 * at.far)
    axes.set_ylim(a[0] + half, a[0] - half)
    axes.set_aspect("equal", adjustable="box", anchor="W")


def draw_side(axes: Axes, at: Layout) -> None:
    """Seen from the side."""
    a = at.camera
    ends = [a + one for one in at.edges]
    axes.fill([_along(at, a), *(_along(at, e) for e in ends)], [a[2], *(e[2] for e in ends)],
              color=VIEW, alpha=0.12, linewidth=0)  # fmt: skip
    axes.axhline(0.0, color=INK, lw=1.0)
    to = np.array([_along(at, at.target), at.target[2]])
    _line(axes, np.array([0.0, a[2]]), to)
    axes.plot([0.0, 0.0], [0.0, a[2]], color=INK, lw=1.4)
    _note(axes, np.array([0.0, a[2] / 2.0]), f"{a[2]:.1f} m", right=True)
    down = math.degrees(math.atan2(float(a[2] - at.target[2]), float(to[0])))
    sight = float(np.linalg.norm(at.target - a))
    _measure(
        axes, np.array([0.0, a[2]]), to, f"{sight:.1f} m, {three_digits(round(down, 1))}° down"
    )
    axes.plot(0.0, a[2], marker="s", ms=7, color=VIEW)
    axes.plot(*to, marker="D", ms=6, color=INK)
    if at.lamp is not None:
        axes.plot(_along(at, at.lamp), at.lamp[2], marker="o", ms=6, color=LAMP, mec=INK)
        _note(axes, np.array([_along(at, at.lamp), at.lamp[2]]),
              f"lamp {at.beside_m[2]:g} m above", above=True)  # fmt: skip
    _frame(axes, at, "Side view", "height [m]")
    top = max(float(a[2]), float(at.target[2]), 2.0)
    axes.set_ylim(-0.1 * top, 1.35 * top)


def _along(at: Layout, point: FloatArray) -> float:
    """Distance over the ground towards the target [m]."""
    to = (at.target - at.camera)[:2]
    return float(
        (np.asarray(point)[:2] - at.camera[:2]) @ to / max(float(np.linalg.norm(to)), 1e-6)
    )


def _marks(axes: Axes, at: Layout, order: tuple[int, int]) -> None:
    i, j = order
    axes.plot(at.camera[i], at.camera[j], marker="s", ms=7, color=VIEW)
    axes.plot(at.target[i], at.target[j], marker="D", ms=6, color=INK)
    _note(axes, at.target[[i, j]], at.name, right=True)
    if at.lamp is not None:
        axes.plot(at.lamp[i], at.lamp[j], marker="o", ms=6, color=LAMP, mec=INK)


def _line(axes: Axes, start: FloatArray, end: FloatArray) -> None:
    axes.plot([start[0], end[0]], [start[1], end[1]], color=VIEW, lw=1.0, ls=(0, (4, 3)))


def _measure(axes: Axes, start: FloatArray, end: FloatArray, text: str) -> None:
    x, y = (np.asarray(start) + np.asarray(end)) / 2.0
    axes.annotate(
        text, (x, y), xytext=(0, 5), textcoords="offset points", size=SIZE_PT, color=INK,
        ha="center", va="bottom", bbox={"fc": PAPER, "ec": "none", "pad": 0.5, "alpha": 0.8},
    )  # fmt: skip


def _note(
    axes: Axes, place: FloatArray, text: str, *, above: bool = False, right: bool = False
) -> None:
    offset = (7, 8) if above else (7, -3) if right else (0, -12)
    axes.annotate(
        text, (float(place[0]), float(place[1])), xytext=offset, textcoords="offset points",
        size=SIZE_PT, color=INK, va="bottom" if above else "center",
        bbox={"fc": PAPER, "ec": "none", "pad": 0.3, "alpha": 0.7},
    )  # fmt: skip


def _frame(axes: Axes, at: Layout, title: str, upright: str) -> None:
    axes.set_title(title, size=9.5, weight="bold", loc="left", color=INK)
    axes.set_xlabel("away from the camera [m]", size=SIZE_PT, color=SOFT)
    axes.set_ylabel(upright, size=SIZE_PT, color=SOFT)
    axes.tick_params(labelsize=SIZE_PT, colors=SOFT)
    axes.set_xlim(-0.06 * at.far, 1.12 * at.far)
    for spine in axes.spines.values():
        spine.set_color(RULE)
