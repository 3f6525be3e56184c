"""Rolling shutter against geometry and the mains: period of flicker bands, lean of moving edges.

A row is exposed a line time after the one above it. Light that swings at twice the mains frequency
f then repeats every 1 / (2 f line time) rows, and a vertical edge that moves sideways at v pixels a
second leans by atan(v line time) (both by the definition of the line time; amplitude of the band
depth x sinc(2 f T) for an exposure T, the mean of a cosine over a box).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import curve_fit

from simulator.camera.light_field import frame_light
from simulator.camera.region import region_light
from simulator.camera.region_plan import RegionPlan
from simulator.camera.rolling import with_row_zero
from simulator.camera.sensor import expose
from simulator.camera.sensor_readout import readout

DEPTH = 0.8
WALL = {
    "name": "wall",
    "kind": "wall",
    "material": "grey-18",
    "position_m": [0.0, 17.5, 0.0],
    "width_m": 30.0,
    "height_m": 10.0,
}


def lamp(**changes):
    return {
        "name": "lamp",
        "spectrum": "led-4000k",
        "intensity_cd": 20_000.0,
        "beam_deg": 120.0,
        "position_m": [0.0, 0.0, 6.0],
        "aim_m": [0.0, 17.5, 1.0],
        "flicker_depth": DEPTH,
        "phase_deg": 25.0,
        **changes,
    }


def rows_of(in_scene, shutter_s):
    """Mean signal of every row of a raw frame, noise and all [DN]."""
    sensor = in_scene.camera.sensor
    chain = readout(sensor, 0.0)
    rate = frame_light(in_scene, "day", shutter_s).rate
    shot = expose(rate * (60.0 / shutter_s / 150.0), shutter_s, sensor, chain, seed=3)[0]
    return shot.astype(np.float64).mean(axis=1) - chain.black_dn


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("mains_hz", "line_us", "shutter_s"),
    [(50, 150.0, 1e-3), (60, 150.0, 1 / 250), (50, 90.0, 1 / 125), (60, 400.0, 2e-4)],
)
def test_period_and_depth_of_flicker_bands(
    make_in_scene, make_scene, make_camera, mains_hz, line_us, shutter_s
):
    rolling = make_camera(
        sensor={"shutter": "rolling", "line_time_us": line_us, "full_well_e": 60_000.0}
    )
    steady = make_in_scene(make_scene(surface=[WALL], lamp=[lamp(flicker_depth=0.0)]), rolling)
    in_scene = make_in_scene(make_scene(surface=[WALL], lamp=[lamp(mains_hz=mains_hz)]), rolling)
    ratio = rows_of(in_scene, shutter_s) / rows_of(steady, shutter_s)
    y = np.arange(len(ratio)) + 0.5

    def wave(y, period, depth, phase):
        return 1.0 + depth * np.cos(2.0 * np.pi * y / period + phase)

    # where to start: the highest peak of the spectrum
    spectrum = np.abs(np.fft.rfft(ratio - 1.0, 8192))
    start = 8192 / (1 + int(np.argmax(spectrum[1:])))
    found, _ = curve_fit(wave, y, ratio, p0=[start, 0.3, 0.0])
    wanted = 1.0 / (2.0 * mains_hz * line_us * 1e-6)
    assert found[0] == pytest.approx(wanted, abs=max(0.01 * wanted, 0.2))
    swing = DEPTH * abs(np.sinc(2.0 * mains_hz * shutter_s))
    assert abs(found[1]) == pytest.approx(swing, rel=0.01, abs=0.002)
    assert np.std(ratio - wave(y, *found)) < 0.01


def edge_places(picture, level):
    """Place of the left edge of a bright thing in every row, by the half level [px]."""
    out = []
    for row in picture:
        i = int(np.argmax(row > level))
        out.append(i - 0.5 + (level - row[i - 1]) / (row[i] - row[i - 1]))
    return np.array(out)


@pytest.mark.by_hand
@pytest.mark.parametrize(("speed_kmh", "line_us"), [(60.0, 100.0), (-40.0, 60.0), (25.0, 150.0)])
@pytest.mark.parametrize("fine", [False, True])
def test_lean_of_a_moving_edge(make_in_scene, make_scene, make_camera, speed_kmh, line_us, fine):
    scene = make_scene(
        natural_light={"illuminance_lux": 500.0},
        surface=[{**WALL, "material": "black-4", "position_m": [0.0, 19.0, 0.0]}],
        plate={
            "text": "I1",
            "speed_kmh": abs(speed_kmh),
            "heading_deg": 90.0 if speed_kmh > 0 else -90.0,
        },
    )
    rows = np.arange(82, 98)  # clear of the plate's upper and lower edge, 25 px apart

    def line(shutter: str) -> tuple[float, float, float]:
        """Slope of the left edge, its place in the middle row, and the plate's speed [m/s]."""
        camera = make_camera(sensor={"shutter": shutter, "line_time_us": line_us})
        in_scene = with_row_zero(make_in_scene(scene, camera), "plate")
        light = frame_light(in_scene, "day", 2e-5)
        x0, y0, x1, y1 = 20, 70, 300, 110
        picture = light.rate[y0:y1, x0:x1]
        card = in_scene.world.cards[in_scene.world.plates["plate"]]
        if fine:
            plan = RegionPlan((x0, y0, x1, y1), 24, 4, card.centre_m, 550.0)
            picture = region_light(in_scene, "day", 2e-5, plan, light.stray_light)
        picture = picture[rows - y0, :, 1]
        places = edge_places(picture, 0.5 * float(picture.max()))
        slope, middle = np.polyfit(rows + 0.5 - 90.0, places, 1)
        return slope, middle, float(in_scene.world.velocities[card.group][0])

    slope, middle, speed = line("rolling")
    upright, still, _ = line("global")
    lens, sensor = make_camera().lens, make_camera().sensor
    f_m = lens.focal_length_mm * 1e-3
    focus_m = make_in_scene(scene).focus_m
    image_m = f_m * focus_m / (focus_m - f_m)
    assert abs(speed) == pytest.approx(abs(speed_kmh) / 3.6)
    v_px_s = speed / 18.0 * image_m / (sensor.pixel_pitch_um * 1e-6)
    lean = np.degrees(np.arctan(slope))
    assert lean == pytest.approx(np.degrees(np.arctan(v_px_s * line_us * 1e-6)), rel=0.01, abs=0.05)
    assert upright == pytest.approx(0.0, abs=1e-3)
    # the target's own row, 90 px down, shows it where it is at the frame's moment
    assert middle == pytest.approx(still, abs=0.05)
