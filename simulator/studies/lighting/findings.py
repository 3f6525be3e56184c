"""What the sizing of a lamp found, as messages: answer, reasons, what to do, what was assumed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from simulator.camera.load import Camera
from simulator.judge.impairments import IMPAIRMENTS
from simulator.light.darkness import Darkness
from simulator.messages import Message
from simulator.scene.load import Scene
from simulator.scene.model import Plate
from simulator.studies.lighting.costs import LEAST_GAIN
from simulator.studies.lighting.held import WASHED
from simulator.studies.lighting.lamps import BESIDE_M, edge_share
from simulator.studies.lighting.study import EMITTER_WIDTH_M, LED_END_SHARE, Lighting, Way
from simulator.studies.quick import Quick
from simulator.studies.remedies.rest_of_picture import BLACKENED

HOT_SPOT = 1.2
"""Light on another thing over that on the target from which on it is told (chosen by us)."""
LOST = 0.2
"""Loss of probability in another place from which on a lamp counts as wasted (chosen by us)."""
LEAST_SHARE = 0.05
"""Limits that cost less are not named (chosen by us)."""
TOUCHY = 4.0
"""A lamp that works only from some intensity to less than so many times as much is hard to set up
(assumed)."""


def about_plate(scene: Scene) -> bool:
    """Whether the task is about a plate, which throws light back."""
    task = scene.model.task.target
    return any(isinstance(t, Plate) and t.name == task for t in scene.model.target)


def clipped(way: Way) -> float:
    """Share of the target that is white."""
    return 0.0 if way.judged.seen is None else way.judged.seen.clipped_fraction


def reliable(way: Way) -> bool:
    """Whether even the low end of its interval reaches the target probability."""
    return way.judged.verdict == "legible"


def needed(lighting: Lighting) -> bool:
    """Whether the task takes a lamp at all."""
    return not reliable(lighting.before)


def _of_sort(lighting: Lighting, *sorts: str) -> list[Way]:
    return [w for w in lighting.ways if w.sort in sorts]


def _goal(scene: Scene) -> dict[str, Any]:
    task = scene.model.task
    return {"name": task.target, "task": task.name, "target": task.wanted_probability}


def _chances(judged: Quick) -> dict[str, Any]:
    return {
        "probability": judged.probability,
        "low": judged.probability_low,
        "high": judged.probability_high,
    }


def _lamp(lighting: Lighting) -> dict[str, Any]:
    """The sized lamp and its place."""
    kind = lighting.kind
    return {
        "kind": kind.name,
        "intensity": lighting.chosen,
        "unit": kind.intensity_unit,
        "beam_deg": lighting.beam_deg,
        "lumens": None if kind.infrared else lighting.flux,  # white lamps are sold by their lumens
        "output_per_watt": kind.output_per_watt,
        "at_m": lighting.ask.at_m,
        "beside_m": BESIDE_M,
    }


def _ways(ways: Sequence[Way]) -> dict[str, Any]:
    """Ways by the name they are bought by; shutter 0 where the exposure is automatic."""
    held = [w.sort == "held" for w in ways]
    return {
        "names": tuple(w.bought or w.name for w in ways),
        "shutters_s": tuple(
            w.judged.shutter_s if h else 0.0 for w, h in zip(ways, held, strict=True)
        ),
        "gains_db": tuple(w.judged.gain_db for w in ways),
    }


def place(lighting: Lighting) -> Message:
    """Where the sized lamp is."""
    return Message("lighting.place", _lamp(lighting))


def window(lighting: Lighting) -> Message:
    """Between which intensities a lamp works."""
    return Message("lighting.window", _window(lighting))


def _window(lighting: Lighting) -> dict[str, Any]:
    s = lighting.search
    return {
        "least": s.least,
        "weakest": s.least == s.points[0][0],
        "upper": s.upper,
        "fails": s.upper_fails,
        "strongest": s.points[-1][0],
        "unit": lighting.kind.intensity_unit,
    }


def held_instead(lighting: Lighting) -> Way | None:
    """The lamp of least power, of the kind that was asked for if there is one, that works with the
    exposure held, where the sized one is touchy: it works over less than `TOUCHY`."""
    s = lighting.search
    if s.least is None or s.upper is None or s.upper_fails is None or s.upper > TOUCHY * s.least:
        return None
    other_kind = {w.name: w.intensity_unit != lighting.kind.intensity_unit for w in lighting.ways}
    held = [w for w in _of_sort(lighting, "held") if reliable(w)]
    return min(held, key=lambda w: (other_kind[w.name], w.power_w), default=None)


def not_needed(scene: Scene, before: Quick) -> Message:
    """The answer where the task succeeds without a lamp."""
    return Message.of("lighting.not-needed", **_goal(scene), probability=before.probability)


def answer(lighting: Lighting) -> list[Message]:
    """The whole study in one to three sentences."""
    fresh, before = lighting.search.fresh, lighting.before.judged
    if not needed(lighting):
        return [not_needed(lighting.scene, before)]
    values = {
        **_goal(lighting.scene),
        **_lamp(lighting),
        **_chances(fresh),
        "without": before.probability,
    }
    if fresh.verdict == "legible":
        held = held_instead(lighting)
        if held is None:
            return [*_bought(lighting), Message("lighting.yes", values)]
        return [
            Message("lighting.yes-held", {**values, **_held(held)}),
            Message("lighting.or-automatic", values),
        ]
    out = [Message("lighting.not-reliable", values)]
    if lighting.search.least is None:
        out = [Message("lighting.none-works", values)]
        if fresh.probability >= LEAST_GAIN:
            out.append(Message("lighting.best", values))
    nouns = tuple(
        IMPAIRMENTS[row.factor].noun for row in lighting.limits if row.share > LEAST_SHARE
    )
    if nouns:
        out.append(Message.of("lighting.limits", nouns=nouns[:2]))
    instead = [w for w in lighting.ways if reliable(w)]
    if instead:
        out.append(Message("lighting.works-instead", _ways(instead[:1])))
    return out


def _held(way: Way) -> dict[str, Any]:
    """A lamp on sale with the exposure held."""
    return {
        "lamp_name": way.bought,
        "lamp_w": way.power_w,
        "shutter_s": way.judged.shutter_s,
        "gain_db": way.judged.gain_db,
        "probability": way.judged.probability,
    }


def _bought(lighting: Lighting) -> list[Message]:
    """The class of lamp to buy, watts, degrees and place first."""
    bought, least = lighting.bought, lighting.search.least
    if bought is None or least is None or bought.judged.verdict != "legible":
        return []
    lamp = bought.lamp
    values = {
        **_goal(lighting.scene), "kind": lighting.kind.name, "power_w": lamp.lamp.power_w,
        "beam_deg": lamp.lamp.beam_deg, "setting": lamp.setting, "at_m": lighting.ask.at_m,
        "beside_m": BESIDE_M, "intensity": lamp.intensity, "unit": lighting.kind.intensity_unit,
        "probability": bought.judged.probability, "times": lamp.intensity / least,
        "times_old": lamp.least_guaranteed / least,
    }  # fmt: skip
    out = [Message("lighting.class-below" if bought.below else "lighting.class", values)]
    if bought.rest.black_fraction >= BLACKENED:
        out.append(Message.of("specify.blackens", black=bought.rest.black_fraction))
    return out


def engineer(lighting: Lighting) -> Message:
    """The study in figures."""
    values = {**_lamp(lighting), **_window(lighting), **_chances(lighting.search.fresh)}
    return Message.of(
        "lighting.engineer", **values, without=lighting.before.judged.probability,
        on_target=lighting.light.on_target, light_unit=lighting.kind.light_unit,
        distance_m=lighting.light.distance_m, power_w=lighting.power_w
    )  # fmt: skip


def engineer_without(scene: Scene, before: Quick) -> Message:
    """The figures where the task succeeds without a lamp."""
    return Message.of("lighting.engineer-not-needed", **_goal(scene), **_chances(before))


def without(scene: Scene, before: Quick) -> Message:
    """Light, camera and success without the lamp."""
    assert before.seen is not None
    return Message.of(
        "lighting-why.without", name=scene.model.task.target,
        illuminance_lux=before.seen.illuminance_lux, mode=before.mode, shutter_s=before.shutter_s,
        gain_db=before.gain_db, probability=before.probability
    )  # fmt: skip


def with_own(scene: Scene, written: Quick) -> Message:
    """What the scene's own illuminators do."""
    own = tuple(light.name for light in scene.model.illuminator if light.on)
    return Message.of("lighting-why.own", names=own, probability=written.probability)


