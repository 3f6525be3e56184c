"""What a specification says, as messages: answer, sheets of each way, direct answers."""

from __future__ import annotations

import math
from typing import NamedTuple

from simulator.light.eye_safety import assess_infrared
from simulator.messages import Message, Value
from simulator.scene.load import Scene
from simulator.studies import trade
from simulator.studies.lighting.eyes import estimate
from simulator.studies.remedies.rest_of_picture import BLACKENED
from simulator.studies.specify.hours import hours_message
from simulator.studies.specify.result import LensAnswer, Specification, Way, WideRangeAnswer

PASSES = 20
"""Passes that an acceptance test records."""
LEAST_PX, LEAST_DENSITY = 0.9, 0.9
"""Share of the predicted figure that the test asks for: lenses are set by hand."""
LEAST_CONTRAST = 0.4
"""Share of the predicted difference of levels below which something is wrong."""
EDGE_PX = 1.0


class Line(NamedTuple):
    """A labelled line of a sheet."""

    label: Message
    value: Message


def answer(specification: Specification) -> list[Message]:
    """The answer: the first way, and what must be known of it."""
    task = specification.scene.model.task
    if not specification.ways:
        out = [Message.of(
            "specify.none", target=task.wanted_probability, reserve=specification.ask.reserve
        )]  # fmt: skip
        if specification.failed:
            best = max(specification.failed, key=lambda one: one.best)
            out.append(Message.of("specify.best", family=best.family, probability=best.best))
        return out
    out = way_line(specification.scene, specification.ways[0])
    shown = next((way.overview for way in specification.ways if way.overview is not None), None)
    if shown is not None and shown is not specification.ways[0].overview:
        out.append(Message.of(
            "specify.overview-too", lens_mm=shown.design.lens_mm, black=shown.rest.black_fraction
        ))  # fmt: skip
    return out


def way_line(scene: Scene, way: Way) -> list[Message]:
    """A way in a sentence, with what it does to the rest of the picture if that is much."""
    design, proof, task = way.design, way.proof, scene.model.task
    lamp = design.lamp
    out = [Message.of(
        "specify.yes", lens_mm=design.lens_mm, shutter_s=design.shutter_s,
        gain_db=design.gain_cap_db, wide_range=design.wide_range,
        lamp_kind=None if lamp is None else lamp.lamp.kind_name,
        power_w=None if lamp is None else lamp.lamp.power_w,
        beam_deg=None if lamp is None else lamp.lamp.beam_deg,
        setting=1.0 if lamp is None else lamp.setting,
        nearer_m=None if design.mount is None else proof.distance_m,
        height_m=proof.height_m if design.mount is not None else None,
        task=task.name, probability=proof.probability, target=task.wanted_probability,
    )]  # fmt: skip
    if proof.rest.black_fraction >= BLACKENED:
        out.append(Message.of("specify.blackens", black=proof.rest.black_fraction))
    if way.overview is not None:
        second = way.overview.design
        out.append(Message.of(
            "specify.overview", lens_mm=second.lens_mm, shutter_s=second.shutter_s,
            gain_db=second.gain_cap_db, black=way.overview.rest.black_fraction,
        ))  # fmt: skip
    out += way.solved.notes
    if proof.word == "marginal":
        out.append(Message.of(
            "specify.marginal", low=proof.low, high=proof.high, target=task.wanted_probability
        ))  # fmt: skip
    return out


def part_asks(way: Way) -> list[tuple[Message, Message, float | None]]:
    """Parts list: what it is, what to ask the dealer for, the user's price."""
    design, proof = way.design, way.proof
    night = design.mode == "night"
    out: list[tuple[Message, Message, float | None]] = []
    for part in way.parts:
        name = Message(f"specify-part.{part.kind}")
        if part.kind == "camera":
            changed = bool(design.lens) and "lens.use" not in design.lens
            built_in = changed and "lens.focal_min_mm" in design.lens
            own = design.camera.model.lens
            zoom = "lens.use" not in design.lens and own.focal_max_mm > own.focal_min_mm
            values: dict[str, Value] = {
                "title": design.camera.model.title,
                "wide_range": design.wide_range,
                "night": night,
                "from_mm": own.focal_min_mm if zoom else None,
                "to_mm": own.focal_max_mm,
            }
            asked = (
                Message("specify-ask.camera-lens", {**values, "lens_mm": design.lens_mm})
                if built_in
                else Message("specify-ask.camera", values)
            )
        elif part.kind == "overview":
            assert way.overview is not None
            asked = Message.of("specify-ask.overview", lens_mm=way.overview.design.lens_mm)
        elif part.kind == "lens":
            asked = Message("specify-ask.lens")
        elif part.kind == "lamp":
            assert design.lamp is not None
            lamp = design.lamp.lamp
            asked = Message.of(
                "specify-ask.lamp", kind=lamp.kind_name, power_w=lamp.power_w,
                beam_deg=lamp.beam_deg, intensity=lamp.intensity, unit=lamp.kind.intensity_unit,
                lumens=lamp.luminous_flux_lm, tolerance=lamp.tolerance,
            )  # fmt: skip
        else:
            asked = Message.of(
                "specify-ask.mount", height_m=proof.height_m, distance_m=proof.distance_m
            )
        out.append((name, asked, part.price))
    return out


