"""Size and justify an illuminator: how strong, where, what it costs, and what else would do."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from simulator.annotations import one_of
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.files import bundled_names, find
from simulator.judge.result import Limit
from simulator.light.eye_safety import EyeSafety, assess_infrared
from simulator.messages import Message
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.studies.lighting.costs import Money
from simulator.studies.lighting.held import hold, washed
from simulator.studies.lighting.instead import faster_lens, other_cameras
from simulator.studies.lighting.lamp_classes import ChosenLamp, class_for
from simulator.studies.lighting.lamps import (
    BESIDE_M,
    KINDS,
    LampKind,
    LampLight,
    axis_intensity,
    beam_for,
    field_angle_deg,
    flux_of,
    free_name,
    lamp_entry,
    lamp_light,
    profile_entry,
    target_point,
    with_lamp,
)
from simulator.studies.lighting.need import AsItIs, as_it_is
from simulator.studies.lighting.search import Search, search
from simulator.studies.placing import placed
from simulator.studies.predict import predict
from simulator.studies.quick import TRIALS, Job, Quick, judge_job, quick_of
from simulator.studies.remedies.rest_of_picture import Rest, rest_of_picture
from simulator.studies.runner import open_pool
from simulator.studies.session import open_session

Progress = Callable[[str, float], None]
FRESH_SEED = 7919
"""Added to the seed where what was found is judged again."""
SIZED, FASTER = "sized-lamp", "faster-lens"
"""Names of the sized lamp and of the faster lens in prices and tables."""
EMITTER_WIDTH_M = 0.06
"""Width of the shining face, if it is not told [m] (assumed, as of the smaller archetypes)."""
OTHER_PLACES_M = ((0.1, 0.0, 0.0), (1.0, 0.0, 0.2), (3.0, 0.0, 0.2))
"""Places beside the lens that are tried besides the chosen one: right, forward, up [m]."""
LED_END_SHARE = 0.7
"""Light left at the end of the life that makers state (L70; common practice)."""
MOST_INTENSITY = {"W/sr": 10_000.0, "cd": 1e7}
"""What a scene file allows."""


@dataclass(frozen=True)
class Ask:
    """What is wanted of the study."""

    kind: str = "infrared-850"
    beam_deg: float | None = None
    at_m: tuple[float, float, float] | None = None
    aim_m: tuple[float, float, float] | None = None
    emitter_width_m: float = EMITTER_WIDTH_M
    lights: tuple[str, ...] | None = None
    """Bundled lamps or files to stand beside it; all bundled ones without it."""
    cameras: tuple[str, ...] | None = None
    """Cameras to stand beside it; without it the one of no fewer pixels that gathers most light for
    each of them."""
    seed: int = 0
    trials: int = TRIALS
    workers: int | None = None


def parse_point(key: str, text: str | None) -> tuple[float, float, float] | None:
    """World point of `X,Y,Z` [m]; None for nothing.

    Raises
    ------
    InputError
        For anything else.
    """
    if text is None:
        return None
    try:
        x, y, z = (float(part) for part in text.split(","))
    except ValueError:
        x = y = z = math.nan
    if not max(abs(x), abs(y), abs(z)) <= 10_000.0:
        raise InputError(
            "This is not a point.",
            key=key,
            given=text,
            allowed="three numbers in metres: to the camera's right, away from it, up",
            fix="write it as 1.5,4,3",
        )
    return x, y, z


@dataclass(frozen=True)
class Way:
    """One way to do the task: its judgement, power, and what tells it."""

    name: str
    sort: Literal["as it is", "sized", "lamp", "held", "lens", "camera"]
    title: str
    """Title in its profile; empty without one."""
    judged: Quick
    power_w: float = 0.0
    intensity: float | None = None
    intensity_unit: str = ""
    eye: EyeSafety | None = None
    price: float | None = None
    """Price that the profile itself tells."""
    bought: str = ""
    """Name under which its price is told, if another than its own."""


@dataclass(frozen=True)
class Place:
    """A place beside the lens (right, forward, up) [m] and the judgement there."""

    beside_m: tuple[float, float, float]
    judged: Quick


@dataclass(frozen=True)
class Bought:
    """The class of lamp that is bought for the sized light, and its judgement on fresh noise."""

    lamp: ChosenLamp
    below: bool
    """Whether what is needed is below the smallest class."""
    judged: Quick
    rest: Rest
    """What the picture shows beside the target with it."""


@dataclass(frozen=True)
class Lighting:
    """Everything that was found. `twice` is the sized lamp at twice its intensity."""

    scene: Scene
    camera: Camera
    ask: Ask
    kind: LampKind
    beam_deg: float
    field_deg: float
    aim_m: tuple[float, float, float]
    search: Search
    sized_scene: Scene
    light: LampLight
    flux: float
    power_w: float
    eye: EyeSafety | None
    before: Way
    written: Quick | None
    """The scene with its own illuminators as its file has them; None if none is on."""
    sized: Way
    twice: Quick
    ways: list[Way]
    places: list[Place]
    limits: tuple[Limit, ...]
    """What stands in the way, asked where the sized lamp does not serve for sure."""
    left_out: list[Message]
    """Alternatives that could not be tried, and why."""
    money: Money
    bought: Bought | None = None
    """The lamp on sale with the reserve of the trade; None where none suits."""

    @property
    def chosen(self) -> float:
        """Intensity on the axis, in the unit of the kind."""
        return self.search.chosen


def priced(ask: Ask) -> list[str]:
    """Names that may have a price."""
    lights = bundled_names("lights") if ask.lights is None else ask.lights
    cameras = bundled_names("cameras") if ask.cameras is None else ask.cameras
    return [SIZED, FASTER, *(Path(n).stem for n in (*lights, *cameras))]


def check(ask: Ask, money: Money) -> None:
    """Make sure, before any work, that kind, lamps, cameras and prices are known ones.

    Raises
    ------
    InputError
        For the first that is not.
    """
    if ask.kind not in KINDS:
        raise InputError(
            "Unknown kind of lamp.", argument="kind", given=ask.kind, allowed=one_of(KINDS)
        )
    money.check(priced(ask))
    for name in ask.lights or ():
        find("lights", name, argument="lights")
    for name in ask.cameras or ():
        Camera.load(name)


def lighting(
    scene: Scene,
    camera: Camera,
    ask: Ask,
    *,
    money: Money | None = None,
    before: AsItIs | None = None,
    progress: Progress | None = None,
) -> Lighting:
    """Size a lamp for the task of a scene and judge what else would do.

    Illuminators of the scene are switched off; its lamps and its sky stay. `money` only rides along
    for the report. `before`, the scene without the lamp, is judged here if it is not given.

    Raises
    ------
    InputError
        For a place, beam, lamp or camera that is at fault.
    """
    say = progress or (lambda text, share: None)
    money = money or Money()
    check(ask, money)
    kind = KINDS[ask.kind]
    in_scene = placed(scene.model, camera.model)
    aim = ask.aim_m or tuple(round(float(x), 3) for x in target_point(in_scene, scene))
    assert len(aim) == 3
    beam = ask.beam_deg or beam_for(in_scene)
    name = free_name(scene)

    def sized_scene(intensity: float, beside: Sequence[float] = BESIDE_M) -> Scene:
        entry = lamp_entry(kind, name, intensity, beam, aim, ask.at_m, beside)
        return with_lamp(scene, entry)

    say("looking at the lamp's place", 0.01)
    unit_light = lamp_light(sized_scene(1.0), camera, name)
    first, last = (light / unit_light.on_target for light in (kind.first, kind.last))
    last = min(last, MOST_INTENSITY[kind.intensity_unit] / 2.5)
    others, left_out = other_cameras(camera, ask.cameras)
    before = before or as_it_is(scene, camera, seed=ask.seed, trials=ask.trials)
    unit = open_session(sized_scene(1.0), camera, seed=ask.seed)
    with open_pool(workers=ask.workers) as pool:
        tried = 0

        def noise(fresh: bool) -> tuple[int, int]:
            """Seed and repetitions."""
            return (ask.seed + FRESH_SEED, 2 * ask.trials) if fresh else (ask.seed, ask.trials)

        def job(of: Scene, with_: Camera = camera, whole: bool = False, fresh: bool = False) -> Job:
            return Job(of, with_, *noise(fresh), whole)

        def judge(values: Sequence[float], fresh: bool) -> list[Quick]:
            # one lamp at other strengths: all of them share what is traced
            nonlocal tried
            seed, trials = noise(fresh)
            judged = []
            for value in values:
                lit = unit.relit(lamps={name: value}).with_seed(seed)
                judged.append(quick_of(lit, trials=trials))
                tried += 1
                say(f"seeking the least intensity, {tried} tried", min(0.5, 0.02 + 0.02 * tried))
            return judged

        ends = search(judge, first, last, scene.model.task.wanted_probability)
        chosen_scene = sized_scene(ends.chosen)
        on_sale = class_for(kind.name, ends.least, ends.upper, beam)
        say("pictures, lamps and other ways", 0.55)
        lamps = _lamps(scene, ask, aim)
        plan: list[tuple[Way | None, Job]] = [
            (None, job(chosen_scene, whole=True)),
            (None, job(sized_scene(2.0 * ends.chosen), whole=True)),
        ]
        plan += [(way, job(of, whole=True)) for way, of in lamps]
        lens = faster_lens(camera)
        dark = with_lamp(scene, None)
        nothing = Quick(0.0, 0.0, 0.0, "not legible", "day", 1.0, 0.0, 1.0, 0.0)
        plan.append((Way(FASTER, "lens", "", nothing), job(dark, lens, whole=True)))
        for other in others:
            way = Way(
                other.name, "camera", other.model.title, nothing,
                price=other.model.price,
            )  # fmt: skip
            plan.append((way, job(dark, other, whole=True)))
        results = pool.map(judge_job, [one for _, one in plan])
        say("lamps with the exposure held", 0.75)
        white = [(n, of) for n, (_, of) in enumerate(lamps) if washed(results[2 + n])]

        def judge_held(tries: Sequence[tuple[int, Camera]], fresh: bool) -> list[Quick]:
            return pool.map(
                judge_job, [job(white[k][1], with_, fresh, fresh) for k, with_ in tries]
            )

        judged_held = hold(camera, [results[2 + n] for n, _ in white], results[0], judge_held)
        held = [_held(lamps[n][0], q) for (n, _), q in zip(white, judged_held, strict=True)]
        bought = None
        if on_sale is not None:
            lamp, below = on_sale
            beside = BESIDE_M if ask.at_m is None else None
            entry = lamp.lamp.entry(name, aim, setting=lamp.setting, beside_m=beside, at_m=ask.at_m)
            lit = with_lamp(scene, entry)
            rest = rest_of_picture(open_session(lit, camera, seed=ask.seed))
            bought = Bought(lamp, below, judge_job(job(lit, fresh=True)), rest)
        places = []
        if ask.at_m is None:
            say("other places of the lamp", 0.85)
            there = pool.map(judge_job, [job(sized_scene(ends.chosen, p)) for p in OTHER_PLACES_M])
            places = [Place(p, q) for p, q in zip(OTHER_PLACES_M, there, strict=True)]
    flux = flux_of(ends.chosen, beam)
    power = flux / kind.output_per_watt
    eye = _eye(kind.colour, ends.chosen, ask.emitter_width_m)
    light = lamp_light(chosen_scene, camera, name)
    limits: tuple[Limit, ...] = ()
    if ends.verdict != "legible":
        say("asking what is in the way", 0.9)
        verdict = predict(chosen_scene, camera, ask.seed, remedies=False, tolerances=False).verdict
        limits = verdict.limits
    fresh = ends.fresh
    shown = replace(
        results[0], probability=fresh.probability, probability_low=fresh.probability_low,
        probability_high=fresh.probability_high, verdict=fresh.verdict,
    )  # fmt: skip
    sized = Way(
        SIZED, "sized", "", shown, power, ends.chosen, kind.intensity_unit, eye
    )  # fmt: skip
    without = Way("as-it-is", "as it is", "", before.dark)
    ways = [
        replace(way, judged=q)
        for (way, _), q in zip(plan[2:], results[2:], strict=True)
        if way is not None
    ] + held
    say("done", 1.0)
    return Lighting(
        scene,
        camera,
        ask,
        kind,
        beam,
        field_angle_deg(in_scene),
        aim,
        ends,
        chosen_scene,
        light,
        flux,
        power,
        eye,
        without,
        before.written,
        sized,
        results[1],
        ways,
        places,
        limits,
        left_out,
        money,
        bought,
    )


def _held(lamp: Way, judged: Quick) -> Way:
    """A lamp with the camera's exposure held for the target."""
    return replace(
        lamp, name=f"{lamp.name}, held", sort="held", judged=judged, bought=lamp.name,
    )  # fmt: skip