def reasons(lighting: Lighting) -> list[Message]:
    """Why: what was found, a message for each thing."""
    name = lighting.scene.model.task.target
    out = [without(lighting.scene, lighting.before.judged)]
    if lighting.written is not None:
        out.append(with_own(lighting.scene, lighting.written))
    tried = {"tried": len(lighting.search.points)}
    if lighting.search.least is None:
        out.append(Message("lighting-why.no-window", tried))
    else:
        out.append(Message.of("lighting-why.window", **_window(lighting), **tried))
    if lighting.twice.seen is not None:
        out.append(Message.of(
            "lighting-why.twice", name=name, white=clipped(lighting.sized),
            white_twice=lighting.twice.seen.clipped_fraction, probability=lighting.twice.probability
        ))  # fmt: skip
    return [*out, *_too_strong(lighting, name), *_elsewhere(lighting), *_beam(lighting, name),
            *_without_lamp(lighting)]  # fmt: skip


def _too_strong(lighting: Lighting, name: str) -> list[Message]:
    washed = [w for w in _of_sort(lighting, "lamp") if clipped(w) >= WASHED]
    out = []
    for key, works in (("washed-out", False), ("washed-yet-works", True)):
        names = tuple(w.name for w in washed if reliable(w) is works)
        if names:
            out.append(Message.of(f"lighting-why.{key}", names=names, share=WASHED, name=name))
    held = _of_sort(lighting, "held")
    if held:
        out.append(Message.of(
            "lighting-why.held", name=name, reliable=sum(map(reliable, held)), count=len(held)
        ))  # fmt: skip
    return out


