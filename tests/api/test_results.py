"""Results of the public functions: what they hold, save and show."""

from __future__ import annotations

import base64
import io
import json
import re

import html5lib
import numpy as np
import pytest
from bare import bare
from PIL import Image

from simulator import (
    Camera,
    Picture,
    Scene,
    Verdict,
    calendar,
    compare,
    film,
    lesson,
    lighting,
    measure,
    predict,
    quick,
    show,
    survey,
)
from simulator.api.shown import html_table, png_bytes

SMALL = {"sensor.width_px": 480, "sensor.height_px": 270, "sensor.pixel_pitch_um": 11.6,
         "processing.temporal_noise_reduction": 0}  # fmt: skip

LARGER = {"sensor.width_px": 960, "sensor.height_px": 540, "sensor.pixel_pitch_um": 5.8,
          "processing.temporal_noise_reduction": 0}  # fmt: skip

SITE = f"""
title = "A gate"
[[position]]
name = "gate"
scene = "{bare("depot-gate-infrared")}"
camera = "plate-2mp-infrared"
x_m = 0.0
y_m = 0.0
bearing_deg = 90.0
set = {json.dumps([f"{key}={value}" for key, value in SMALL.items()])}
"""
ALL = ("predict", "quick", "compare", "film", "show", "lighting", "survey", "calendar", "measure",
       "lesson")  # fmt: skip


@pytest.fixture(scope="module")
def gate():
    return Scene.load(bare("depot-gate-infrared"))


@pytest.fixture(scope="module")
def camera():
    return Camera.load("plate-2mp-infrared").set(SMALL)


@pytest.fixture(scope="module")
def results(gate, camera, tmp_path_factory):
    """One small result of every study but the light levels."""
    site = tmp_path_factory.mktemp("site") / "site.toml"
    site.write_text(SITE)
    larger = Camera.load("fixed-2mp-lowlight").set(LARGER)
    daylight = {"illuminance_lux": 5000, "spectrum": "daylight"}
    day = gate.set(
        {f"natural_light.{key}": value for key, value in daylight.items()},
        {"target.plate.speed_kmh": 0.0, "task.wanted_probability": 0.8},
    )
    return {
        "predict": predict(gate, camera, seed=3, remedies=False, tolerances=False, reserve=False),
        "quick": quick(gate, camera, trials=16, picture=True),
        "compare": compare([gate], [camera], variants={"slow": {"exposure.shutter_s": 0.02}}),
        "film": film(gate, camera, 2, judge=False),
        "show": show(gate, camera),
        "lighting": lighting(day, larger, trials=24),
        "survey": survey(site, trials=16, reach=(), workers=1),
        "calendar": calendar(
            gate, camera, (48.2, 16.4), 2026, nodes=6, checks=1, trials=8, workers=1
        ),
        "measure": measure(camera),
        "lesson": lesson("infrared", changes=SMALL, trials=16),
    }


def _parsed(result):
    """The HTML of a result as another program parses it, strictly."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parseFragment(result._repr_html_())


@pytest.mark.invariant
@pytest.mark.parametrize("name", ALL)
def test_it_shows_itself_in_a_notebook(results, name):
    found = _parsed(results[name])
    words = " ".join(found.itertext())
    assert len(words) > 40
    for picture in found.iter("img"):
        head, _, data = picture.get("src").partition(",")
        assert head == "data:image/png;base64" and picture.get("alt")
        Image.open(io.BytesIO(base64.b64decode(data))).verify()
    assert "<script" not in results[name]._repr_html_()


@pytest.mark.invariant
@pytest.mark.parametrize("name", [name for name in ALL if name != "show"])
def test_it_saves_what_it_says(results, name, tmp_path):
    result = results[name]
    folder = result.save(tmp_path / name)
    told = json.loads((folder / "verdict.json").read_text(encoding="utf-8"))
    assert told["schema_version"]
    if hasattr(result, "to_dict"):
        assert told == json.loads(json.dumps(result.to_dict()))
    assert list((folder / "inputs").iterdir())


@pytest.mark.invariant
@pytest.mark.parametrize("name", ALL)
def test_its_table_has_rows_of_one_shape(results, name):
    rows = results[name].table()
    assert rows and all(list(row) == list(rows[0]) for row in rows)
    assert all(re.fullmatch(r"\w+", key) for key in rows[0])


@pytest.mark.invariant
def test_a_prediction_shows_its_sentence_its_figures_and_its_target(results):
    found = results["predict"]
    words = " ".join(_parsed(found).itertext())
    assert found.verdict.sentences.customer in words
    assert found.verdict.title in words
    assert len(list(_parsed(found).iter("img"))) == 1
    assert len(list(_parsed(found).iter("tr"))) > 8


@pytest.mark.invariant
def test_pictures_are_arrays_that_show_themselves(results):
    picture = results["predict"].picture
    assert isinstance(picture, Picture) and np.shares_memory(picture, results["predict"].frame)
    with Image.open(io.BytesIO(picture._repr_png_())) as shown:
        assert np.array_equal(np.asarray(shown), results["predict"].frame)
    assert picture[10:20, 5:9]._repr_png_()
    assert picture[0]._repr_png_() is None and picture.mean()._repr_png_() is None


@pytest.mark.invariant
def test_a_quick_result_has_the_fields_of_a_verdict(results):
    known = set(Verdict.model_fields)
    for part in ("exposure", "signal"):
        known |= set(Verdict.model_fields[part].annotation.model_fields)
    assert set(results["quick"].row()) <= known


@pytest.mark.invariant
def test_variants_stand_side_by_side(results):
    rows = results["compare"].table()
    assert {row["camera"] for row in rows} == {"plate-2mp-infrared", "slow"}
    data = results["compare"].to_xarray()
    assert dict(data.sizes) == {"scene": 1, "camera": 2}
    for row in rows:
        assert float(data["probability"].sel(camera=row["camera"])[0]) == row["probability"]


@pytest.mark.invariant
def test_no_lamp_is_sized_where_none_is_needed(results):
    assert results["lighting"].needed is False
    assert results["lighting"].to_dict()["verdict"] == "legible"


@pytest.mark.by_hand
def test_what_people_type_is_escaped():
    assert html_table([{"a<b": "<script>"}]) == (
        "<table><tr><th>a&lt;b</th></tr><tr><td>&lt;script&gt;</td></tr></table>"
    )
    assert png_bytes(np.zeros((2, 2, 3), np.uint8)).startswith(b"\x89PNG")


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["survey", "calendar"])
def test_labelled_arrays_hold_what_the_table_holds(results, name):
    found = results[name]
    data, rows = found.to_xarray(), found.table()
    assert data["probability"].size == len(rows)
    np.testing.assert_allclose(
        data["probability"].values.ravel(), [row["probability"] for row in rows]
    )
    assert all(re.fullmatch(r"\w+", str(key)) for key in (*data.variables, *data.dims))
