"""Ways that differ in kind, each searched for the least design that bears the reserve.

A family is a kind of way: settings of the camera alone, a lamp of one colour, a nearer place.
Within a family the closed forms choose lens, shutter and most gain, and drop what noise alone
rules out (`screens`, `exposing`); the least and the most light at which the task succeeds are then
sought on the layers that the session keeps, by the reader or observer of verdicts; and a lamp
class is chosen whose weakest old lamp still gives `reserve` times the least, and whose
strongest new one stays below the most (`lighting.lamp_classes`). Gain starts at its cap and is
lowered where a class would wash the target out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np

from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.judge.target import JudgedText
from simulator.messages import Message
from simulator.scene.load import Scene
from simulator.studies import trade
from simulator.studies.lighting.lamp_classes import ChosenLamp, buyable, lamp_classes, smallest
from simulator.studies.lighting.lamps import KindName, field_angle_deg
from simulator.studies.quick_look import observer_look
from simulator.studies.reserve import edge
from simulator.studies.session import Session, open_session
from simulator.studies.specify.design import LAMP_NAME, Design, Mount
from simulator.studies.specify.exposing import (
    backlit,
    drowned,
    exposure_of,
    held_back,
    overexposed,
)
from simulator.studies.specify.opening import opened, reset
from simulator.studies.specify.places import moved, other_places
from simulator.studies.specify.screens import (
    LensRange,
    lens_choice,
    lens_range,
    moves,
    shutter_for,
)

Family = Literal["settings", "infrared-850", "infrared-940", "white", "nearer"]
FAMILIES: tuple[Family, ...] = ("settings", "infrared-850", "infrared-940", "white", "nearer")
GAINS_BELOW = (12.0, 6.0, 0.0)
"""Caps of the gain that are tried below the first [dB]."""
LOOK_RESERVE = 0.5
"""A look must show this share of what the target probability lacks to certainty on top."""
ROOMY = 3.0
"""What the roomier lamp has over the reserve that is asked for."""
LONGER, LONGER_WITH_LAMP = (1.0, 1.6, 2.5, 4.0), (1.0, 2.5)
"""Lenses that are tried one after another for targets without text, over the one that gives the
density of the class with room: noise, blur and backlight may ask for more pixels than a class."""
FULL = 0.4
"""Share of white at which the light on the target is first tried."""
FACTOR = 3.0
"""Step of the search for the least and the most light."""
MOST_FACTOR = 30.0


class Point(NamedTuple):
    """One family before one scene with one camera."""

    scene: Scene
    camera: Camera
    family: Family
    reserve: float
    gain_cap_db: float | None
    seed: int


class Window(NamedTuple):
    """Least and most light of a lamp at which the task succeeds [W/sr or cd]."""

    least: float
    most: float


@dataclass(frozen=True)
class Solved:
    """A design that works with its reserve, as far as the search looked."""

    family: Family
    design: Design
    lens: LensRange
    light_reserve: float
    """How much less light the search saw it bear, the lamp old and weak."""
    window: Window | None = None
    roomiest: ChosenLamp | None = None
    """The smallest lamp of the window with `ROOMY` times the reserve, if another than the
    design's."""
    notes: tuple[Message, ...] = ()


@dataclass(frozen=True)
class Failed:
    """A family that does not reach the target probability with its reserve."""

    family: Family
    camera: str
    why: Message
    best: float


def aim_of(scene: Scene) -> float:
    """Probability that a look must show."""
    wanted = scene.model.task.wanted_probability
    return wanted + LOOK_RESERVE * (1.0 - wanted)


def solve(point: Point) -> Solved | Failed:
    """The least design of a family.

    Raises
    ------
    InputError
        For a scene that cannot be built, or a target that cannot be seen.
    """
    as_written = open_session(point.scene, point.camera, seed=point.seed)
    search = _Search(point, as_written)
    if point.family == "settings":
        return search.settings(None)
    if point.family == "nearer":
        return search.nearer()
    return search.lamp(point.family)


