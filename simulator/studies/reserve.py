"""Reserve: how much darker, faster, farther and dirtier before a task falls under its target.

Each is sought by itself, all else as it is, by halving on the true model: the light of everything
that shines, the speed of the target, the distance of the camera with what is mounted beside it, and
the share of the window before the lens that dirt covers. Quick looks with the same noise throughout
seek the end; there the task's own reader or observer has the word, and where it does not bear the
end out, it is asked again a little lower, and then lower still. A reserve is good to the step at
which that ends (`ROUNDS`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import Final, NamedTuple

import numpy as np

from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.judge.result import Reserve, Verdict
from simulator.judge.target import JudgedText
from simulator.messages import Message
from simulator.scene.load import Scene
from simulator.scene.radiosity.field import rough
from simulator.studies.quick_look import QuickLook, observer_look
from simulator.studies.session import Session, open_session

AXES: Final = ("darker", "faster", "farther", "dirtier")
ROUNDS: Final = 4
"""Halvings of each search after the ends are found: of a step of 2.5 a sixteenth on a scale of
powers, 6 %."""
STEP: Final = 2.5
FINE: Final = STEP ** (1.0 / 2**ROUNDS)
"""Factor between the values that the halvings of a step tell apart."""
MOST_DARKER, MOST_FARTHER = 100.0, 6.0
"""Where the search ends: the task then bears at least so much."""
MOST_FASTER_KMH, FIRST_KMH = 200.0, 5.0
MOST_DIRT = 0.8
BESIDE_M = 2.0
"""Illuminators within this of the lens move with the camera (chosen by us)."""


class Edge(NamedTuple):
    """The last value that passed, and whether the search ended before one failed."""

    value: float
    beyond: bool


def reserve_of(
    session: Session,
    axes: Sequence[str] = AXES,
    *,
    wanted: float | None = None,
    passes: bool = False,
) -> Reserve | None:
    """Reserve of a scene before a camera; None where the task does not reach its target.

    Parameters
    ----------
    session
        The scene as it is.
    axes
        Which reserves are sought.
    wanted
        Probability that the task must keep; that of the scene if not given.
    passes
        Whether a verdict has found already that the scene as it is keeps it.
    """
    wanted = session.scene.model.task.wanted_probability if wanted is None else wanted
    judge = _Judge(QuickLook(session.seed), wanted)
    if not (passes or (judge.quick(lambda: session) and judge.by_observer(lambda: session))):
        return None
    with rough():
        ends = {name: _SEARCHES[name](session, judge) for name in axes}
    edges = {name: edge for name, edge in ends.items() if edge is not None}
    return Reserve(
        **{_KEYS[name]: _rounded(edge.value) for name, edge in edges.items()},
        at_least=tuple(_KEYS[name] for name, edge in edges.items() if edge.beyond),
    )


class _Judge(NamedTuple):
    """Whether a session keeps its target probability, by a quick look and by the observer."""

    look: QuickLook
    wanted: float

    def quick(self, at: Callable[[], Session]) -> bool:
        return self._holds(self.look, at)

    def by_observer(self, at: Callable[[], Session]) -> bool:
        return self._holds(lambda session: observer_look(session).value, at)

    def _holds(self, look: Callable[[Session], float], at: Callable[[], Session]) -> bool:
        try:
            return look(at()) >= self.wanted
        except InputError:  # a place or light that is not possible, or a target out of sight
            return False

    def edge(
        self, at: Callable[[float], Session], start: float, most: float, first: float, step: float
    ) -> Edge:
        """As `borne_out`, of the sessions that values give."""
        by_looks = edge(start, most, first, lambda x: self.quick(lambda: at(x)), step)
        return borne_out(by_looks, start, lambda x: self.by_observer(lambda: at(x)))


_KEYS: Final = {
    "darker": "darker_times", "faster": "faster_to_kmh", "farther": "farther_to_m",
    "dirtier": "dirt_share",
}  # fmt: skip


def _rounded(value: float) -> float:
    """To two digits, never up."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1) if value > 0.0 else 1.0
    return float(f"{math.floor(value / step * (1.0 + 1e-9)) * step:.2g}")


def edge(
    start: float, most: float, first: float, passes: Callable[[float], bool], step: float = STEP
) -> Edge:
    """The largest value that passes, by steps of a factor and then by halving.

    Parameters
    ----------
    start
        A value that passes.
    most
        Where the search ends.
    first
        The first value that is tried.
    """
    low, high = start, first
    while passes(min(high, most)):
        low = min(high, most)
        if low >= most:
            return Edge(most, True)
        high = low * step
    return Edge(_halved(low, min(high, most), passes), False)


def borne_out(sought: Edge, start: float, holds: Callable[[float], bool]) -> Edge:
    """An edge that quick looks found as far as the observer bears it out.

    Parameters
    ----------
    sought
        What quick looks found.
    start
        A value that the observer passes.
    holds
        Whether a value the observer passes.
    """
    if sought.value <= start or holds(sought.value):
        return sought
    # quick looks err by little: down from there by one step, two, four ...
    least = max(start, sought.value / MOST_DARKER)
    most = math.floor(math.log(sought.value / least) / math.log(FINE))

    def passes(steps: int) -> bool:
        return holds(sought.value / FINE**steps)

    failed, steps = 0, 1
    while steps < most and not passes(steps):
        failed, steps = steps, 2 * steps
    if steps >= most:
        steps = most
        if steps <= failed or not passes(steps):
            return Edge(start, False)
    while steps - failed > 1:
        middle = (steps + failed) // 2
        failed, steps = (failed, middle) if passes(middle) else (middle, steps)
    return Edge(sought.value / FINE**steps, False)


