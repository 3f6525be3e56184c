"""All lessons by name: scene, camera, series of values, figures.

A new lesson is an entry here and a template of its name in report/wording/templates/lessons.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.bench.trails import measure_trail
from simulator.camera.sensor_readout import readout
from simulator.errors import NameNotFoundError
from simulator.judge.density import density_class
from simulator.scene.targets.plate import plate_design
from simulator.studies.lessons.lesson import Figures, Lesson, Step, View, series
from simulator.validation import nearest_choice

BAR_CONTRAST = 1.0
"""The bar whose trail is measured is twice as bright as its ground."""
FASTEST_PX = 8
FACE_M = 0.15
"""Width of a face [m], about (common knowledge)."""


def _backlight(view: View) -> Figures:
    ratios = [getattr(s, "luminance_ratio", None) for s in view.scene.model.surface]
    sensor, wide = view.camera.model.sensor, view.camera.model.wide_range
    return {
        "luminance_ratio": next(r for r in ratios if r is not None),
        # EMVA 1288, saturation and threshold simplified to full well and dark noise
        "sensor_range_db": 20.0 * math.log10(sensor.full_well_e / sensor.read_noise_e),
        "white_percent": 100.0 * view.seen.white_fraction,
        "wide": wide.method != "off",
        "exposures": wide.exposures,
        "exposure_ratio": wide.ratio,
    }


def _low_light(view: View) -> Figures:
    n, dark = view.seen.electrons, view.camera.model.sensor.read_noise_e
    lux = view.scene.model.natural_light.illuminance_lux
    assert lux is not None
    return {
        "snr": n / math.sqrt(n + dark**2),
        "read_noise_e": dark,
        "electrons_per_lux_s": n / view.judged.shutter_s / lux,
    }


def _motion(view: View) -> Figures:
    speed = view.target.speed_kmh / 3.6
    drop = view.scene.model.station.height_m - view.target.position_m[2]
    moved = speed * view.judged.shutter_s * view.scale_px / view.depth_m
    return {
        "speed_m_s": speed,
        "drop_m": drop,
        "depth_m": view.depth_m,
        "scale_px": view.scale_px,
        "towards_px": moved * drop / view.depth_m,
        "across_px": moved,
        "stroke_px": plate_design(view.target.design).stroke_mm / 1e3 * view.seen.pixels_per_m,
    }


def _pixels(view: View) -> Figures:
    high_m = plate_design(view.target.design).character_height_mm / 1e3
    return {
        "field_m": view.camera.model.sensor.width_px / view.seen.pixels_per_m,
        "formula_px": view.scale_px * high_m / view.depth_m,
        "depth_m": view.depth_m,
        "density_class": density_class(view.seen.pixels_per_m).density_class,
    }


def _infrared(view: View) -> Figures:
    lamp = view.scene.model.illuminator[0]
    place = next(x.position_m for x in view.in_scene.world.lights if x.name == lamp.name)
    assert lamp.radiant_intensity_w_per_sr is not None
    assert place is not None
    distance = math.dist(place, view.centre_m)
    to_lamp, to_lens = (
        np.asarray(one) - view.centre_m for one in (place, view.in_scene.view.position_m)
    )
    cosine = to_lamp @ to_lens / (np.linalg.norm(to_lamp) * np.linalg.norm(to_lens))
    return {
        "observation_deg": math.degrees(math.acos(min(1.0, float(cosine)))),
        "white_percent": 100.0 * view.seen.clipped_fraction,
        "distance_m": distance,
        "beam_w_m2": lamp.radiant_intensity_w_per_sr / distance**2,
    }


def _noise_reduction(view: View) -> Figures:
    """Trail of a bar at the walker's pace and exposure, and what the filter alone would do."""
    camera, judged = view.camera.model, view.judged
    rate, share = camera.processing.frame_rate_hz, camera.processing.temporal_noise_reduction
    pace = judged.motion_blur_px / judged.shutter_s / rate
    white_e = readout(camera.sensor, judged.gain_db).white_e
    trail = measure_trail(
        camera,
        level=max(1e-4, view.seen.electrons / white_e / (1.0 + BAR_CONTRAST)),
        contrast=BAR_CONTRAST,
        speed_px=min(FASTEST_PX, max(1, round(pace))),
        shutter_s=judged.shutter_s,
        gain_db=judged.gain_db,
    )
    tenth = math.log(0.1) / math.log(share) if share > 0.0 else 0.0
    return {
        "trail_px": trail.length_px,
        "trail_frames": trail.frames,
        "share": share,
        # first-order recursive filter (Oppenheim and Schafer, Discrete-Time Signal Processing)
        "filter_noise": math.sqrt((1.0 - share) / (1.0 + share)),
        "tenth_frames": tenth,
        "tenth_s": tenth / rate,
        "half_face_px": FACE_M * view.seen.pixels_per_m / 2.0,
    }


