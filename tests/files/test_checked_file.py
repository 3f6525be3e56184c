"""Scene and camera as objects: one truth, from which table, text, hash and equality follow."""

from __future__ import annotations

import pickle
import tomllib
from dataclasses import FrozenInstanceError, replace
from pathlib import Path

import numpy as np
import pytest

from simulator import Camera, Scene
from simulator.errors import FileFormatError, InputError, NameNotFoundError
from simulator.files import Tolerance, find, read_toml
from simulator.studies.overrides import load_pair, set_pair
from simulator.studies.provenance import input_hash

SCENE, CAMERA = "depot-gate-infrared", "fixed-2mp-lowlight"


@pytest.fixture(scope="module")
def scene() -> Scene:
    return Scene.load(SCENE)


@pytest.fixture(scope="module")
def camera() -> Camera:
    return Camera.load(CAMERA)


def with_height(scene: Scene, height_m: float) -> Scene:
    station = scene.model.station.model_copy(update={"height_m": height_m})
    return replace(scene, model=scene.model.model_copy(update={"station": station}))


# one truth


@pytest.mark.invariant
def test_a_changed_model_changes_table_text_hash_and_equality(scene: Scene, camera: Camera) -> None:
    higher = with_height(scene, 4.5)
    assert higher.table()["station"]["height_m"] == 4.5
    assert tomllib.loads(higher.to_toml())["station"]["height_m"] == 4.5
    assert higher != scene
    assert higher.content_hash != scene.content_hash
    assert input_hash(higher, camera) != input_hash(scene, camera)
    assert higher == scene.set({"station.height_m": 4.5})
    assert with_height(higher, scene.model.station.height_m) == scene


@pytest.mark.invariant
def test_what_is_saved_loads_as_the_same(scene: Scene, camera: Camera, tmp_path: Path) -> None:
    changed = scene.set("target.plate.speed_kmh=30", {"illuminator.mast infrared.beam_deg": 12})
    again = Scene.load(changed.save(tmp_path / "kept.toml"))
    assert again == changed != scene
    assert again.tolerances == changed.tolerances
    assert input_hash(again, camera) == input_hash(changed, camera)
    body = camera.set({"sensor.full_well_e": 9000.0})
    kept = Camera.load(body.save(tmp_path / "camera.toml"))
    assert kept == body
    assert kept.tolerances == body.tolerances
    assert {t.source for t in kept.tolerances.values()} == {"assumed"}


@pytest.mark.invariant
def test_a_profile_that_was_used_is_not_asked_again(camera: Camera, tmp_path: Path) -> None:
    # 0.7 is what a camera says when nothing is written; the lens file says 0.65
    plain = camera.set({"lens.relative_illumination_corner": 0.7})
    kept = Camera.load(plain.save(tmp_path / "camera.toml"))
    assert kept.model.lens.relative_illumination_corner == 0.7
    assert kept == plain
    lit = Scene.load(SCENE).set(
        {"illuminator.mast infrared.radiant_intensity_w_per_sr": None,
         "illuminator.mast infrared.efficiency": 0.2}
    )  # fmt: skip
    assert Scene.load(lit.save(tmp_path / "scene.toml")) == lit


@pytest.mark.invariant
def test_numbers_count_by_their_value_not_by_how_they_are_written(scene: Scene) -> None:
    assert scene.set("station.height_m=4") == scene.set("station.height_m=4.0")
    assert scene.set({"target.plate.heading_deg": 0.0}) == scene  # what it is when not written


@pytest.mark.invariant
def test_nothing_of_an_object_can_be_changed(scene: Scene) -> None:
    with pytest.raises(FrozenInstanceError):
        scene.name = "other"  # type: ignore[misc]
    with pytest.raises(TypeError):
        scene.tolerances["a"] = Tolerance(1.0, 1.0, "assumed")  # type: ignore[index]
    assert isinstance(scene.model.lamp, tuple)
    before = scene.content_hash
    scene.set({"station.height_m": 9.0})
    scene.table()["station"]["height_m"] = 9.0
    assert replace(scene).content_hash == before