def _elsewhere(lighting: Lighting) -> list[Message]:
    if not lighting.places:
        return []
    probabilities = tuple(p.judged.probability for p in lighting.places)
    out = [Message.of(
        "lighting-why.elsewhere", beside_m=tuple(p.beside_m[0] for p in lighting.places),
        probabilities=probabilities
    )]  # fmt: skip
    if (
        about_plate(lighting.scene)
        and min(probabilities) < lighting.search.fresh.probability - LOST
    ):
        out.append(Message("lighting-why.lost-on-plate"))
    return out


def _beam(lighting: Lighting, name: str) -> list[Message]:
    values = {
        "field_deg": lighting.field_deg,
        "beam_deg": lighting.beam_deg,
        "edge": edge_share(lighting.beam_deg, lighting.field_deg),
    }
    spots = [
        Message.of("lighting-why.hot-spot", spot=s.name, ratio=s.ratio, name=name)
        for s in lighting.light.hot_spots
        if s.ratio >= HOT_SPOT
    ]
    return [Message("lighting-why.beam", values), *spots]


def _without_lamp(lighting: Lighting) -> list[Message]:
    out = []
    for way in _of_sort(lighting, "lens", "camera"):
        values: dict[str, Any] = {"probability": way.judged.probability}
        if way.sort == "lens":
            values["f_number"] = way.judged.f_number
            out.append(Message("lighting-why.faster-lens", values))
        else:
            out.append(Message.of("lighting-why.other-camera", **values, camera=way.title))
    return out