class _Search:
    """One family at work."""

    def __init__(self, point: Point, as_written: Session) -> None:
        self.point, self.written = point, as_written
        self.aim = aim_of(point.scene)
        self.best = 0.0
        self.washed_out = False
        """Whether a lower cap of the gain could keep what no strength of a lamp kept."""

    def passes(self, session: Session) -> bool:
        """Whether the observer shows more than the target probability."""
        try:
            probability = 0.0 if drowned(session) else observer_look(session).value
        except InputError:
            return False
        self.best = max(self.best, probability)
        return probability >= self.aim

    def failed(self, key: str) -> Failed:
        """The family given up."""
        why = Message(f"specify-failed.{key}")
        return Failed(self.point.family, self.point.camera.name, why, self.best)

    @property
    def gain_cap_db(self) -> float:
        """Most gain that is specified."""
        most = self.point.camera.model.exposure.gain_max_db
        usual = trade.PLATE_GAIN_DB if isinstance(self.written.target, JudgedText) else (
            trade.GAIN_DB
        )  # fmt: skip
        given = self.point.gain_cap_db
        return min(most, usual if given is None else given)

    def start(
        self, base: Session, mount: Mount | None = None, *, longer: Sequence[float] = LONGER
    ) -> Iterator[tuple[LensRange, Design]]:
        """Designs without a lamp: the lens that suits, then longer ones that have room.

        A text is read as soon as its characters are large enough: the longest lens alone follows.
        """
        range_ = lens_range(base)
        wide_range = self.point.camera.model.wide_range.method == "exposures" and backlit(base)
        tried: set[float] = set()
        steps = [times * range_.good_mm for times in longer]
        if isinstance(base.target, JudgedText):
            steps = [range_.good_mm, range_.most_mm]
        for mm in (step for step in steps if step <= max(range_.good_mm, range_.most_mm)):
            choice = lens_choice(self.point.camera, mm)
            if choice.mm in tried:
                continue
            tried.add(choice.mm)
            shutter = shutter_for(base, choice.mm)
            yield range_, Design(
                self.point.camera, choice.changes, choice.mm, shutter.shutter_s, self.gain_cap_db,
                fixed=False, wide_range=wide_range,
                mode="auto", focus_m=base.target.depth_m, moves=moves(base), mount=mount,
            )  # fmt: skip

    def settings(self, mount: Mount | None, base: Session | None = None) -> Solved | Failed:
        """Lens, shutter, gain and wide range alone, with the reserve in light."""
        for range_, first in self.start(base or self.written, mount):
            try:
                design, session = opened(self.point.scene, first, self.point.seed)
            except InputError:  # a lens that the body does not take, nothing that is lit
                continue
            for tried in self._exposed(session, design):
                at = reset(session, self.point.scene, tried)
                if not self.passes(at):
                    continue
                if self.passes(at.relit(every=1.0 / self.point.reserve)):
                    return Solved(self.point.family, tried, range_, self._reserve(at))
        return self.failed("too-dark" if self.best >= self.aim else "no-settings")

    def _exposed(self, session: Session, design: Design) -> Iterator[Design]:
        """Ways to expose a design: without wide dynamic range first, with it only where there is
        something to gain, before a bright opening with it alone; each with gain and shutter held
        where the camera's own would wash the target out."""
        method = self.point.camera.model.wide_range.method
        ons: tuple[bool, ...] = (False,)
        if method == "exposures":
            ons = (True,) if design.wide_range else (False, True)
        for on in ons:
            tried = replace(design, wide_range=on)
            at = reset(session, self.point.scene, tried)
            if on and not design.wide_range and not overexposed(at):
                continue
            yield held_back(at, tried)

    def _reserve(self, session: Session) -> float:
        """How much less of all light the task bears."""
        least = self.point.reserve

        def darker(times: float) -> Session:
            return session.relit(every=1.0 / times)

        return edge(
            least, MOST_FACTOR, least * FACTOR, lambda k: self.passes(darker(k)), FACTOR
        ).value  # fmt: skip

    def lamp(self, kind: KindName, mount: Mount | None = None, base: Session | None = None
             ) -> Solved | Failed:  # fmt: skip
        """A lamp of a colour beside the camera."""
        base = base or self.written
        why = None if kind == "white" else no_infrared(base)
        if why is not None:
            return self.failed(why)
        for range_, plain in self.start(base, mount, longer=LONGER_WITH_LAMP):
            lit = self._lamp_with(kind, plain, range_, base)
            if lit is not None:
                return lit
        return self.failed("no-lamp")

    def _lamp_with(
        self, kind: KindName, plain: Design, range_: LensRange, base: Session
    ) -> Solved | None:
        beam = beam_covering(kind, plain, base)
        reference = ChosenLamp(next(c for c in lamp_classes(kind) if c.beam_deg >= beam))
        x, y, z = (float(one) for one in base.target.card.centre_m)
        design = replace(
            plain, lamp=reference, mode="auto" if kind == "white" else "night", fixed=plain.moves,
            lamp_aim_m=(x, y, z),
        )  # fmt: skip
        try:
            design, session = opened(self.point.scene, design, self.point.seed)
        except InputError:
            return None
        smaller: Solved | None = None
        gains = [design.gain_cap_db, *(g for g in GAINS_BELOW if g < design.gain_cap_db)]
        for gain in gains:
            design = replace(design, gain_cap_db=gain)
            at = reset(session, self.point.scene, design)
            window = self._window(at, reference)
            if window is None:
                if not self.washed_out:
                    break  # a lower cap of the gain alters nothing
                continue
            lamps = buyable(kind, window.least * self.point.reserve, beam, window.most)
            # the reserve is in all light: with that of the scene weaker too a class may not do
            while lamps and not self._bears(at, reference, lamps[0]):
                lamps = lamps[1:]
            if lamps:
                roomy = ROOMY * self.point.reserve * window.least
                strong = [one for one in lamps if one.least_guaranteed >= roomy]
                room = strong[0] if strong else max(lamps, key=lambda one: one.least_guaranteed)
                return Solved(
                    self.point.family, design.with_lamp(lamps[0]), range_,
                    lamps[0].least_guaranteed / window.least, window,
                    room if room != lamps[0] else None,
                )  # fmt: skip
            weakest = smallest(kind, beam)
            if smaller is None and weakest.intensity <= window.most:
                note = Message.of(
                    "specify-note.below-smallest", needed=window.least * self.point.reserve,
                    unit=weakest.lamp.kind.intensity_unit, power_w=weakest.lamp.power_w,
                    beam_deg=weakest.lamp.beam_deg, setting=weakest.setting,
                )  # fmt: skip
                if weakest.least_guaranteed >= window.least * self.point.reserve:
                    smaller = Solved(
                        self.point.family,
                        design.with_lamp(weakest),
                        range_,
                        weakest.least_guaranteed / window.least,
                        window,
                        None,
                        (note,),
                    )
        return smaller

    def _bears(self, session: Session, reference: ChosenLamp, lamp: ChosenLamp) -> bool:
        """Whether a lamp does with all light weaker by the reserve."""
        every = 1.0 / self.point.reserve
        times = lamp.intensity / reference.intensity
        return self.passes(session.relit(every=every, lamps={LAMP_NAME: every * times}))

    def _window(self, session: Session, lamp: ChosenLamp) -> Window | None:
        """Least and most light at which the task succeeds; None if there is none."""
        top = _strongest(lamp)
        first = min(_full(session), top)

        def lit(strength: float) -> Session:
            return session.relit(lamps={LAMP_NAME: strength})

        tries = {s: lit(s) for s in (first, FACTOR * first, first / FACTOR, top) if s <= top}
        start = next((s for s, at in tries.items() if self.passes(at)), None)
        if start is None:
            self.washed_out = any(_by_gain(at) for at in tries.values())
            return None
        dim, most = 1.0 / start, MOST_FACTOR**2 / start
        weakest = edge(dim, most, FACTOR * dim, lambda k: self.passes(lit(1.0 / k)), FACTOR)
        strong = edge(
            start, top, min(start * FACTOR, top), lambda s: self.passes(lit(s)), FACTOR
        )  # fmt: skip
        return Window(lamp.intensity / weakest.value, lamp.intensity * strong.value)

    def nearer(self) -> Solved | Failed:
        """Another place of the camera, with its own light or with an infrared lamp."""
        for place in other_places(self.written):
            try:
                scene = moved(self.written, place)
                base = open_session(scene, self.point.camera, seed=self.point.seed)
                base.settle()
            except InputError:  # a place that is not possible, or that shows nothing of the target
                continue
            station = scene.model.station
            mount = Mount(station.ground_position_m, station.height_m, station.aim_m)
            way = self.settings(mount, base)
            if isinstance(way, Failed) and scene.model.task.name != "colour":
                way = self.lamp("infrared-850", mount, base)
            if isinstance(way, Solved):
                return way
        return self.failed("no-nearer")