@pytest.mark.invariant
def test_equal_objects_are_one_key_and_travel_between_processes(
    scene: Scene, camera: Camera
) -> None:
    for one in (scene, camera):
        copy = pickle.loads(pickle.dumps(one))
        assert copy == one and hash(copy) == hash(one)
        assert (copy.name, copy.file, copy.tolerances) == (one.name, one.file, one.tolerances)
        assert len({one, copy, replace(one, name="another name")}) == 1
    assert scene != camera
    assert len(repr(scene)) < 120 and SCENE in repr(scene)


# changing


@pytest.mark.by_hand
@pytest.mark.parametrize(
    "value",
    [4, 4.0, np.float32(4.0), np.float64(4.0), np.int16(4), np.array(4.0), np.array([4.0])[0]],
)
def test_numbers_of_any_kind_are_plain_once_they_are_set(scene: Scene, value: object) -> None:
    found = scene.set({"station.height_m": value}).model.station.height_m
    assert found == 4.0 and type(found) is float


@pytest.mark.by_hand
def test_points_switches_paths_and_models_are_taken(scene: Scene, camera: Camera) -> None:
    aim = np.array([0.5, 17.0, 1.0], dtype=np.float32)
    changed = scene.set(
        {"station.aim_m": aim, "lamp.gate lamp.on": np.bool_(True), "station.aim_m[1]": 16},
        "target.plate.text=1234",
    )
    assert changed.model.station.aim_m == (0.5, 16.0, 1.0)
    assert changed.model.lamp[0].on is True
    assert changed.model.target[0].text == "1234"
    lamp = changed.model.lamp[0].model_copy(update={"name": "second lamp", "dimming": 0.5})
    both = changed.set({"lamp.second lamp": lamp})
    assert both.model.lamp == (*changed.model.lamp, lamp)
    window = camera.set({"exposure.window": (0.1, 0.1, 0.9, 0.9)}).model.exposure.window
    assert window == (0.1, 0.1, 0.9, 0.9)
    used = camera.set({"lens.use": find("lenses", "varifocal-2.8-12")})
    assert used == camera.set({"lens.use": "varifocal-2.8-12"})


@pytest.mark.by_hand
def test_a_value_of_none_is_not_written(scene: Scene) -> None:
    focused = scene.set({"station.focus_m": 12.0})
    assert focused.model.station.focus_m == 12.0
    assert focused.set({"station.focus_m": None}) == scene
    bare = scene.set({"surface.gate leaf": None})
    assert [s.name for s in bare.model.surface] == ["road", "yard wall"]
    assert bare.set({"surface.gate leaf": scene.model.surface[2]}) == scene


@pytest.mark.by_hand
def test_a_number_that_is_set_has_only_the_tolerance_it_is_given(camera: Camera) -> None:
    key = "sensor.read_noise_e"
    assert camera.tolerances[key] == Tolerance(2.2, 0.5, "assumed")
    assert key not in camera.set({key: 3.0}).tolerances
    told = {"value": 3.0, "tolerance": 1, "source": "measured"}
    assert camera.set({key: told}).tolerances[key] == Tolerance(3.0, 1.0, "measured")
    sensor = camera.model.sensor.model_copy(update={"read_noise_e": 3.0})
    changed = replace(camera, model=camera.model.model_copy(update={"sensor": sensor}))
    assert key not in changed.tolerances
    assert set(changed.tolerances) == set(camera.tolerances) - {key}


@pytest.mark.by_hand
def test_an_illuminator_is_added_by_its_profile_or_as_a_whole(scene: Scene) -> None:
    added = scene.set("illuminator.spot.use=white-led-spot", "illuminator.spot.dimming=0.5")
    spot = added.model.illuminator[1]
    profile = read_toml(find("lights", "white-led-spot"))
    assert (spot.name, spot.dimming, spot.spectrum) == ("spot", 0.5, profile["spectrum"])
    assert spot.aim_m == scene.model.station.aim_m
    assert any(key.startswith("illuminator.spot.") for key in added.tolerances)
    entry = {"use": "white-led-spot", "position_m": (1.0, 0.0, 3.0), "aim_m": (0.0, 9.0, 0.0)}
    whole = scene.set({"illuminator.spot": entry}).model.illuminator[1]
    assert whole.position_m == (1.0, 0.0, 3.0)