def _eye(colour: Mapping[str, Any], intensity: float, width_m: float) -> EyeSafety | None:
    """The estimate for an infrared lamp; None for one that can be seen."""
    peak = colour.get("wavelength_nm")
    if peak is None or peak < 780.0:
        return None
    return assess_infrared(
        intensity, emitter_width_m=width_m, wavelength_nm=peak,
        bandwidth_nm=colour.get("bandwidth_nm", 35.0),
    )  # fmt: skip


def _lamps(scene: Scene, ask: Ask, aim: Sequence[float]) -> list[tuple[Way, Scene]]:
    """Lamps to stand beside the sized one, each in its place, and their scenes."""
    nothing = Quick(0.0, 0.0, 0.0, "not legible", "day", 1.0, 0.0, 1.0, 0.0)
    out = []
    for use in bundled_names("lights") if ask.lights is None else ask.lights:
        name = free_name(scene)
        with_it = with_lamp(scene, profile_entry(use, name, aim, ask.at_m))
        model = next(light for light in with_it.model.illuminator if light.name == name)
        intensity = axis_intensity(build_world(with_it.model), name)
        colour = {"wavelength_nm": model.wavelength_nm, "bandwidth_nm": model.bandwidth_nm}
        way = Way(
            Path(use).stem, "lamp", model.title or use, nothing, model.electrical_power_w or 0.0,
            intensity, "cd" if model.wavelength_nm is None else "W/sr",
            _eye(colour, intensity, model.emitter_width_m),
        )  # fmt: skip
        out.append((way, with_it))
    return out
