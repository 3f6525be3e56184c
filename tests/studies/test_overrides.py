"""Values set by dotted key, and which file they belong to."""

from __future__ import annotations

from pathlib import Path

import pytest
from bare import bare

from simulator import dotted
from simulator.camera.model import CameraModel
from simulator.errors import FileFormatError, InputError
from simulator.files import find
from simulator.scene.load import Scene
from simulator.studies.overrides import load_pair

PAIR = ("depot-gate-infrared", "fixed-2mp-lowlight")


def refused(*sets: str) -> InputError:
    with pytest.raises(InputError) as caught:
        load_pair(*PAIR, sets)
    return caught.value


@pytest.mark.by_hand
def test_keys_find_their_file() -> None:
    scene, camera = load_pair(
        *PAIR,
        [
            "natural_light.illuminance_lux=0.5",
            "target.plate.speed_kmh=40",
            "lamp.gate lamp.on=true",
            "exposure.shutter_max_s = 0.002",
            "scene.title=A gate",
            "camera.title='A camera'",
            "station.aim_m=[0, 17, 1]",
        ],
    )
    assert scene.model.natural_light.illuminance_lux == 0.5
    assert scene.model.target[0].speed_kmh == 40.0
    assert scene.model.lamp[0].on is True
    assert scene.model.station.aim_m == (0.0, 17.0, 1.0)
    assert camera.model.exposure.shutter_max_s == 0.002
    assert (scene.model.title, camera.model.title) == ("A gate", "A camera")


@pytest.mark.by_hand
def test_keys_the_file_leaves_out_may_be_set() -> None:
    scene, camera = load_pair(
        bare("yard-noon"),
        "plate-2mp-infrared",
        [
            "station.ground_position_m[1]=-2",
            "exposure.gain_db=12",
            "processing.analogue_tv_lines=480",
            "target.plate.sheeting=none",
        ],
    )
    assert scene.model.station.ground_position_m == (0.0, -2.0)
    assert scene.model.target[0].sheeting == "none"
    assert camera.model.exposure.gain_db == 12.0
    assert camera.model.processing.analogue_tv_lines == 480.0


@pytest.mark.by_hand
def test_a_table_the_file_leaves_out_may_be_set_into() -> None:
    bare = {"title": "x"}
    changed = dotted.apply(bare, CameraModel, dotted.changes_of("day_night.mode=night"))
    assert changed == {"title": "x", "day_night": {"mode": "night"}}
    assert bare == {"title": "x"}


@pytest.mark.by_hand
def test_text_stays_text() -> None:
    scene, _ = load_pair(*PAIR, ["target.plate.text=1234", "scene.question=true"])
    assert scene.model.target[0].text == "1234"
    assert scene.model.question == "true"


@pytest.mark.by_hand
def test_a_set_value_has_no_tolerance_and_the_lens_follows_its_use() -> None:
    _, before = load_pair(*PAIR)
    _, after = load_pair(
        *PAIR,
        [
            "sensor.read_noise_e=3",
            "lens.transmittance=0.8",
            "lens.use=varifocal-2.8-12",
            "lens.f_number=2.8",
        ],
    )
    for key in ("sensor.read_noise_e", "lens.transmittance"):
        assert key in before.tolerances
        assert key not in after.tolerances
    assert after.model.sensor.read_noise_e == 3.0
    assert after.model.lens.transmittance == 0.8
    assert after.model.lens.focal_max_mm == 12.0


@pytest.mark.by_hand
def test_a_tolerance_may_be_set() -> None:
    table = '{value = 3, tolerance = 1, source = "measured"}'
    _, camera = load_pair(*PAIR, [f"sensor.read_noise_e={table}"])
    assert camera.tolerances["sensor.read_noise_e"].tolerance == 1


@pytest.mark.by_hand
def test_a_key_of_both_is_refused_with_both_full_names() -> None:
    error = refused("title=x")
    assert error.allowed == "scene.title or camera.title"


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("natural_light.iluminance_lux=3", "natural_light.illuminance_lux"),
        ("speed_kmh=3", "target.plate.speed_kmh"),
        ("lamp.gate lmp.on=true", "lamp.gate lamp.on"),
        ("camera.exposure.shutter_max=1", "camera.exposure.shutter_max_s"),
    ],
)
def test_an_unknown_key_brings_the_nearest(text: str, hint: str) -> None:
    error = refused(text)
    assert error.key == text.partition("=")[0]
    assert hint in (error.fix or "")


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("text", "given"),
    [
        ("target.plate.speed_kmh=fast", "fast"),
        ("target.plate.speed_kmh=4000", 4000),
        ("natural_light.illuminance_lux=inf", float("inf")),
        ("lens.focal_length_mm=60", 60),
        ("day_night.mode=nigt", "nigt"),
        ("illuminator.mast infrared.use=nothing-such", "nothing-such"),
        ("lens.use=missing.toml", "missing.toml"),
    ],
)
def test_a_bad_value_names_the_option_and_the_file(text: str, given: object) -> None:
    error = refused(text)
    key = text.partition("=")[0]
    assert error.key == key
    assert error.given == given
    assert error.argument == f"set {key}"
    assert ".toml" in (error.file or "")