@pytest.mark.by_hand
def test_another_profile_takes_away_what_the_first_one_said(scene: Scene, camera: Camera) -> None:
    lamp = "illuminator.mast infrared"
    mine = scene.set({f"{lamp}.radiant_intensity_w_per_sr": 1.5, f"{lamp}.dimming": 0.5})
    other = mine.set({f"{lamp}.use": "infrared-850-long"}).model.illuminator[0]
    assert (other.radiant_intensity_w_per_sr, other.beam_deg) == (100.0, 12.0)
    assert (other.dimming, other.position_m) == (0.5, (0.3, 0.0, 3.2))
    # what is set together with the profile stands, in whatever order
    for changes in (
        [f"{lamp}.beam_deg=20", f"{lamp}.use=infrared-850-long"],
        [f"{lamp}.use=infrared-850-long", f"{lamp}.beam_deg=20"],
    ):
        assert mine.set(changes).model.illuminator[0].beam_deg == 20.0
    swap = {"lens.use": "varifocal-2.8-12"}
    swapped = camera.set({"lens.transmittance": 0.5}).set(swap)
    lens = read_toml(find("lenses", "varifocal-2.8-12"))
    assert swapped.model.lens.transmittance == lens["transmittance"]["value"]
    assert swapped.model.lens.focal_length_mm == 12.0
    assert "lens.transmittance" in swapped.tolerances
    assert swapped == Camera.load(CAMERA, swap)


@pytest.mark.by_hand
def test_a_lens_that_is_wide_open_stays_so(camera: Camera) -> None:
    # varifocal-5-50 opens to f/1.5 at 5 mm and f/1.9 at 50 mm
    wide = camera.set({"lens.f_number": None})
    assert wide.model.lens.f_number == pytest.approx(1.5 + 0.4 * 7.0 / 45.0)
    longer = wide.set({"lens.focal_length_mm": 32.0})
    assert longer.model.lens.f_number == pytest.approx(1.5 + 0.4 * 27.0 / 45.0)
    assert camera.set({"lens.focal_length_mm": 11.0}).model.lens.f_number == 1.6  # as it was set
    slower = camera.set({"lens.use": "varifocal-2.8-12"})  # f/2.7 at most at 12 mm
    assert slower.model.lens.f_number == slower.model.lens.smallest_f_number == 2.7
    assert slower.set({"lens.use": "varifocal-5-50"}).model.lens.f_number < 1.6
    stopped = camera.set({"lens.f_number": 4.0, "lens.use": "varifocal-2.8-12"})
    assert stopped.set({"lens.use": "varifocal-5-50"}).model.lens.f_number == 4.0
    fixed = Camera.load("fixed-4mp-small-pixel")
    assert fixed.set("lens.use=fixed-2.8mm").model.lens.focal_length_mm == 2.8


@pytest.mark.invariant
def test_setting_after_loading_is_setting_while_loading() -> None:
    sets = ["natural_light.illuminance_lux=3", "exposure.shutter_max_s=1/250",
            "illuminator.x.use=infrared-850-short-wide", "lens.focal_length_mm=10"]  # fmt: skip
    loaded = load_pair(SCENE, CAMERA, sets)
    assert set_pair(Scene.load(SCENE), Camera.load(CAMERA), sets) == loaded
    assert load_pair(Scene.load(SCENE), Camera.load(CAMERA), sets) == loaded
    assert loaded[1].model.exposure.shutter_max_s == 0.004
    scene, camera = Scene.load(SCENE), Camera.load(CAMERA)
    same, changed = set_pair(scene, camera, {"exposure.gain_max_db": 20})
    assert same is scene
    assert changed.model.exposure.gain_max_db == 20.0


# making


@pytest.mark.by_hand
def test_one_can_be_made_from_a_table_a_text_and_a_model(scene: Scene) -> None:
    table = read_toml(find("scenes", SCENE))
    assert Scene.from_dict(table) == scene
    assert Scene.from_toml(find("scenes", SCENE).read_text()) == scene
    dumped = scene.model.model_dump()
    assert Scene.from_dict(dumped).model == scene.model
    made = Scene(scene.model, "made here")
    assert (made.model, made.name, made.file, dict(made.tolerances)) == (
        scene.model, "made here", None, {},
    )  # fmt: skip
    assert Scene.of(scene) is scene
    for given in (SCENE, find("scenes", SCENE), table):
        assert Scene.of(given) == scene
    assert Scene.of(scene.model) == made


