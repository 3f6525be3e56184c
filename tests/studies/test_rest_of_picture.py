"""What a change does to the rest of the picture: told from the picture itself."""

from __future__ import annotations

import numpy as np
import pytest
from bare import bare

from simulator.camera.frame_buffer import frame_buffer
from simulator.camera.recording import recorded
from simulator.messages import Message
from simulator.studies.overrides import load_pair
from simulator.studies.remedies.evaluator import Evaluator
from simulator.studies.remedies.lever import Site
from simulator.studies.remedies.rest_of_picture import Rest, rest_of_picture
from simulator.studies.remedies.side_effects import _rest, side_effects

SMALL = ("sensor.width_px=960", "sensor.height_px=540", "sensor.pixel_pitch_um=5.8",
         "processing.temporal_noise_reduction=0")  # fmt: skip


def looks_at(scene, camera, *sets):
    pair = load_pair(scene, camera, (*SMALL, *sets))
    return Evaluator(Site(*pair, None, None, None), 0, 9)


def from_the_whole_picture(site):
    """Mean luma, white and black share of every pixel outside the target's box."""
    buffer, _ = frame_buffer(site.in_scene, site.state)
    frame = recorded(site.in_scene, site.state, buffer, seed=3)[0].astype(float)
    x0, y0, x1, y1 = site.part.box_px
    mask = np.ones(frame.shape[:2], dtype=bool)
    mask[y0:y1, x0:x1] = False
    pixels = frame[mask]
    luma = pixels @ np.array([0.2126, 0.7152, 0.0722])
    return Rest(
        luma.mean(), np.mean(pixels.min(axis=1) >= 250), np.mean(pixels.max(axis=1) <= 5)
    )  # fmt: skip


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("scene", "camera"),
    [
        (bare("depot-gate-infrared"), "fixed-2mp-lowlight"),
        ("doorway-noon", "doorway-2mp-wide"),  # a wide range with local tone mapping
        ("reception-window", "fixed-2mp-lowlight"),
    ],
)
def test_the_coarse_picture_has_the_levels_of_the_whole_one(scene, camera):
    site = looks_at(scene, camera).settled(())
    coarse, whole = rest_of_picture(site), from_the_whole_picture(site)
    assert coarse.mean_level == pytest.approx(whole.mean_level, abs=2.0)
    assert coarse.white_fraction == pytest.approx(whole.white_fraction, abs=0.02)
    assert coarse.black_fraction == pytest.approx(whole.black_fraction, abs=0.05)


@pytest.mark.invariant
def test_a_metering_window_tells_what_becomes_of_the_rest():
    """The plate throws infrared back; metered on it alone, all else goes black."""
    # while the truck stands: what passes through such a window is gone before the loop is there
    evaluator = looks_at(
        bare("depot-gate-infrared"), "fixed-2mp-lowlight", "target.plate.speed_kmh=0"
    )
    before = evaluator.settled(())
    x0, y0, x1, y1 = before.part.box_px
    window = [round(x0 / 960, 4), round(y0 / 540, 4), round(x1 / 960, 4), round(y1 / 540, 4)]
    after = evaluator.settled(("exposure.metering=spot", f"exposure.window={window}"))
    told = {message.id: message.values for message in side_effects(before, after)}
    a, b = from_the_whole_picture(before), from_the_whole_picture(after)
    assert b.mean_level < 0.2 * a.mean_level and b.black_fraction > 0.8
    levels = told["effect.rest-level"]
    assert levels["after"] == pytest.approx(b.mean_level, abs=2.5)
    assert levels["before"] == pytest.approx(a.mean_level, abs=2.5)
    assert told["effect.rest-black"]["after"] == pytest.approx(b.black_fraction, abs=0.05)


@pytest.mark.by_hand
def test_only_what_changes_is_told():
    assert _rest(Rest(118.0, 0.0, 0.0), Rest(120.0, 0.04, 0.0)) == []
    assert _rest(Rest(118.4, 0.12, 0.0), Rest(60.6, 0.0, 0.31)) == [
        Message("effect.rest-level", {"before": 118.4, "after": 60.6}),
        Message("effect.rest-white", {"before": 0.12, "after": 0.0}),
        Message("effect.rest-black", {"before": 0.0, "after": 0.31}),
    ]


@pytest.mark.invariant
def test_another_field_of_view_is_told_as_such_alone():
    evaluator = looks_at("doorway-noon", "doorway-2mp-wide")
    told = side_effects(
        evaluator.settled(()), evaluator.settled(("lens.focal_length_mm=8.5", "lens.f_number=2.21"))
    )
    assert told[0].id == "effect.field-width"
    assert not any(message.id.startswith("effect.rest") for message in told)