@pytest.mark.by_hand
def test_a_clash_with_another_value_names_the_option() -> None:
    error = refused("exposure.shutter_max_s=0.00001")
    assert error.key == "exposure.shutter_min_s"
    assert error.argument == "set exposure.shutter_max_s"


@pytest.mark.by_hand
def test_a_fault_of_the_file_is_not_blamed_on_a_set(tmp_path: Path) -> None:
    path = tmp_path / "broken.toml"
    text = find("scenes", PAIR[0]).read_text().replace("height_m = 3.0", "height_m = -3.0")
    path.write_text(text)
    with pytest.raises(FileFormatError) as caught:
        Scene.load(path, ["target.plate.speed_kmh=3"])
    assert caught.value.file == str(path)
    assert caught.value.key == "station.height_m"
    assert Scene.load(path, ["station.height_m=2"]).model.station.height_m == 2.0


@pytest.mark.by_hand
@pytest.mark.parametrize("text", ["", "=3", "title", "scene.title=", "=", " = "])
def test_what_is_no_key_and_value_is_refused(text: str) -> None:
    assert refused(text).allowed == "key=value, such as target.plate.speed_kmh=15"


@pytest.mark.by_hand
def test_later_sets_win_and_see_earlier_ones() -> None:
    table = '[{kind = "ground", name = "snow", material = "snow"}]'
    scene, _ = load_pair(*PAIR, [f"surface={table}", "surface.snow.variation=0.2"])
    assert scene.model.surface[0].variation == 0.2


@pytest.mark.by_hand
def test_a_relative_profile_is_looked_for_beside_the_file(tmp_path: Path) -> None:
    lens = find("lenses", "fixed-4mm").read_text().replace("value = 1.6", "value = 2.4")
    (tmp_path / "own-lens.toml").write_text(lens)
    camera = find("cameras", "fixed-4mp-small-pixel").read_text()
    (tmp_path / "own.toml").write_text(camera.replace('"fixed-4mm"', '"own-lens.toml"'))
    _, loaded = load_pair(PAIR[0], tmp_path / "own.toml")
    assert loaded.model.lens.f_number == 2.4
    assert "use" not in loaded.table()["lens"]


@pytest.mark.by_hand
def test_a_fault_in_a_used_profile_names_that_profile(tmp_path: Path) -> None:
    lens = find("lenses", "fixed-4mm").read_text() + "\nfocal_ft = 3\n"
    (tmp_path / "own-lens.toml").write_text(lens)
    camera = find("cameras", "fixed-4mp-small-pixel").read_text()
    (tmp_path / "own.toml").write_text(camera.replace('"fixed-4mm"', '"own-lens.toml"'))
    with pytest.raises(FileFormatError) as caught:
        load_pair(PAIR[0], tmp_path / "own.toml", ["lens.focus_m=3"])
    assert caught.value.file == str(tmp_path / "own-lens.toml")
    assert caught.value.key == "focal_ft"


@pytest.mark.by_hand
def test_a_focus_that_the_scene_decides_cannot_be_set_on_the_lens():
    with pytest.raises(InputError, match=r"station\.focus_m"):
        load_pair("doorway-noon", "fixed-2mp-lowlight", ["lens.focus_m=3"])
    scene, _ = load_pair("doorway-noon", "fixed-2mp-lowlight", ["station.focus_m=3"])
    assert scene.model.station.focus_m == 3.0


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("text", "new"),
    [
        ("lens.distortion=0.1", "write lens.distortion_coefficient"),
        ("camera.cover.dirt=0.1", "write camera.cover.obstruction_fraction"),
        ("station.setback_m=4", "write station.ground_position_m = [x, y], with y = -setback_m"),
    ],
)
def test_a_former_key_brings_its_new_name(text: str, new: str) -> None:
    error = refused(text)
    assert (error.key, error.fix) == (text.partition("=")[0], new)


@pytest.mark.by_hand
def test_one_number_of_a_point_may_be_set() -> None:
    aim = load_pair(*PAIR)[0].model.station.aim_m
    scene, _ = load_pair(*PAIR, ["station.aim_m[2]=0.9", "station.ground_position_m[0]=-1.5"])
    assert scene.model.station.aim_m == (*aim[:2], 0.9)
    assert scene.model.station.position_m == (-1.5, 0.0, scene.model.station.height_m)
    assert refused("station.aim_m[3]=1").key == "station.aim_m[3]"