def no_infrared(session: Session) -> Literal["no-colour", "by-day"] | None:
    """Why infrared is no way before a scene; None where it is one.

    It shows no colour. And where the light that is there leaves the camera in day mode, nobody
    holds it in night mode but to read plates.
    """
    task = session.scene.model.task.name
    if task in ("colour", "read"):
        return "no-colour" if task == "colour" else None
    try:
        auto = session.camera.set({"day_night.mode": "auto"})
        by_day = open_session(session.scene, auto, world=session.mounted.world).state.mode == "day"
    except InputError:  # no light at all
        return None
    return "by-day" if by_day else None


def beam_covering(kind: KindName, design: Design, base: Session) -> float:
    """The narrowest beam on sale that covers the picture, or the widest there is [deg]."""
    growth = design.lens_mm / base.camera.model.lens.focal_length_mm
    half = np.tan(np.radians(field_angle_deg(base.in_scene) / 2.0)) / growth
    field = float(2.0 * np.degrees(np.arctan(half)))
    beams = sorted({one.beam_deg for one in lamp_classes(kind)})
    return next((beam for beam in beams if beam >= field), beams[-1])


def _by_gain(session: Session) -> bool:
    """Whether it may be the gain that washes a target out; of a text the small picture that tells
    shows too little."""
    try:
        gain_db = session.state.exposure.gain_db
        return gain_db > 0.0 and (isinstance(session.target, JudgedText) or overexposed(session))
    except InputError:
        return True


def _strongest(lamp: ChosenLamp) -> float:
    """The strongest lamp of its kind, over this one."""
    classes = lamp_classes(lamp.lamp.kind_name)
    return max(one.intensity * (1.0 + one.tolerance) for one in classes) / lamp.intensity


def _full(session: Session) -> float:
    """Strength of the lamp at which the brightest of the target has `FULL` of white; without a
    text, which throws light back from few pixels, by the small picture that the camera meters by.
    """
    if not isinstance(session.target, JudgedText):
        return FULL / max(exposure_of(session), 1e-9)
    light = session.electrons()
    x0, y0, x1, y1 = light.target_box_px
    left, top = light.box_px[:2]
    inside = light.electrons[y0 - top : y1 - top, x0 - left : x1 - left, 1]
    bright = float(np.percentile(inside, 95.0))
    gain = 10.0 ** (session.state.exposure.gain_db / 20.0)
    white = session.in_scene.camera.sensor.full_well_e / gain
    return FULL * white / max(bright, 1e-9)
