"""The prediction: its keys, its values, its seed, its threads, its errors."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from simulator import Camera, Scene, predict
from simulator.errors import GeometryError, InputError, NoLightError
from simulator.judge.impairments import of_task
from simulator.judge.named_figures import FIGURES
from simulator.judge.result import Verdict
from simulator.messages import Message
from simulator.studies import predict as study
from simulator.studies.overrides import load_pair

SHORT = {"remedies": False, "tolerances": False}
"""What these checks do not need and what takes longest."""

SMALL = (
    "sensor.width_px=480",
    "sensor.height_px=270",
    "lens.focal_length_mm=12",
    "processing.temporal_noise_reduction=0",
)

# keys of verdict.json as the design settles them
DOCUMENTED = {
    "": {
        "schema_version", "scene", "camera", "seed", "exposure", "geometry", "signal", "target",
        "task", "verdict", "probability", "probability_low", "probability_high", "limits",
        "remedies", "cautions", "conditions",
    },
    "exposure": {"mode", "shutter_s", "gain_db", "f_number", "metering", "limited_by"},
    "geometry": {"distance_m", "pixels_per_m", "field_width_m", "density_class"},
    "signal": {
        "illuminance_lux", "irradiance_w_m2", "contrast_ratio", "electrons_light",
        "electrons_dark", "snr_db", "modulation", "clipped_fraction", "motion_blur_px",
        "effective_pixels_per_m",
    },
    "target": {"kind", "text", "box_px", "character_height_px"},
    "task": {"name", "wanted_probability"},
    "limits": {"factor", "probability_without"},
}  # fmt: skip
# keys that stand there besides; a new one belongs in this list and in docs/glossary.md
EXTRA = {
    "": {
        "title",
        "question",
        "input_hash",
        "versions",
        "trials",
        "reading",
        "targets",
        "stream",
        "sentences",
        "messages",
        "probability_sampling_low",
        "probability_sampling_high",
        "tolerance_draws",
        "sensitivity",
        "to_settle",
        "probability_all_fixed",
        "reserve",
    },
    "exposure": {"estimated_lux", "accumulated_frames"},
    "geometry": {"density_edition", "density_class_2025", "density_edition_2025"},
    "limits": {"probability_only", "share", "meaning", "together_with", "probability_together"},
    "target": {
        "name",
        "cycles",
        "drawing_kept",
        "colour",
        "probability_by_cycles",
        "frames_of_pass",
        "probability_over_pass",
    },
    "signal": {figure.name for figure in FIGURES if figure.key.startswith("signal.")},
}
TARGETS = {
    "name", "kind", "text", "box_px", "distance_m", "pixels_per_m", "density_class",
    "density_class_2025", "mean_level", "contrast_to_surround", "clipped_fraction",
    "crushed_fraction", "illuminance_lux", "probability",
}  # fmt: skip


@pytest.fixture(scope="module")
def dark():
    """A small camera before the dark gate: not legible, so that limits are there."""
    return study.predict(
        *load_pair("depot-gate-dark", "fixed-2mp-lowlight", SMALL),
        seed=7,
        trials=24,
        **SHORT,
    )


def _every_key_path(value, path=""):
    if isinstance(value, dict):
        for key, part in value.items():
            yield f"{path}.{key}".strip(".")
            yield from _every_key_path(part, f"{path}.{key}")
    elif isinstance(value, list):
        for part in value:
            yield from _every_key_path(part, path)


@pytest.mark.regression
def test_keys_are_those_of_the_design(dark):
    verdict = dark.verdict.to_dict()
    assert next(iter(verdict)) == "schema_version"
    assert set(verdict) == DOCUMENTED[""] | EXTRA[""]
    for table in ("exposure", "geometry", "signal", "target", "task"):
        assert set(verdict[table]) == DOCUMENTED[table] | EXTRA.get(table, set()), table
    assert [row["name"] for row in verdict["targets"]] == ["plate", "truck"]
    for row in verdict["targets"]:
        assert set(row) == TARGETS
    assert verdict["limits"]
    for row in verdict["limits"]:
        assert set(row) == DOCUMENTED["limits"] | EXTRA["limits"]


def _values(verdict):
    """Keys of the values of messages: each is explained by its text."""
    own = verdict.messages
    changes = [m for row in verdict.remedies for m in row.messages.side_effects]
    return {key for m in (*own.cautions, *own.conditions, *changes) for key in m.values}


@pytest.mark.regression
def test_every_key_stands_in_the_glossary(dark):
    text = (Path(__file__).parents[2] / "docs" / "glossary.md").read_text(encoding="utf-8")
    names = {path.rsplit(".", 1)[-1] for path in _every_key_path(dark.verdict.to_dict())}
    names -= {*dark.verdict.versions, *_values(dark.verdict)}
    missing = sorted(name for name in names if f"`{name}`" not in text)
    assert missing == []


def _numbers(value):
    if isinstance(value, dict):
        for part in value.values():
            yield from _numbers(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from _numbers(part)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield value


@pytest.mark.invariant
def test_values_are_plain_and_finite(dark):
    table = dark.verdict.to_dict()
    assert json.loads(dark.verdict.to_json()) == table
    numbers = list(_numbers(table))
    assert len(numbers) > 30
    assert all(math.isfinite(number) for number in numbers)


@pytest.mark.invariant
def test_parts_agree_with_each_other(dark):
    v = dark.verdict
    assert 0.0 <= v.probability_low <= v.probability <= v.probability_high <= 1.0
    assert v.seed == 7
    x0, y0, x1, y1 = v.target.box_px
    assert 0 <= x0 < x1 <= 480 and 0 <= y0 < y1 <= 270
    # a plate of 520 mm that faces the camera
    per_m = v.geometry.pixels_per_m
    assert x1 - x0 == pytest.approx(0.52 * per_m, abs=2.0)
    assert v.geometry.field_width_m * per_m == pytest.approx(480.0)
    assert v.target.character_height_px == pytest.approx(0.075 * per_m, rel=0.05)
    assert v.signal.effective_pixels_per_m <= per_m
    assert v.signal.electrons_dark <= v.signal.electrons_light
    # .05 lx on the ground: the plate sees half the sky and the road
    assert 0.025 < v.signal.illuminance_lux < 0.04


@pytest.mark.invariant
def test_the_list_of_targets_agrees_with_the_verdict(dark):
    v = dark.verdict
    plate, truck = v.targets
    assert plate.box_px == v.target.box_px
    assert plate.probability == v.probability
    for key in ("distance_m", "pixels_per_m", "density_class"):
        assert getattr(plate, key) == getattr(v.geometry, key)
    assert plate.illuminance_lux == pytest.approx(v.signal.illuminance_lux)
    assert truck.text is truck.probability is None
    # the truck holds its plate
    (a, b, c, d), (x0, y0, x1, y1) = truck.box_px, plate.box_px
    assert a < x0 and b < y0 and c > x1 and d > y1
    # level of the plate, by the corners' box without its rim
    inner = dark.frame[y0 + 1 : y1 - 1, x0 + 1 : x1 - 1] @ np.array([0.2126, 0.7152, 0.0722])
    assert plate.mean_level == pytest.approx(inner.mean(), abs=3.0)


@pytest.mark.invariant
@pytest.mark.parametrize("task", ["detect", "recognise", "identify"])
def test_other_tasks_are_judged_by_cycles(task):
    sets = (*SMALL, f"task.name={task}", "task.target=truck")
    result = study.predict(
        *load_pair("depot-gate-dark", "fixed-2mp-lowlight", sets),
        seed=3,
        **SHORT,
    )
    v = result.verdict
    assert v.task.name == task
    assert v.target.kind == "vehicle-front"
    assert v.target.character_height_px is None
    assert v.target.cycles > 0.0
    assert {row.factor for row in v.limits} in (set(), {one.name for one in of_task("read")})
    assert 0.0 <= v.probability_low <= v.probability <= v.probability_high <= 1.0
    judge = "condition.observer" if task == "detect" else "condition.target-metric"
    assert Message(judge) in v.messages.conditions
    assert Verdict.from_dict(json.loads(v.to_json())) == v
    # the plate beside it is read with fewer trials
    assert 0.0 <= v.targets[0].probability <= 1.0
    if task == "recognise":  # both judges have a say in it
        again = study.predict(
            *load_pair("depot-gate-dark", "fixed-2mp-lowlight", sets), seed=3, **SHORT
        )
        assert again.verdict == v


@pytest.mark.invariant
def test_only_text_is_read():
    with pytest.raises(InputError) as caught:
        load_pair("depot-gate-dark", "fixed-2mp-lowlight", ["task.target=truck"])
    assert caught.value.key == "task.target"
    assert "detect" in str(caught.value)
    with pytest.raises(InputError) as caught:
        load_pair("depot-gate-dark", "fixed-2mp-lowlight",
                  ["task.target=nobody", "task.name=detect"])  # fmt: skip
    assert "plate, truck" in str(caught.value)


@pytest.mark.invariant
def test_stages_fit_together(dark):
    shapes = {name: np.shape(value) for name, (value, _) in dark.stages.items()}
    assert shapes["rate"] == shapes["frame"] == (270, 480, 3)
    assert shapes["mosaic"] == (270, 480)
    assert all(unit for _, unit in dark.stages.values())
    assert dark.frame is dark.stages["frame"][0]
    # the finely traced patch stands in the whole picture
    x0, y0, x1, y1 = dark.verdict.target.box_px
    rate, region = dark.stages["rate"][0], dark.stages["region_rate"][0]
    top, left = (region.shape[0] - (y1 - y0)) // 2, (region.shape[1] - (x1 - x0)) // 2
    part = region[top : top + y1 - y0, left : left + x1 - x0]
    assert np.allclose(rate[y0:y1, x0:x1], part, rtol=1e-5)
    lights = dark.stages["lights"][0]
    assert [row.electrons_per_s for row in lights] == sorted(
        (row.electrons_per_s for row in lights), reverse=True
    )


@pytest.mark.invariant
def test_another_seed_gives_another_frame_of_the_same_light(dark):
    other = study.predict(
        *load_pair("depot-gate-dark", "fixed-2mp-lowlight", SMALL),
        seed=8,
        trials=24,
        **SHORT,
    )
    assert not np.array_equal(other.frame, dark.frame)
    assert np.array_equal(other.stages["rate"][0], dark.stages["rate"][0])
    assert other.verdict.input_hash == dark.verdict.input_hash


@pytest.mark.invariant
def test_three_lines_of_python(tmp_path):
    scene = Scene.load("depot-gate-infrared")
    result = predict(scene, Camera.load("plate-2mp-infrared"), seed=7, **SHORT)
    folder = result.save(tmp_path / "result")
    assert result.verdict.verdict in {"legible", "marginal", "not legible"}
    assert result.frame.shape == (1080, 1920, 3)
    assert Verdict.read(folder / "verdict.json") == result.verdict


RUN = """
import sys
import cv2
from simulator.api.prediction import Prediction
from simulator.studies.overrides import load_pair
from simulator.studies.predict import predict
cv2.setNumThreads(int(sys.argv[2]))
pair = load_pair("depot-gate-dark", "fixed-2mp-lowlight", sys.argv[3:])
result = predict(*pair, seed=7, trials=24, remedies=False, tolerances=False)
Prediction.of(result).save(sys.argv[1], raw=True)
"""


@pytest.mark.invariant
def test_same_seed_same_bytes_in_other_processes_and_threads(tmp_path):
    """Every file of the folder, limits included, from two processes with 1 and with 2 threads."""
    for name, threads in (("one", 1), ("two", 2)):
        subprocess.run(
            [sys.executable, "-c", RUN, str(tmp_path / name), str(threads), *SMALL],
            check=True, timeout=120, env={**os.environ, "NUMBA_NUM_THREADS": str(threads)},
        )  # fmt: skip
    one = _bytes_of(tmp_path / "one")
    assert set(one) == {
        "frame.png", "target.png", "sheet.png", "sheet-2.png", "verdict.json", "raw.tiff",
        "electrons-per-second.tiff",
        "manifest.json",
        "inputs/scene.toml", "inputs/camera.toml", "inputs/run.json",
    }  # fmt: skip
    two = _bytes_of(tmp_path / "two")
    assert set(two) == set(one)
    assert [key for key in one if one[key] != two[key]] == []
    assert json.loads(one["verdict.json"])["limits"]


def _bytes_of(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("sets", "kind", "key"),
    [
        (["target.plate.position_m=[0.4,-5.0,0.5]"], GeometryError, "target.plate.position_m"),
        (["target.plate.position_m=[30.0,18.0,0.5]"], GeometryError, "target.plate.position_m"),
        (["target.plate.facing_deg=150"], GeometryError, "target.plate.facing_deg"),
        (["natural_light.illuminance_lux=0"], NoLightError, "natural_light.illuminance_lux"),
        (["target.plate.text=äö"], InputError, "target.plate.text"),
        (["natural_light.spectrum=candle"], InputError, "natural_light.spectrum"),
        (["surface.yard wall.position_m=[0.0,10.0,0.0]"], GeometryError, "target.plate.position_m"),
    ],
)  # fmt: skip
def test_errors_carry_file_and_key(sets, kind, key):
    pair = load_pair("depot-gate-dark", "fixed-2mp-lowlight", [*SMALL, *sets])
    with pytest.raises(kind) as caught:
        study.predict(*pair, seed=1, **SHORT)
    error = caught.value
    assert error.key == key
    assert Path(error.file).name == "depot-gate-dark.toml"
    assert error.given is not None
    assert error.allowed or error.fix