@pytest.mark.by_hand
def test_a_model_that_names_files_gets_their_content(scene: Scene, tmp_path: Path) -> None:
    (tmp_path / "lamp.csv").write_text("wavelength_nm,power\n400,1\n700,1\n")
    lamp = scene.model.lamp[0].model_copy(update={"spectrum": "lamp.csv"})
    model = scene.model.model_copy(update={"lamp": (lamp,)})
    made = Scene(model, folder=tmp_path)
    assert made.model.lamp[0].spectrum == (tmp_path / "lamp.csv").read_text()
    with pytest.raises(InputError, match="no such spectrum") as refused:
        Scene(model, folder=tmp_path / "elsewhere")
    assert refused.value.key == "lamp.gate lamp.spectrum"


# refusing


def refused(make: object) -> InputError:
    with pytest.raises(InputError) as caught:
        make()  # type: ignore[operator]
    return caught.value


@pytest.mark.by_hand
def test_an_input_error_is_a_value_error() -> None:
    with pytest.raises(ValueError, match="out of range"):
        Scene.load(SCENE, {"station.height_m": -3})


@pytest.mark.by_hand
def test_a_message_names_what_the_caller_gave(scene: Scene) -> None:
    error = refused(lambda: scene.set({"station.height_m": -3}))
    assert (error.argument, error.key, error.given) == (
        "set station.height_m", "station.height_m", -3,
    )  # fmt: skip
    assert error.file == str(scene.file)
    assert "--set" not in str(error)
    assert "argument: set station.height_m" in str(error)
    assert "option:  --set station.height_m" in error.text(command_line=True)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("changes", "key", "part"),
    [
        ({"station.hight_m": 3}, "station.hight_m", "did you mean station.height_m"),
        ({"target.plate.speed_kmh": "fast"}, "target.plate.speed_kmh", "a number"),
        ({"target.plate.speed_kmh": np.nan}, "target.plate.speed_kmh", "finite"),
        ({"station.aim_m": np.zeros((2, 3))}, "station.aim_m[0]", "a number"),
        ({"station.aim_m": np.zeros(2)}, "station.aim_m", "a list of 3 entries"),
        ({"lamp.gate lamp": 3}, "lamp.gate lamp", "a table"),
        ({"lamp.new": {"spectrum": "led-3000k"}}, "lamp.new.position_m", "position_m"),
        ({"station.height_m": object()}, "station.height_m", "a number"),
        ({3: 4}, None, "{key: value}"),
        ("station.height_m", None, "key=value"),
        (7, None, "{key: value}"),
    ],
)
def test_what_cannot_be_set_is_told(
    scene: Scene, changes: object, key: str | None, part: str
) -> None:
    error = refused(lambda: scene.set(changes))  # type: ignore[arg-type]
    assert error.key == key
    assert part in str(error)
    assert (error.argument or "").startswith("set")


@pytest.mark.by_hand
@pytest.mark.parametrize(
    "make",
    [
        lambda: Scene(Camera.load(CAMERA).model),
        lambda: Scene(SCENE),
        lambda: Scene.load(5),
        lambda: Scene.load(None),
        lambda: Scene.from_dict([1]),
        lambda: Scene.from_toml(b"title = 'x'"),
        lambda: Scene.of(Camera.load(CAMERA), "scene"),
        lambda: Camera.of(3.0),
    ],
)
def test_what_stands_for_no_scene_is_told_before_any_work(make: object) -> None:
    error = refused(make)
    assert isinstance(error, FileFormatError)
    assert error.argument is not None and error.allowed and error.fix


@pytest.mark.by_hand
def test_a_camera_given_as_a_scene_is_told() -> None:
    error = refused(lambda: Scene.from_toml(Camera.load(CAMERA).to_toml()))
    assert error.problem == "This is a camera, not a scene."
    assert isinstance(refused(lambda: Scene.load("depot-gate-infrard")), NameNotFoundError)


@pytest.mark.by_hand
def test_a_long_value_is_not_printed_whole(scene: Scene) -> None:
    error = refused(lambda: scene.set({"target.plate.position_m": np.zeros(5000)}))
    assert len(str(error)) < 1000


@pytest.mark.by_hand
def test_a_model_copied_with_other_values_is_checked(scene: Scene) -> None:
    assert with_height(scene, np.float32(4.5)) == scene.set({"station.height_m": 4.5})
    error = refused(lambda: with_height(scene, -3.0))
    assert (error.key, error.given) == ("station.height_m", -3.0)