def _halved(low: float, high: float, passes: Callable[[float], bool]) -> float:
    """The last that passes of `ROUNDS` halvings on a scale of powers, between one that does and
    one that does not."""
    for _ in range(ROUNDS):
        middle = math.sqrt(low * high) if low > 0.0 else high / 2.0
        low, high = (middle, high) if passes(middle) else (low, middle)
    return low


def _darker(session: Session, judge: _Judge) -> Edge:
    return judge.edge(lambda k: session.relit(every=1.0 / k), 1.0, MOST_DARKER, STEP, STEP)


def _faster(session: Session, judge: _Judge) -> Edge | None:
    """None for what cannot move as its entry says, and for tasks about things that stand."""
    now = session.entry.speed_kmh
    if now == 0.0 and not isinstance(session.target, JudgedText):
        return None
    key = f"target.{session.entry.name}.speed_kmh"

    def at(speed_kmh: float) -> Session:
        return _reopened(session, session.scene.set({key: round(speed_kmh, 3)}))

    return judge.edge(at, now, MOST_FASTER_KMH, now * STEP or FIRST_KMH, STEP)


def _farther(session: Session, judge: _Judge) -> Edge:
    now = session.target.distance_m
    edge_at = judge.edge(
        lambda k: _reopened(session, farther(session, k)), 1.0, MOST_FARTHER, 1.5, 1.5
    )
    return Edge(edge_at.value * now, edge_at.beyond)


def farther(session: Session, times: float) -> Scene:
    """The scene with the camera farther from the target on level ground, by a factor.

    Its height stays, its focus goes with the target; illuminators within `BESIDE_M` of the lens go
    with it.

    Raises
    ------
    InputError
        For a place that is not possible.
    """
    station, card = session.scene.model.station, session.target.card
    x, y, z = station.position_m
    to = np.asarray(card.centre_m, dtype=np.float64) - (x, y, z)
    level = math.hypot(to[0], to[1])
    reach = session.target.distance_m * times
    left = math.sqrt(max(reach**2 - to[2] ** 2, 0.01))
    back = (to[:2] / max(level, 1e-9)) * (level - left)
    focus = session.in_scene.focus_m
    changes: dict[str, object] = {
        "station.ground_position_m": [round(x + back[0], 4), round(y + back[1], 4)],
        "station.focus_m": round(max(focus * times, 0.05), 4),
    }
    for lamp in session.scene.model.illuminator:
        if lamp.position_m is not None and math.dist(lamp.position_m, (x, y, z)) <= BESIDE_M:
            a, b, c = lamp.position_m
            changes[f"illuminator.{lamp.name}.position_m"] = [a + back[0], b + back[1], c]
    return session.scene.set(changes)


def _dirtier(session: Session, judge: _Judge) -> Edge:
    now = session.camera.model.cover.obstruction_fraction

    def at(share: float) -> Session:
        return dirtier(session, round(share, 4))

    def halved(high: float, passes: Callable[[Callable[[], Session]], bool]) -> float:
        low = now
        for _ in range(ROUNDS + 1):
            middle = (low + high) / 2.0
            low, high = (middle, high) if passes(partial(at, middle)) else (low, middle)
        return low

    beyond = judge.quick(partial(at, MOST_DIRT))
    most_dirt = MOST_DIRT if beyond else halved(MOST_DIRT, judge.quick)
    if most_dirt <= now or judge.by_observer(partial(at, most_dirt)):
        return Edge(most_dirt, beyond)
    return Edge(halved(most_dirt, judge.by_observer), False)


def dirtier(session: Session, share: float) -> Session:
    """The session behind a window of which dirt covers a share; what was traced is shared.

    What dirt keeps is taken from all light alike, and what it scatters is stray light.
    """
    mounted = session.mounted
    cover = mounted.camera.cover
    left = (1.0 - share) / (1.0 - cover.obstruction_fraction)
    as_lit = {"obstruction_fraction": share, "transmittance": cover.transmittance / left}
    camera = mounted.camera.model_copy(update={"cover": cover.model_copy(update=as_lit)})
    dimmed = mounted.with_settings(camera).with_switches(
        light_scale=mounted.switches.light_scale * left
    )
    dirty = session.camera.set({"cover.obstruction_fraction": share})
    return replace(session, camera=dirty, mounted=dimmed)


def _reopened(session: Session, scene: Scene) -> Session:
    return open_session(scene, session.camera, seed=session.seed)


_SEARCHES: Final = {
    "darker": _darker, "faster": _faster, "farther": _farther, "dirtier": _dirtier,
}  # fmt: skip


def reserve_message(result: Reserve, *, headed: bool = True) -> Message:
    """What a reserve says; not `headed` where a heading above it says what it is."""
    return Message.of(
        "reserve.line", darker_times=result.darker_times, faster_to_kmh=result.faster_to_kmh,
        farther_to_m=result.farther_to_m, dirt_share=result.dirt_share, at_least=result.at_least,
        headed=headed,
    )  # fmt: skip


def with_reserve(verdict: Verdict, result: Reserve | None) -> Verdict:
    """A verdict with its reserve, which its conditions say first."""
    if result is None:
        return verdict
    conditions = (reserve_message(result), *verdict.messages.conditions)
    messages = verdict.messages.model_copy(update={"conditions": conditions})
    return verdict.model_copy(update={"reserve": result, "messages": messages})


def reserve(
    scene: Scene, camera: Camera, *, seed: int = 0, axes: Sequence[str] = AXES
) -> Reserve | None:
    """As `reserve_of`, of files.

    Raises
    ------
    InputError
        As `predict` does.
    """
    return reserve_of(open_session(scene, camera, seed=seed), axes)
