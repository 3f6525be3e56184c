"""Axes, points, and a sweep that is interrupted and goes on."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from bare import bare

from simulator.errors import GeometryError, InputError
from simulator.report.sweep import crossings, findings
from simulator.studies import sweep as study
from simulator.studies.axes import Axis, parse_axis, set_text
from simulator.studies.kept import kept_file
from simulator.studies.sweep import Plan, sweep
from simulator.studies.tables import sweep_dataset

SMALL = (
    "sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6",
    "target.plate.speed_kmh=0.0", "processing.temporal_noise_reduction=0.0",
)  # fmt: skip


def plan(*axes: Axis, **changes) -> Plan:
    base = {"scene": bare("depot-gate-infrared"), "camera": "plate-2mp-infrared", "sets": SMALL,
            "axes": axes, "seed": 5, "trials": 24}  # fmt: skip
    return Plan(**{**base, **changes})


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("text", "values", "log"),
    [
        ("a.b=0:10:3", (0.0, 5.0, 10.0), False),
        ("a.b=0.01:100:log5", (0.01, 0.1, 1.0, 10.0, 100.0), True),
        ("a.b=0,20,40", (0, 20, 40), False),
        ("a.b=day,night", ("day", "night"), False),
        ("a.b=10:1:2", (10.0, 1.0), False),
    ],
)
def test_axes(text, values, log):
    axis = parse_axis(text)
    assert (axis.key, axis.values, axis.log) == ("a.b", pytest.approx(values)
            if axis.numeric else values, log)  # fmt: skip


@pytest.mark.invariant
@pytest.mark.parametrize(
    "text",
    ["a.b", "=1:2:3", "a=", "a=1:2", "a=1:2:x", "a=0:1:log3", "a=1:1:3", "a=1:2:1", "a=1,,2",
     "a=1,1", "a=x:2:3", "a=1:inf:3", "a=1:2:99999"],
)  # fmt: skip
def test_bad_axes_are_refused(text):
    with pytest.raises(InputError) as refused:
        parse_axis(text)
    assert refused.value.fix


@pytest.mark.invariant
def test_values_go_back_to_text():
    assert set_text("a", 5.0) == "a=5.0"
    assert set_text("a", True) == "a=true"
    assert set_text("a", 0.013) == "a=0.013"


@pytest.mark.invariant
def test_bad_points_are_refused_before_the_work():
    bad = plan(Axis("lens.focal_length_mm", (12.0, 500.0)))
    with pytest.raises(InputError):
        sweep(bad)
    twice = Axis("exposure.shutter_s", (0.001, 0.002))
    with pytest.raises(InputError, match="twice"):
        sweep(plan(twice, twice))


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("key", "value"),
    [("height", "abc"), ("station.height_m", 900), ("speed", -1), ("station.hight_m", 1),
     ("distance", "5 m"), ("lens.f_number", 0.6)],
)  # fmt: skip
def test_a_bad_value_of_an_axis_is_told_as_one(key, value):
    with pytest.raises(InputError) as refused:
        sweep(plan(Axis(key, (value, 2))))
    assert f"option:  --over {key}" in refused.value.text(command_line=True)
    with pytest.raises(InputError) as refused:  # what is set for all points is told as that
        sweep(plan(Axis("speed", (1, -1)), sets=(f"{key}={value}",)))
    assert "option:  --set" in refused.value.text(command_line=True)


@pytest.mark.by_hand
def test_a_point_that_cannot_be_imaged_is_named(tmp_path):
    keep = tmp_path / "points.jsonl"
    behind = plan(Axis("target.plate.position_m[1]", (-5.0, -6.0)), Axis("speed", (5, 6)))
    with pytest.raises(GeometryError) as refused:
        sweep(behind, keep=keep, workers=1)
    told = refused.value.text(command_line=True)
    assert "--over target.plate.position_m[1]=-5.0, speed=5" in told
    assert not keep.exists()  # no point was judged


@pytest.fixture(scope="module")
def swept():
    return sweep(
        plan(
            Axis("exposure.shutter_s", (0.0005, 0.005), True),
            Axis("processing.sharpening", (0.0, 1.0)),
        ),
        workers=1,
    )


@pytest.mark.invariant
def test_every_point_is_judged_and_labelled(swept):
    data = sweep_dataset(swept)
    assert data["probability"].shape == (2, 2)
    assert data["probability"].notnull().all()
    assert list(data["exposure_shutter_s"].values) == [0.0005, 0.005]
    np.testing.assert_allclose(data["shutter_s"].values[:, 0], [0.0005, 0.005])
    assert data["shutter_s"].attrs["units"] == "s"
    assert set(data["verdict"].values.ravel()) <= {"legible", "marginal", "not legible"}
    assert (data["probability_low"] <= data["probability"]).all()
    assert (data["probability"] <= data["probability_high"]).all()
    assert len(swept.pictures) == 2


@pytest.mark.invariant
def test_files_hold_what_was_found(swept, tmp_path):
    import xarray

    from simulator.report.sweep import save_sweep

    folder = save_sweep(tmp_path / "out", swept)
    with xarray.open_dataset(folder / "points.nc", engine="scipy") as data:
        np.testing.assert_allclose(data["probability"].values, swept.array("probability"))
    assert len((folder / "points.csv").read_text().splitlines()) == 5
    told = json.loads((folder / "verdict.json").read_text())
    assert len(told["points"]) == 4
    for name in ("chart.png", "strip.png"):
        assert (folder / name).stat().st_size > 10_000


@pytest.mark.by_hand
def test_the_crossing_of_the_target_is_interpolated_along_the_axis(swept):
    """0.4 at 1, 0.8 at 100 over a logarithmic axis: 0.6 lies half the way, at 10."""
    axis = Axis("natural_light.illuminance_lux", (1.0, 100.0, 10000.0), log=True)
    rows = {(i,): {"probability": p} for i, p in enumerate((0.4, 0.8, 1.0))}
    one = replace(swept, plan=replace(swept.plan, axes=(axis,)), rows=rows, wanted=0.6)
    assert crossings(one) == pytest.approx([10.0])
    told = findings(one)
    assert [m.id for m in told] == ["sweep.range", "sweep.crossings"]
    assert told[1].values["values"] == pytest.approx((10.0,))
    assert findings(replace(one, wanted=0.3))[1].id == "sweep.always"
    assert findings(replace(one, wanted=1.1))[1].id == "sweep.never"


@pytest.mark.invariant
def test_an_interrupted_sweep_goes_on_without_repeating(tmp_path, monkeypatch, swept):
    two = swept.plan
    keep = kept_file(tmp_path / "out")
    judged = []
    real = study._judge

    def stops(work):
        if len(judged) == 2:
            raise KeyboardInterrupt
        judged.append(work)
        return real(work)

    monkeypatch.setattr(study, "_judge", stops)
    with pytest.raises(KeyboardInterrupt):
        sweep(two, keep=keep, workers=1)
    assert len(keep.read_text().splitlines()) == 3
    again = []

    def goes_on(work):
        again.append(work[1:])
        return real(work)

    monkeypatch.setattr(study, "_judge", goes_on)
    whole = sweep(two, keep=keep, resume=True, workers=1)
    # points of the strip are made again for their picture alone; their row stays
    assert {index for index, picture in again if not picture} == {(1, 0)}
    np.testing.assert_array_equal(whole.array("probability"), swept.array("probability"))


@pytest.mark.invariant
def test_points_of_another_sweep_are_refused(tmp_path):
    keep = tmp_path / "kept.jsonl"
    keep.write_text('{"format": 1, "study": "sweep", "run": "another"}\n')
    with pytest.raises(InputError, match="another sweep"):
        sweep(plan(Axis("processing.sharpening", (0.0, 1.0))), keep=keep, resume=True, workers=1)


@pytest.mark.invariant
def test_limits_of_light_and_of_speed():
    """Without light nothing is read, in plenty all is; movement only ever takes away."""
    sets = (
        "sensor.width_px=960", "sensor.height_px=540", "sensor.pixel_pitch_um=5.8",
        "lens.focal_length_mm=28.0", "day_night.mode=day",
    )  # fmt: skip
    scene = bare("depot-gate-dark")
    lux = Axis("natural_light.illuminance_lux", (0.001, 1000.0), True)
    found = sweep(
        Plan(scene, "plate-2mp-infrared", sets, (lux,), seed=2, trials=24), workers=1
    ).array("probability")
    assert found[0] < 0.05
    assert found[1] > 0.9
    speed = Axis("target.plate.speed_kmh", (0.0, 40.0, 120.0))
    fast = ("natural_light.illuminance_lux=1000.0", "exposure.shutter_s=0.01",
            "target.plate.heading_deg=90.0")  # fmt: skip
    moving = sweep(
        Plan(scene, "plate-2mp-infrared", (*sets, *fast), (speed,), seed=2, trials=24),
        workers=1,
    ).array("probability")
    assert moving[0] > 0.9
    assert np.all(np.diff(moving) <= 0.05)
    assert moving[2] < 0.05
