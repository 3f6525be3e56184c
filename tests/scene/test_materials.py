from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from simulator import data
from simulator.app.cli import app
from simulator.errors import NameNotFoundError
from simulator.scene.build import build_world
from simulator.scene.materials import (
    Gloss,
    material,
    material_names,
    sheeting,
    sheeting_colours,
    sheeting_names,
)


@pytest.mark.invariant
@pytest.mark.parametrize("name", material_names())
def test_reflectance_is_physical(name):
    found = material(name)
    assert found.reflectance.shape == (721,)
    assert np.all((found.reflectance > 0.0) & (found.reflectance < 1.0))
    assert found.status.split()[0].rstrip(",") in ("measured", "assumed", "datasheet", "computed")
    assert found.origin
    assert found.sheeting is None or sheeting(found.sheeting).table.min() > 0.0
    if found.gloss is not None:
        assert found.gloss.index > 1.0
        assert 0.0 < found.gloss.roughness <= 1.0
        # what it mirrors head on and what it scatters under that coat never add to more than all
        head_on = ((found.gloss.index - 1.0) / (found.gloss.index + 1.0)) ** 2  # Fresnel
        assert np.all(head_on + (1.0 - head_on) * found.reflectance < 1.0)


@pytest.mark.invariant
def test_the_needed_materials_exist():
    assert {
        "asphalt", "concrete", "grass", "grey-18", "white-90", "black-4", "paint-white",
        "paint-black", "paint-grey", "paint-red", "paint-blue", "paint-silver", "plate-white",
        "plate-yellow", "plate-black-ink", "glass-dark", "plastic-black", "rubber",
        "steel-galvanised", "chrome-dull", "brick", "snow", "leaves", "skin-mean", "lamp-glass",
        "cotton-white", "cotton-dyed-dark", "asphalt-wet", "gravel", "soil", "grass-dry", "conifer",
        "skin-very-light", "skin-light", "skin-medium", "skin-dark", "skin-very-dark",
        "cotton-black", "cotton-navy", "cotton-red", "cotton-green", "polyester-black",
        "fabric-carbon-black", "wool-grey", "denim-blue", "leather-black", "high-visibility-yellow",
        "high-visibility-orange", "car-white", "car-black", "car-black-dyed", "car-silver",
        "car-grey", "car-red", "car-blue", "car-green", "car-yellow", "aluminium", "glass-window",
        "plastic-white", "wood", "cardboard", "paper-white", "foam-white", "sign-white", "sign-red",
        *(f"chart24-{n:02d}" for n in range(1, 25)),
    } <= set(material_names())  # fmt: skip
    assert material("plate-white").sheeting == "plate-white"
    assert material("plate-black-ink").sheeting is None


@pytest.mark.invariant
def test_interpolation_does_not_overshoot_flat_materials():
    assert np.ptp(material("grey-18").reflectance) < 1e-12


@pytest.mark.invariant
def test_dark_clothes_and_leaves_turn_pale_in_the_near_infrared():
    at_550, at_850 = 550 - 380, 850 - 380
    for name in ("cotton-dyed-dark", "grass", "leaves"):
        reflectance = material(name).reflectance
        assert reflectance[at_850] > 4.0 * reflectance[at_550]
    ink = material("plate-black-ink").reflectance
    assert ink[at_850] < 0.2 * material("plate-white").reflectance[at_850]


@pytest.mark.invariant
def test_unknown_names_tell_the_nearest():
    with pytest.raises(NameNotFoundError, match="asphalt"):
        material("asfalt")
    with pytest.raises(NameNotFoundError, match="type-iii"):
        sheeting("type-ii")


@pytest.mark.invariant
@pytest.mark.parametrize("name", sheeting_names())
def test_sheeting_falls_with_both_angles_and_has_no_step(name):
    observation = np.linspace(0.0, 10.0, 2001)[:, None]
    entrance = np.linspace(0.0, 89.0, 179)[None, :]
    value = sheeting(name).coefficient(observation, entrance)
    assert np.all(value > 0.0)
    assert np.all(np.diff(value, axis=0) <= 1e-12)
    assert np.all(np.diff(value, axis=1) <= 1e-12)
    # at most 3 percent in .005 deg of observation and 25 in .5 deg of entrance: no jump where one
    # law hands over to the next
    assert np.all(value[1:] / value[:-1] > 0.97)
    assert np.all(value[:, 1:] / value[:, :-1] > 0.75)


