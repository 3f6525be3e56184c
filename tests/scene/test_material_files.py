"""A material from a CSV file beside the scene, and tables beside a light profile."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from bare import bare

from simulator import data
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.files import bundled_folder
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.scene.materials import material
from simulator.studies.quick import quick

HEADER = """# title: Yard coating
# origin: measured on the spot
# status: measured
# units: wavelength_nm in nm; reflectance without unit
# range: 380 to 1100 nm
"""
TABLE = HEADER + "wavelength_nm,reflectance\n380,0.1\n700,0.5\n1100,0.5\n\n"


@pytest.fixture
def folder(tmp_path):
    text = (bundled_folder("scenes") / "depot-gate-dark.toml").read_text()
    assert text.count('material = "asphalt"') == 1
    scene = text.replace('material = "asphalt"', 'material = "coating.csv"')
    (tmp_path / "own.toml").write_text(scene)
    (tmp_path / "coating.csv").write_text(TABLE)
    return tmp_path


def refused(folder, text=None):
    if text is not None:
        (folder / "coating.csv").write_text(text)
    with pytest.raises(InputError) as caught:
        Scene.load(folder / "own.toml")
    return caught.value


@pytest.mark.by_hand
def test_its_reflectance_is_that_of_the_world(folder):
    scene = Scene.load(folder / "own.toml")
    world = build_world(scene.model)
    own = next(m for m in world.materials if m.name.startswith("Yard coating"))
    # 380 nm + 0.5 nm a step: 540 nm lies half way from 0.1 to 0.5; above 700 nm nothing changes
    wavelength = np.linspace(380.0, 1100.0, 721)
    assert own.reflectance[wavelength == 540.0] == pytest.approx(0.3)
    np.testing.assert_allclose(own.reflectance[wavelength >= 700.0], 0.5)
    assert own.origin == "measured on the spot"


@pytest.mark.invariant
def test_a_copy_of_a_bundled_table_is_that_material(folder):
    bundled = (Path(data.__file__).parent / "reflectance" / "paint-white.csv").read_text()
    (folder / "coating.csv").write_text(bundled)
    own = build_world(Scene.load(folder / "own.toml").model)
    a = next(m for m in own.materials if m.name.startswith("White paint"))
    b = material("paint-white")
    np.testing.assert_array_equal(a.reflectance, b.reflectance)
    assert (a.gloss, a.sheeting, a.status) == (b.gloss, b.sheeting, b.status)


@pytest.mark.invariant
def test_what_is_saved_holds_the_table_and_needs_no_file(folder):
    scene = Scene.load(folder / "own.toml")
    (folder / "inputs").mkdir()
    kept = scene.save(folder / "inputs" / "scene.toml")
    for name in ("own.toml", "coating.csv"):
        (folder / name).unlink()
    assert [p.name for p in (folder / "inputs").iterdir()] == ["scene.toml"]
    assert "coating.csv" not in kept.read_text()
    again = Scene.load(kept)
    assert again == scene
    assert material(again.model.surface[0].material).reflectance[0] == pytest.approx(0.1)


@pytest.mark.invariant
def test_the_colour_of_an_own_paint_is_judged(folder):
    bundled = (Path(data.__file__).parent / "reflectance" / "car-blue.csv").read_text()
    (folder / "blue.csv").write_text(bundled)
    scene, camera = Scene.load(bare("parking-colour")), Camera.load("fixed-2mp-lowlight")
    named = quick(scene, camera, seed=3, trials=4)
    own = quick(scene.set({"target.car.paint": folder / "blue.csv"}), camera, seed=3, trials=4)
    assert own.probability == named.probability > 0.0


@pytest.mark.invariant
def test_another_table_is_another_scene(folder):
    scene = Scene.load(folder / "own.toml")
    (folder / "coating.csv").write_text(TABLE.replace("700,0.5", "700,0.4"))
    assert Scene.load(folder / "own.toml") != scene


@pytest.mark.by_hand
def test_a_material_is_set_by_its_file(folder):
    changed = Scene.load("depot-gate-dark").set({"surface.road.material": folder / "coating.csv"})
    assert changed == Scene.load(folder / "own.toml")
    with pytest.raises(InputError, match="no such material") as caught:
        changed.set({"target.truck.paint": "missing.csv"})
    assert caught.value.argument == "set target.truck.paint"
    assert caught.value.given == "missing.csv"


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "header line missing"),
        (TABLE.replace("# status: measured\n", ""), "header line missing: status"),
        (TABLE.replace("# status: measured", "# status: guessed"), "known word"),
        (TABLE.replace("reflectance\n", "albedo\n"), "columns of a material"),
        (TABLE.replace("380,0.1", "400,0.1"), "from 380 nm on"),
        (TABLE.replace("1100,0.5", "1000,0.5"), "up to 1100 nm"),
        (TABLE.replace("700,0.5", "700,50"), "out of range"),
        (TABLE.replace("700,0.5", "700,half"), "700,half"),
        (TABLE.replace("700,0.5", "700,nan"), "finite"),
        (HEADER, "a row is not numbers"),
        ("# sheeting: type-x\n" + TABLE, "no such sheeting"),
        ("# sheeting_colour: pink\n" + TABLE, "no such sheeting colour"),
        ("# gloss_index: 1.5\n" + TABLE, "gloss_index and gloss_roughness"),
        ("# gloss_index: high\n# gloss_roughness: 0.1\n" + TABLE, "gloss_index and gloss"),
    ],
)
def test_a_table_at_fault_names_its_file_and_the_key(folder, text, part):
    error = refused(folder, text)
    assert part.lower() in str(error).lower()
    assert error.file == str(folder / "coating.csv")
    assert error.key in ("surface.road.material", "sheeting", "sheeting_colour")


@pytest.mark.by_hand
def test_a_file_that_is_not_there_is_told_with_the_folder(folder):
    (folder / "coating.csv").unlink()
    error = refused(folder)
    assert error.file == str(folder / "own.toml")
    assert (error.key, error.given) == ("surface.road.material", "coating.csv")
    assert str(folder) in error.allowed


@pytest.mark.by_hand
def test_tables_of_a_light_profile_lie_beside_the_profile(tmp_path):
    profiles = tmp_path / "lights"
    profiles.mkdir()
    (profiles / "lamp.csv").write_text("wavelength_nm,power\n500,1\n600,3\n")
    (profiles / "own.toml").write_text(
        'title = "own"\nspectrum = "lamp.csv"\nintensity_cd = 900.0\nbeam_deg = 40.0\n'
    )
    scene = Scene.load(bare("depot-gate-dark"))
    place = {"position_m": [1.0, 0.0, 3.0], "aim_m": [0.0, 18.0, 0.5]}
    entry = {"use": str(profiles / "own.toml"), **place}
    lit = scene.set({"illuminator.own": entry})
    lamp = next(x for x in lit.model.illuminator if x.name == "own")
    assert lamp.spectrum == (profiles / "lamp.csv").read_text()
    (profiles / "lamp.csv").unlink()
    assert lit.set({"illuminator.own.dimming": 0.5}) != lit  # nothing is looked for again
    with pytest.raises(InputError, match="no such spectrum") as caught:
        scene.set({"illuminator.own": entry})
    assert caught.value.file == str(profiles / "own.toml")
    assert caught.value.key == "spectrum"