_METERING = "exposure.metering"
_INTENSITY = "illuminator.mast infrared.radiant_intensity_w_per_sr"
LESSONS = {
    lesson.name: lesson
    for lesson in (
        Lesson(
            "backlight", "doorway-noon", "fixed-2mp-lowlight", _METERING,
            (
                Step("average metering", (f"{_METERING}=average",)),
                Step("centre metering", (f"{_METERING}=centre",)),
                Step("backlight compensation", (f"{_METERING}=backlight",)),
                Step("wide dynamic range", (f"{_METERING}=average", "wide_range.method=exposures")),
            ),
            "", ("mean_level", "white_percent"),
            # the window is the visitor from head to hands
            # a street in the sun beyond a dim hall
            ("scene.title=Hall with the door open on a sunlit street",
             "surface.doorway.luminance_ratio=400", "exposure.window=[0.45,0.45,0.55,0.9]"),
            _backlight,
        ),
        Lesson(
            "low-light", "car-park-led", "fixed-2mp-lowlight", "natural_light.illuminance_lux",
            series("natural_light.illuminance_lux", (300, 100, 30, 10, 3, 1, 0.3, 0.1)),
            "lx", ("success_percent", "noise_temporal_levels"),
            ("scene.title=Car park in falling daylight", "lamp.mast left.on=false",
             "lamp.mast right.on=false", "natural_light.spectrum=daylight"),
            _low_light,
        ),
        Lesson(
            "motion", "depot-gate-infrared", "plate-2mp-infrared", "exposure.shutter_s",
            series("exposure.shutter_s", [1 / n for n in (1000, 500, 250, 125, 60, 30)]),
            "s", ("success_percent", "motion_blur_px"),
            ("target.plate.speed_kmh=30.0", "scene.title=Fruit depot gate at dusk, no lamp",
             "natural_light.illuminance_lux=100.0", "natural_light.spectrum=daylight",
             "illuminator.mast infrared.on=false", "exposure.metering=average"),
            _motion,
        ),
        Lesson(
            "pixels", "yard-noon", "fixed-2mp-lowlight", "lens.focal_length_mm",
            series("lens.focal_length_mm", (5, 7, 10, 14, 20, 35)),
            "mm", ("success_percent", "character_height_px"),
            ("lens.f_number=4.0", "lens.focus_m=27.0", "target.plate.speed_kmh=0.0",
             "station.ground_position_m=[0.0,-8.0]"),
            _pixels,
        ),
        Lesson(
            "infrared", "depot-gate-infrared", "plate-2mp-infrared", _INTENSITY,
            series(_INTENSITY, (0.03, 0.1, 0.3, 1, 3, 10, 30, 100)),
            "W/sr", ("success_percent", "white_percent"), (), _infrared,
        ),
        Lesson(
            "noise-reduction", "car-park-led", "fixed-2mp-lowlight",
            "processing.temporal_noise_reduction",
            series("processing.temporal_noise_reduction", (0, 20, 40, 50, 60, 70), factor=0.01),
            "%", ("noise_temporal_levels", "trail_px"),
            ("task.target=passer-by", "task.name=recognise", "target.passer-by.speed_kmh=3.0",
             "target.passer-by.heading_deg=90.0", "lamp.mast left.on=false",
             "lamp.mast right.dimming=0.12", "sensor.width_px=960", "sensor.height_px=540",
             "station.aim_m=[2.5, 17.0, 0.9]", "exposure.shutter_s=0.01"),
            _noise_reduction, judged=False, log=False,
        ),
    )
}  # fmt: skip


def find_lesson(name: str) -> Lesson:
    """A lesson by its name.

    Raises
    ------
    NameNotFoundError
        If there is none of that name.
    """
    if name not in LESSONS:
        near = nearest_choice(name, LESSONS)
        raise NameNotFoundError(
            "There is no such lesson.",
            key="lesson",
            given=name,
            allowed=", ".join(LESSONS),
            fix=f"did you mean {near[0]}?" if near else "name one of these",
        )
    return LESSONS[name]