def changes(lighting: Lighting) -> list[Message]:
    """What to do."""
    if not needed(lighting):
        worse = tuple(w.name for w in _of_sort(lighting, "lamp") if not reliable(w))
        out = [Message("lighting-change.leave-out")]
        if worse:
            out.append(Message.of("lighting-change.worse-with", names=worse))
        return out
    out = []
    if lighting.before.judged.probability >= lighting.scene.model.task.wanted_probability:
        out.append(Message("lighting-change.only-secures"))
    held = held_instead(lighting) if lighting.search.verdict == "legible" else None
    if held is not None:
        values = {
            **_lamp(lighting),
            **_held(held),
            "aim_m": lighting.aim_m,
            "power_w": lighting.power_w,
        }
        out += [
            Message("lighting-change.mount-held", values),
            Message("lighting-change.automatic-instead", values),
        ]
    elif lighting.search.least is not None:
        out += [
            Message.of(
                "lighting-change.mount",
                **_lamp(lighting),
                aim_m=lighting.aim_m,
                power_w=lighting.power_w,
            ),
            *_which_to_buy(lighting),
        ]
    works = [w for w in lighting.ways if reliable(w)]
    if works:
        alone = lighting.search.verdict != "legible"
        out.append(Message(f"lighting.works-{'instead' if alone else 'too'}", _ways(works)))
    return out


def _which_to_buy(lighting: Lighting) -> list[Message]:
    """Strength with reserve, beside the lamps that there are."""
    s, unit, out = lighting.search, lighting.kind.intensity_unit, []
    same = [w.intensity for w in _of_sort(lighting, "lamp")
            if w.intensity is not None and w.intensity_unit == unit]  # fmt: skip
    if same and lighting.chosen < min(same):
        bears = s.upper_fails is None or (s.upper is not None and s.upper >= min(same))
        out.append(Message.of(
            "lighting-change.weak-enough", weakest=min(same), unit=unit, stronger_works=bears
        ))  # fmt: skip
    aged = lighting.chosen / LED_END_SHARE
    out.append(Message.of(
        "lighting-change.ageing", share=LED_END_SHARE, aged=aged, unit=unit,
        lumens=None if lighting.kind.infrared else lighting.flux / LED_END_SHARE,
        fits=s.upper_fails is None or (s.upper is not None and aged <= s.upper)
    ))  # fmt: skip
    if s.least is not None and s.upper is not None and s.upper_fails is not None:
        # as far from the weak as from the strong end, as a ratio
        middle = math.sqrt(s.least * s.upper)
        out.append(Message.of(
            "lighting-change.reserve", middle=middle, unit=unit, factor=middle / s.least,
            plate=about_plate(lighting.scene)
        ))  # fmt: skip
    return out


def dark_hours(dark: Darkness | None) -> list[Message]:
    """How many hours are dark, if a place was given."""
    if dark is None:
        return []
    return [Message.of(
        "lighting-hour.dark", hours=dark.yearly_h, year=dark.year, latitude_deg=dark.latitude_deg,
        longitude_deg=dark.longitude_deg, below_deg=dark.below_deg
    )]  # fmt: skip


def of_camera(scene: Scene, camera: Camera) -> Message:
    """What of the camera is assumed."""
    assumed = sum(t.source == "assumed" for t in camera.tolerances.values())
    return Message.of("lighting-condition.camera", assumed=assumed, plate=about_plate(scene))


def conditions(lighting: Lighting) -> list[Message]:
    """What was assumed."""
    s, ask = lighting.search, lighting.ask
    sought: dict[str, Any] = {
        "first": s.points[0][0],
        "last": s.points[-1][0],
        "unit": lighting.kind.intensity_unit,
        "trials": ask.trials,
        "fresh": 2 * ask.trials,
    }
    out = [
        of_camera(lighting.scene, lighting.camera),
        Message("lighting-condition.sought", sought),
        Message("lighting-condition.beam", _lamp(lighting)),
        Message("lighting-condition.others"),
    ]
    if lighting.eye is not None:
        width = ask.emitter_width_m
        out.append(Message.of(
            "lighting-condition.emitter", width_mm=1e3 * width, assumed=width == EMITTER_WIDTH_M
        ))  # fmt: skip
    if _of_sort(lighting, "lens"):
        out.append(Message("lighting-condition.lens"))
    if lighting.money.dark is not None:
        out.append(Message("lighting-condition.darkness"))
    return [*out, *lighting.left_out]
