"""Tables and labelled arrays: names without dots, units that UDUNITS reads, plain decimals."""

from __future__ import annotations

import csv
import re

import cf_units
import numpy as np
import pandas
import pytest
import xarray
from bare import bare

from simulator import Camera, Scene, sweep
from simulator.camera.model import CameraModel
from simulator.dotted import valid_keys
from simulator.errors import InputError
from simulator.judge.named_figures import FIGURES
from simulator.scene.model import SceneModel
from simulator.studies.key_units import COMPOUND, UNITS
from simulator.studies.tables import (
    CF_UNITS,
    figure_attributes,
    key_attributes,
    plain_decimal,
    plain_name,
)

SMALL = {"sensor.width_px": 480, "sensor.height_px": 270, "sensor.pixel_pitch_um": 11.6,
         "processing.temporal_noise_reduction": 0}  # fmt: skip
SHUTTERS = [0.00005, 0.005]


@pytest.fixture(scope="module")
def camera():
    return Camera.load("plate-2mp-infrared").set(SMALL)


@pytest.fixture(scope="module")
def swept(camera):
    over = {"exposure.shutter_s": SHUTTERS, "exposure.metering": ["average", "highlight"]}
    return sweep(Scene.load(bare("depot-gate-infrared")), camera, over, trials=16, workers=1)


@pytest.mark.invariant
def test_names_hold_no_dots_and_values_stand_where_they_belong(swept):
    data = swept.to_xarray()
    names = [*data.variables, *data.dims]
    assert all(re.fullmatch(r"[A-Za-z]\w*", name) for name in names)
    assert dict(data.sizes) == {"exposure_shutter_s": 2, "exposure_metering": 2}
    at = data.sel(exposure_metering="average", exposure_shutter_s=0.005)
    row = next(
        r for r in swept.table()
        if (r["exposure_shutter_s"], r["exposure_metering"]) == (0.005, "average")
    )  # fmt: skip
    for name in ("probability", "gain_db", "shutter_s", "verdict", "trials"):
        assert at[name].item() == row[name]


@pytest.mark.invariant
def test_a_table_is_what_pandas_takes(swept):
    frame = pandas.DataFrame(swept.table())
    assert len(frame) == 4
    wide = frame.pivot_table("probability", "exposure_shutter_s", "exposure_metering")
    np.testing.assert_array_equal(
        wide["average"], swept.to_xarray()["probability"].sel(exposure_metering="average")
    )


@pytest.mark.invariant
def test_the_trials_are_those_that_were_made(camera):
    """A quick look takes few pictures, however many it may take."""
    over = {"exposure.shutter_s": [0.001]}
    for task in (None, "detect"):
        scene = Scene.load("depot-gate-infrared")
        if task is not None:
            scene = scene.set({"task.name": task, "task.target": "truck"})
        (row,) = sweep(scene, camera, over, trials=24, workers=1).table()
        assert 0 < row["trials"] < 24


@pytest.mark.outside
def test_units_are_those_of_udunits():
    """By the UDUNITS library itself, through cf-units."""
    for unit in CF_UNITS.values():
        assert not cf_units.Unit(unit).is_unknown()
    # 20 dB of amplitude are a factor of ten, 36 km/h are 10 m/s
    assert cf_units.Unit(CF_UNITS["dB"]).convert(20.0, "1") == pytest.approx(10.0)
    assert cf_units.Unit(CF_UNITS["km/h"]).convert(36.0, "m s-1") == pytest.approx(10.0)
    assert cf_units.Unit(CF_UNITS["in a million"]).convert(5.0, "1") == pytest.approx(5e-6)


@pytest.mark.invariant
def test_every_figure_and_every_key_has_a_unit_and_a_name():
    assert {*UNITS.values(), *COMPOUND.values()} <= set(CF_UNITS)
    for figure in FIGURES:
        assert figure_attributes(figure.name).units
    scene, camera = Scene.load("depot-gate-infrared"), Camera.load("plate-2mp-infrared")
    keys = [*valid_keys(SceneModel, scene.table()), *valid_keys(CameraModel, camera.table())]
    assert len(keys) > 150
    names = [plain_name(key) for key in keys]
    assert all(key_attributes(key).long_name for key in keys)
    assert len(set(names)) == len(names) - 1  # both have a title


@pytest.mark.invariant
def test_netcdf_after_cf(swept, tmp_path):
    folder = swept.save(tmp_path / "sweep")
    with xarray.open_dataset(folder / "points.nc", engine="scipy") as data:
        assert data.attrs["Conventions"].startswith("CF-1.")
        assert data.attrs["title"] and data.attrs["source"].startswith("nightproof")
        for name, variable in data.variables.items():
            assert variable.attrs["long_name"], name
            if variable.dtype.kind == "f":
                assert not cf_units.Unit(variable.attrs["units"]).is_unknown()
        np.testing.assert_allclose(data["probability"], swept.to_xarray()["probability"])
        assert data["exposure_shutter_s"].attrs["units"] == "s"
        assert data["gain_db"].attrs["units"] == CF_UNITS["dB"]


@pytest.mark.invariant
def test_csv_holds_plain_decimals_that_read_back_the_same(swept, tmp_path):
    folder = swept.save(tmp_path / "sweep")
    with (folder / "points.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows[0]["exposure_shutter_s"] == "0.00005"
    for told, row in zip(rows, swept.table(), strict=True):
        for name, value in row.items():
            if isinstance(value, float):
                assert re.fullmatch(r"-?\d+(\.\d+)?", told[name]), (name, told[name])
                assert float(told[name]) == value


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("value", "text"),
    [
        (5e-324, "0." + "0" * 323 + "5"),
        (1e22, "1" + "0" * 22),
        (0.1 + 0.2, "0.30000000000000004"),
        (-2.50, "-2.5"),
        (np.float32(0.1), "0.1"),
        (np.float64("nan"), ""),
        (np.bool_(False), "false"),
        (7, "7"),
        ("day", "day"),
    ],
)
def test_decimals(value, text):
    assert plain_decimal(value) == text


@pytest.mark.by_hand
def test_a_sweep_takes_ranges_as_on_the_command_line_and_refuses_none(camera):
    with pytest.raises(InputError, match="needs a key"):
        sweep(bare("depot-gate-infrared"), camera, {})
    with pytest.raises(InputError) as refused:
        sweep(bare("depot-gate-infrared"), camera, {"exposure.shutter_s": "0.1:0.2"})
    assert "range" in str(refused.value)
    with pytest.raises(InputError):
        sweep(bare("depot-gate-infrared"), camera, {"exposure.shuter_s": [0.1]})
