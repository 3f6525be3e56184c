"""Nonsense that files and commands may hold is refused, or told of in the conditions."""

from __future__ import annotations

from pathlib import Path

import pytest
from bare import bare
from typer.testing import CliRunner

from simulator import Camera, Scene
from simulator.app.cli import app
from simulator.dotted import parse_value
from simulator.errors import InputError, NameNotFoundError, OutputError
from simulator.files import bundled_names
from simulator.light.lamp_spectra import spectrum_of_text
from simulator.report.document_place import check_place
from simulator.report.wording.catalogue import say
from simulator.scene.build import build_world
from simulator.studies.axes import parse_axis
from simulator.studies.lessons.catalogue import find_lesson
from simulator.studies.new.answers import checked
from simulator.studies.overrides import set_pair

pytestmark = pytest.mark.by_hand
BLOCK = {
    "name": "kiosk", "kind": "block", "material": "concrete", "position_m": [0.0, 0.0, 0.0],
    "width_m": 2.0, "depth_m": 2.0, "height_m": 5.0,
}  # fmt: skip


def told(scene: Scene) -> dict[str, dict[str, object]]:
    return {m.id: dict(m.values) for m in build_world(scene.model).assumptions}


def test_a_lens_inside_a_body_is_told() -> None:
    gate = Scene.load("depot-gate-dark")
    assert "assumption.lens-inside" not in told(gate)
    inside = told(Scene.from_dict({**gate.table(), "body": [BLOCK]}))
    assert inside["assumption.lens-inside"] == {"thing": "kiosk"}
    low = told(Scene.from_dict({**gate.table(), "body": [{**BLOCK, "height_m": 1.0}]}))
    assert "assumption.lens-inside" not in low  # the lens is above it


def test_lights_under_the_ground_or_of_one_name_are_refused() -> None:
    gate = Scene.load("depot-gate-infrared")
    with pytest.raises(InputError, match="below the ground"):
        gate.set({"lamp.gate lamp.position_m": [4, 20, -1]})
    with pytest.raises(InputError, match="both have the name"):
        gate.set({"lamp.gate lamp.name": "mast infrared"})


def test_a_target_in_the_ground_is_told() -> None:
    gate = Scene.load("depot-gate-dark")
    sunk = told(gate.set({"target.plate.position_m[2]": 0.0}))["assumption.below-ground"]
    assert sunk["target"] == "plate" and float(str(sunk["depth_m"])) > 0.02
    assert "assumption.below-ground" not in told(gate)


@pytest.mark.parametrize(
    ("given", "what"),
    [
        ({"station.height_m": 199.0}, "height"),
        ({"station.aim_m": [0.0, 20.0, -50.0]}, "aim"),
        ({"natural_light.illuminance_lux": 190_000}, "daylight"),
        ({"distance": 800}, "distance"),
        ({"station.ground_position_m": [5000, -5000]}, "distance"),
        ({"target.plate.position_m[2]": 60.0}, "hanging"),
        ({"speed": 399}, "speed"),
        ({"lamp": "on", "lamp.gate lamp.position_m": [0.0, 0.02, 3.0]}, "at-lens"),
        ({"illuminator.mast infrared.aim_m": [0.0, -20.0, 0.0]}, "beam"),
    ],
)
def test_what_is_unlikely_is_told(given: dict[str, object], what: str) -> None:
    camera = Camera.load("plate-2mp-infrared")
    gate = set_pair(Scene.load(bare("depot-gate-infrared")), camera, given)[0]
    assert f"assumption.unlikely-{what}" in told(gate)
    assert all(say(m) for m in build_world(gate.model).assumptions)


def test_nothing_of_the_bundled_scenes_is_unlikely() -> None:
    for name in bundled_names("scenes")[::4]:  # a quarter of them, as each takes a second
        assert not [key for key in told(Scene.load(name)) if "unlikely" in key], name


def test_a_light_inside_a_body_is_told_and_one_in_its_post_is_not() -> None:
    lit = Scene.load(bare("depot-gate-infrared"), ["lamp.gate lamp.on=true"])
    around = {**BLOCK, "position_m": [4.0, 20.0, 0.0], "width_m": 4.0, "depth_m": 4.0,
              "height_m": 9.0}  # fmt: skip
    inside = told(Scene.from_dict({**lit.table(), "body": [around]}))
    assert inside["assumption.light-inside"] == {"light": "gate lamp"}
    assert "assumption.light-inside" not in told(Scene.load("car-park-led"))