def settings(way: Way) -> list[Line]:
    """The settings sheet."""
    design, proof = way.design, way.proof
    own = design.camera.model.lens
    fixed = not design.lens and own.focal_min_mm == own.focal_max_mm
    lens = {"lens_mm": design.lens_mm, "field_m": proof.acceptance.field_width_m}
    gain = (
        Message.of("specify-setting.gain", gain_db=design.gain_cap_db)
        if design.gain_cap_db > 0.0
        else Message("specify-setting.gain-none")
    )
    method = design.camera.model.wide_range.method
    wide = "own" if method == "logarithmic" else "on" if design.wide_range else "off"
    shutter = "fixed" if design.fixed else "longest"
    metering = design.camera_changes.get(
        "exposure.metering", design.camera.model.exposure.metering
    )  # fmt: skip
    rows = [
        ("lens", Message("specify-setting.lens-fixed" if fixed else "specify-setting.lens", lens)),
        ("shutter", Message(f"specify-setting.shutter-{shutter}", {"shutter_s": design.shutter_s})),
        ("gain", gain),
        ("mode", Message(f"specify-setting.mode-{design.mode}")),
        ("wide-range", Message(f"specify-setting.wide-range-{wide}")),
        ("focus", Message.of(
            "specify-setting.focus", depth_m=proof.distance_m, night=design.mode == "night"
        )),
        ("noise", Message(f"specify-setting.noise-{'low' if design.moves else 'own'}")),
        ("metering", Message.of("specify-setting.metering", pattern=str(metering))),
    ]  # fmt: skip
    if design.lamp is not None:
        rows.append(("lamp", Message.of("specify-setting.lamp", setting=design.lamp.setting)))
    if way.overview is not None:
        second = way.overview.design
        rows.append(("overview", Message.of(
            "specify-setting.overview", lens_mm=second.lens_mm, shutter_s=second.shutter_s,
            gain_db=second.gain_cap_db, mode=second.mode, focus_m=proof.distance_m,
        )))  # fmt: skip
    return [Line(Message(f"specify-label.{name}"), value) for name, value in rows]


def mounting(specification: Specification, way: Way) -> list[Line]:
    """The mounting sheet."""
    design, proof = way.design, way.proof
    aim = specification.scene.model.station.aim_m if design.mount is None else design.mount.aim_m
    rows = [
        ("height", Message.of("specify-mount.height", height_m=proof.height_m)),
        ("distance", Message.of("specify-mount.distance", distance_m=proof.distance_m)),
        ("angles", Message.of(
            "specify-mount.angles", down_deg=proof.angles.down_deg,
            sideways_deg=abs(proof.angles.sideways_deg), usual=proof.angles.usual,
            most_deg=trade.MOST_TILT_DEG,
        )),
        ("aim", Message.of("specify-mount.aim", aim_m=aim)),
    ]  # fmt: skip
    if design.lamp is not None:
        rows.append(
            ("lamp-place", Message.of("specify-mount.lamp-place", beside_m=design.lamp_beside_m))
        )
    if way.overview is not None:
        rows.append(("overview", Message("specify-mount.overview")))
    return [Line(Message(f"specify-label.{name}"), value) for name, value in rows]


def acceptance(specification: Specification, way: Way) -> list[Message]:
    """What to film on the day, and the figures it must show."""
    a, proof, task = way.proof.acceptance, way.proof, specification.scene.model.task
    entry = next(t for t in specification.scene.model.target if t.name == task.target)
    least = math.ceil(task.wanted_probability * PASSES)
    out = [
        Message.of(
            "specify-test.film", lamp=way.design.lamp is not None, name=task.target,
            speed_kmh=entry.speed_kmh or None, distance_m=proof.distance_m, count=PASSES,
        ),
        Message.of("specify-test.succeed", task=task.name, least=least, count=PASSES),
    ]  # fmt: skip
    if a.character_px is not None:
        out.append(Message.of(
            "specify-test.characters", least_px=LEAST_PX * a.character_px,
            predicted_px=a.character_px,
        ))  # fmt: skip
    else:
        out.append(Message.of(
            "specify-test.density", least=LEAST_DENSITY * a.pixels_per_m, predicted=a.pixels_per_m
        ))  # fmt: skip
    out.append(Message.of(
        "specify-test.levels", bright=a.bright_level, dark=a.dark_level,
        least=LEAST_CONTRAST * (a.bright_level - a.dark_level), lamp=way.design.lamp is not None,
    ))  # fmt: skip
    if a.motion_blur_px > 0.0:
        out.append(Message.of("specify-test.blur", most_px=max(EDGE_PX, 2.0 * a.motion_blur_px)))
    out.append(Message.of(
        "specify-test.exposure", shutter_s=a.shutter_s, gain_db=a.gain_db, mode=a.mode
    ))  # fmt: skip
    return out