@pytest.mark.by_hand
def test_sheeting_between_and_beyond_the_table():
    found = sheeting("type-i")
    # half way in angle between 70 and 30: geometric mean
    assert found.coefficient(0.35, 4.0) == pytest.approx(np.sqrt(70.0 * 30.0))
    # slope goes on to 1 deg: 30 x (30/70)^(.5/.3) = 7.308; then 1/angle^2
    assert found.coefficient(1.0, 4.0) == pytest.approx(7.308, rel=1e-3)
    assert found.coefficient(2.0, 4.0) == pytest.approx(7.308 / 4.0, rel=1e-3)
    # entrance: ln R_A linear in the square, so at 21.4009 deg (mean of 16 and 900) half way
    assert found.coefficient(0.2, np.sqrt(458.0)) == pytest.approx(np.sqrt(70.0 * 30.0))
    assert found.coefficient(0.2, 90.0) == 0.0
    assert found.coefficient(-0.2, -4.0) == found.coefficient(0.2, 4.0)


@pytest.mark.invariant
@pytest.mark.parametrize("name", sheeting_names())
def test_dense_table_agrees_with_the_function(name):
    found = sheeting(name)
    dense = found.dense_table()
    assert dense.shape == (201, 41)
    assert dense.dtype == np.float32
    assert dense[4, 2] == pytest.approx(float(found.coefficient(0.2, 4.0)), rel=1e-6)
    assert dense[200, 40] == pytest.approx(float(found.coefficient(10.0, 80.0)), rel=1e-6)
    # linear reading between its nodes stays close to the function
    half = 0.5 * (dense[7, 3] + dense[8, 3])
    assert half == pytest.approx(float(found.coefficient(0.375, 6.0)), rel=1e-2)


@pytest.mark.by_hand
def test_paint_has_a_coat_and_cotton_none():
    assert material("car-white").gloss == Gloss(1.5, 0.03)
    assert material("cotton-white").gloss is None


@pytest.mark.by_hand
def test_scaled_material():
    half = material("grey-48").scaled(0.5)
    assert half.reflectance == pytest.approx(np.full(721, 0.24))
    assert material("snow").scaled(3.0).reflectance.max() < 1.0
    assert material("snow").scaled(1.0) is material("snow")
    with pytest.raises(ValueError, match="read-only"):
        half.reflectance[0] = 1.0


@pytest.mark.by_hand
def test_wet_asphalt():
    # .98 x .072 / (1.33^2 x (1 - .072) + .072) = .07056 / 1.71354 = .04118 at 550 nm
    wet = material("asphalt-wet")
    assert wet.reflectance[550 - 380] == pytest.approx(0.04118, abs=1e-5)
    assert wet.gloss is not None and wet.gloss.index == pytest.approx(1.33)


@pytest.mark.by_hand
def test_coloured_sheeting():
    # red has .18 of white: 250 x .18 = 45 at .2/4 degrees of type III
    assert sheeting_colours() == ["blue", "brown", "green", "orange", "red", "yellow"]
    assert sheeting("type-iii-red").coefficient(0.2, 4.0) == pytest.approx(45.0)
    with pytest.raises(NameNotFoundError):
        sheeting("type-iii-mauve")


@pytest.mark.invariant
@pytest.mark.parametrize("colour", sheeting_colours())
def test_sign_colours_fade_in_the_near_infrared(colour):
    white, coloured = material("sign-white").reflectance, material(f"sign-{colour}").reflectance
    assert np.all(coloured <= white + 1e-12)
    assert coloured[940 - 380] == pytest.approx(white[940 - 380], rel=0.02)


KEPT = (data.names, data.read_table, material)


@pytest.fixture
def felt(tmp_path, monkeypatch):
    """The tables of this package with one more: a grey of 25 % everywhere."""
    folder = tmp_path / "data"
    shutil.copytree(Path(data.__file__).parent, folder, ignore=shutil.ignore_patterns("*.py"))
    header = "# title: Felt\n# origin: made up\n# status: assumed\n# units: 1\n# range: all\n"
    (folder / "reflectance" / "felt.csv").write_text(
        f"{header}wavelength_nm,reflectance\n380,0.25\n1100,0.25\n"
    )
    monkeypatch.setattr(data, "_FOLDER", folder)
    for kept in KEPT:
        kept.cache_clear()
    yield "felt"
    for kept in KEPT:
        kept.cache_clear()


@pytest.mark.invariant
def test_a_table_is_a_material_by_itself(felt, make_scene):
    assert material(felt).reflectance == pytest.approx(0.25)
    scene = make_scene(surface=[{"kind": "ground", "name": "floor", "material": felt}])
    assert any(m.name == felt for m in build_world(scene).materials)
    assert felt in CliRunner().invoke(app, ["list"]).output.split()