def test_an_illuminator_below_the_ground_beside_the_camera_is_refused() -> None:
    gate = Scene.load(bare("depot-gate-infrared"))
    table = gate.table()
    hung = {k: v for k, v in table["illuminator"][0].items() if k != "position_m"}
    low = {**table, "illuminator": [{**hung, "beside_camera_m": [0.0, 0.0, -20.0]}]}
    with pytest.raises(InputError, match="below the ground") as caught:
        build_world(Scene.from_dict(low).model)
    assert caught.value.allowed == f"at most {gate.model.station.height_m:g} m below the lens"


def test_numbers_with_underscores_are_no_numbers() -> None:
    assert parse_value("1_000") == "1_000"
    assert parse_value("1000") == 1000
    with pytest.raises(InputError, match="wrong type"):
        Scene.load("depot-gate-dark", ["station.height_m=1_0"])


@pytest.mark.parametrize(
    ("given", "fix"),
    [
        ("station.height_m=3 metres", "write the number alone, in m"),
        ("station.height_m=20ft", "write the number alone, in m"),
        ("target.plate.speed_kmh=30 km/h", "write the number alone, in km/h"),
        ("target.plate.speed_kmh=fast", None),
        ("distance=20 m", "write the number alone, in metres"),
        ("illuminator.mast infrared=off", "illuminator.mast infrared.on=false"),
    ],
)
def test_a_unit_beside_a_number_is_told_of(given: str, fix: str | None) -> None:
    with pytest.raises(InputError) as found:
        set_pair(Scene.load("depot-gate-infrared"), Camera.load("plate-2mp-infrared"), [given])
    assert found.value.fix == fix or (fix is not None and fix in str(found.value.fix))


@pytest.mark.parametrize(
    ("word", "meant"), [("wdr", "backlight"), ("ir", "infrared"), ("shutter", "motion")]
)
def test_a_lesson_by_the_words_of_the_trade(word: str, meant: str) -> None:
    with pytest.raises(NameNotFoundError, match=f"did you mean {meant}"):
        find_lesson(word)


def test_a_bundled_name_with_an_ending_is_told_of() -> None:
    with pytest.raises(InputError) as found:
        Scene.load("nowhere/depot-gate-dark.toml")
    assert found.value.fix == "for the bundled file write depot-gate-dark, without .toml"


def test_answers_of_a_new_scene() -> None:
    assert checked("text", "k2w8 r4d") == "K2W8 R4D"
    with pytest.raises(InputError, match="cannot bear"):
        checked("text", "Ä$ 1")
    with pytest.raises(InputError, match="did you mean full-moon"):
        checked("light", "fulmoon")
    with pytest.raises(InputError, match="did you mean truck"):
        checked("vehicle", "lorry")


def test_endings_are_those_that_are_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(OutputError, match=r"name it x\.html"):
        check_place(tmp_path / "x.docx")
    monkeypatch.chdir(tmp_path)
    assert CliRunner().invoke(app, ["new", "scene", "mine"]).exit_code == 0
    assert [p.name for p in tmp_path.iterdir()] == ["mine.toml"]
    drawn = CliRunner().invoke(app, ["show", "depot-gate-dark", "--out", "x.txt"])
    assert isinstance(drawn.exception, OutputError)


def test_a_spectrum_over_any_lamps_power_is_refused() -> None:
    for power in ("1e300", "-1", "1e13"):
        with pytest.raises(InputError, match="a power must be from 0 to"):
            spectrum_of_text(f"wavelength_nm,power\n500,1\n600,{power}\n")
    with pytest.raises(InputError, match="no visible light"):
        spectrum_of_text("wavelength_nm,power\n500,1e-200\n600,1e-200\n")


def test_a_count_of_thousands_of_digits_is_no_range() -> None:
    with pytest.raises(InputError, match="not a range"):
        parse_axis("a.b=1:2:" + "9" * 4301)