def record(specification: Specification, way: Way) -> list[Line]:
    """The figures of the acceptance test alone, as a form asks for them."""
    a, task = way.proof.acceptance, specification.scene.model.task
    rows = [("successes", Message.of(
        "specify-record.successes", least=math.ceil(task.wanted_probability * PASSES), count=PASSES
    ))]  # fmt: skip
    if a.character_px is not None:
        size = Message.of("specify-record.characters", least=LEAST_PX * a.character_px)
        rows.append(("characters", size))
    else:
        size = Message.of("specify-record.density", least=LEAST_DENSITY * a.pixels_per_m)
        rows.append(("density", size))
    rows.append(("levels", Message.of(
        "specify-record.levels", bright=a.bright_level, dark=a.dark_level
    )))  # fmt: skip
    if a.motion_blur_px > 0.0:
        blur = Message.of("specify-record.blur", most_px=max(EDGE_PX, 2.0 * a.motion_blur_px))
        rows.append(("blur", blur))
    rows.append(("exposure", Message.of(
        "specify-record.exposure", shutter_s=a.shutter_s, gain_db=a.gain_db, mode=a.mode
    )))  # fmt: skip
    return [Line(Message(f"specify-recorded.{name}"), value) for name, value in rows]


def rest(way: Way) -> list[Message]:
    """What it does to the rest of the picture."""
    r = way.proof.rest
    if way.overview is not None:
        second = way.overview.rest
        return [Message.of(
            "specify-rest.overview", first=r.black_fraction, level=second.mean_level,
            black=second.black_fraction, white=second.white_fraction,
        )]  # fmt: skip
    if r.black_fraction >= BLACKENED:
        return [Message.of("specify-rest.black", black=r.black_fraction)]
    return [Message.of(
        "specify-rest.same", level=r.mean_level, black=r.black_fraction, white=r.white_fraction
    )]  # fmt: skip


def reserves(way: Way) -> list[Message]:
    """How much each thing may get worse, alone."""
    reserve = way.proof.reserve
    if reserve is None:
        return []
    rows = (
        ("light", "darker_times", "times"),
        ("speed", "faster_to_kmh", "speed_kmh"),
        ("distance", "farther_to_m", "distance_m"),
        ("dirt", "dirt_share", "share"),
    )
    return [
        Message(f"specify-reserve.{name}", {key: value, "at_least": field in reserve.at_least})
        for name, field, key in rows
        if (value := getattr(reserve, field)) is not None
    ]


def lens_message(result: LensAnswer) -> Message:
    """Which lens."""
    if result.least_mm is None or result.most_mm is None or result.least_mm == result.most_mm:
        return Message.of("specify-answer.lens-only", chosen_mm=result.chosen_mm)
    return Message.of(
        "specify-answer.lens", chosen_mm=result.chosen_mm, least_mm=result.least_mm,
        most_mm=result.most_mm,
    )  # fmt: skip


def wide_range_message(result: WideRangeAnswer) -> Message:
    """Whether WDR is needed."""
    if not result.needed:
        return Message.of(
            "specify-answer.wide-range-not-needed", without=result.without,
            times=result.backlight_times_without, times_with=result.backlight_times_with,
            on=result.on and result.backlight,
        )  # fmt: skip
    if result.with_it is None or result.with_it < result.without + 0.05:
        return Message.of(
            "specify-answer.wide-range-lacking",
            without=result.without,
            with_it=result.with_it or 0.0,
        )
    return Message.of(
        "specify-answer.wide-range-needed", without=result.without, with_it=result.with_it,
        times=result.backlight_times_with,
    )  # fmt: skip


def conditions(specification: Specification) -> list[Message]:
    """What was assumed."""
    out = [hours_message(specification.ask.hours)] if specification.ask.hours else []
    out.append(Message.of("specify-condition.reserve", reserve=specification.ask.reserve))
    if specification.ways:
        proof = specification.ways[0].proof
        out.append(Message.of("specify-condition.proof", trials=proof.trials, draws=proof.draws))
    out.append(Message("specify-condition.classes"))
    if not specification.ask.prices:
        out.append(Message("specify-condition.no-prices"))
    return out


def eyes(way: Way) -> list[Message]:
    """The eye, for a way with a lamp."""
    lamp = way.design.lamp
    if lamp is None:
        return []
    if not lamp.lamp.kind.infrared:
        return [Message("lighting-eye.visible")]
    colour = lamp.lamp.kind.colour
    eye = assess_infrared(
        lamp.intensity * (1.0 + lamp.lamp.tolerance), emitter_width_m=lamp.lamp.emitter_width_m,
        wavelength_nm=float(colour["wavelength_nm"]), bandwidth_nm=float(colour["bandwidth_nm"]),
    )  # fmt: skip
    return [estimate(eye), Message("lighting-eye.defer")]
