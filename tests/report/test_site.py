"""The site drawing and its table of lights."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from bare import bare
from PIL import Image

from simulator.camera.load import Camera
from simulator.errors import OutputError
from simulator.judge.density import CLASSES_PX_PER_M
from simulator.report.site import write_site
from simulator.report.survey.plan import DENSITIES, LEAST_DENSITY, MOST_DENSITY
from simulator.report.wording import three_digits, with_unit
from simulator.scene.build import build_world
from simulator.scene.kernels.irradiance import incident, packed_for_light
from simulator.scene.load import Scene
from simulator.studies.survey.site import survey_site

CAMERA = "fixed-2mp-lowlight"


def site_of(name: str, *sets: str):
    return survey_site(Scene.load(name, list(sets)), Camera.load(CAMERA))


def row(site, name: str):
    return next(r for r in site.rows if r.name == name)


@pytest.mark.invariant
def test_rows_add_up_to_the_whole():
    site = site_of(bare("depot-gate-infrared"), "lamp.gate lamp.on=true")
    for unit, whole in (("lx", site.lux), ("W/m²", site.irradiance_w_m2)):
        rows = [r for r in site.rows if r.quantity[1] == unit]
        assert sum(r.quantity[0] for r in rows) == pytest.approx(whole)
        assert sum(r.share for r in rows) == pytest.approx(1.0)


@pytest.mark.by_hand
def test_a_lamp_at_twice_the_distance_gives_a_quarter():
    """Inverse square: the illuminator moves out along the line to the target, aim unchanged."""
    plate, near = np.array([0.4, 18.0, 0.55]), np.array([0.4, 9.0, 0.55])
    far = 2.0 * near - plate
    found = []
    for place in (near, far):
        values = ", ".join(f"{v:g}" for v in place)
        site = site_of(
            bare("depot-gate-infrared"),
            f"illuminator.mast infrared.position_m=[{values}]",
            "illuminator.mast infrared.aim_m=[0.4, 18.0, 0.55]",
        )
        found.append(row(site, "mast infrared").irradiance_w_m2)
    # what the ground throws back of it does not follow the law
    assert found[1] == pytest.approx(found[0] / 4.0, rel=0.01)


@pytest.mark.by_hand
def test_irradiance_on_axis_is_intensity_over_distance_squared():
    """E = I cos(entrance) / d^2 for an illuminator aimed at the plate (its file says I)."""
    scene = Scene.load("depot-gate-infrared", ["illuminator.mast infrared.aim_m=[0.4, 18.0, 0.55]"])
    light = scene.model.illuminator[0]
    site = survey_site(scene, Camera.load(CAMERA))
    found = row(site, "mast infrared")
    to_light = np.asarray(light.position_m) - np.array([0.4, 18.0, 0.55])
    d = np.linalg.norm(to_light)
    cosine = -to_light[1] / d
    assert found.distance_m == pytest.approx(d)
    straight = light.radiant_intensity_w_per_sr * cosine / d**2
    point, normal = np.array([0.4, 18.0, 0.55]), np.array([0.0, -1.0, 0.0])
    world = build_world(scene.model)
    number = next(i for i, one in enumerate(world.lights) if one.name == "mast infrared")
    alone = incident(point, normal, *packed_for_light(world), world.targets["plate"][0])
    assert alone[0, number] == pytest.approx(straight, rel=1e-6)
    # the ground and the truck throw some of it onto the plate
    assert straight < found.irradiance_w_m2 < 1.05 * straight


@pytest.mark.invariant
def test_a_wall_before_the_target_shades_it():
    """The lamp stands behind the plate's vehicle: only what bounces reaches the plate."""
    site = site_of("loading-bay-dusk")
    lamp = row(site, "bay lamp left")
    assert lamp.entrance_deg > 90.0
    assert 0.0 < lamp.share < 0.05
    assert site.plane.lux.min() > 0.0


@pytest.mark.invariant
@pytest.mark.parametrize("name", [bare("depot-gate-infrared"), "yard-noon"], ids=["gate", "yard"])
def test_the_drawing_is_a_picture_of_full_size(tmp_path: Path, name: str):
    path = tmp_path / "site.png"
    write_site(path, site_of(name))
    with Image.open(path) as picture:
        assert picture.size == (1650, 1122)
        assert np.asarray(picture.convert("L")).std() > 10.0
    assert [p.name for p in tmp_path.iterdir()] == ["site.png"]


@pytest.mark.by_hand
def test_a_place_that_cannot_be_written_is_told(tmp_path: Path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError):
        write_site(tmp_path / "file" / "site.png", site_of(bare("yard-noon")))


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("value", "text"),
    [(33_012.0, "33 000"), (24.84, "24.8"), (0.01068, "0.0107"), (0.0, "0"), (2.0, "2"),
     (999.6, "1 000"), (4.4e-5, "4.4e-05")],
)  # fmt: skip
def test_three_digits(value: float, text: str):
    assert three_digits(value) == text


@pytest.mark.by_hand
def test_small_watts_are_told_in_thousandths():
    assert [with_unit(v, u) for v, u in (
        (3.2e-4, "W/sr"), (0.0123, "W/sr"), (0.00048, "W"), (0.001, "lx"), (0.0, "W"),
    )] == ["0.32 mW/sr", "0.0123 W/sr", "0.48 mW", "0.001 lx", "0 W"]  # fmt: skip


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["doorway-noon", "entry-panel-face", "sign-across-street"])
def test_a_site_is_surveyed_whatever_its_target_is(name: str):
    site = site_of(name)
    assert site.lux > 0.0
    assert len({r.name for r in site.rows}) == len(site.rows)
    assert not any("(part" in r.name for r in site.rows)


@pytest.mark.by_hand
def test_the_light_map_spans_lamps_and_picture():
    """The car park's masts stand farther than 4 m from the plate; the map reaches them."""
    scene = Scene.load(bare("car-park-led"), [])
    site = survey_site(scene, Camera.load(CAMERA))
    plate = site.target.centre_m
    for lamp in scene.model.lamp:
        aside = float(np.hypot(*(np.array(lamp.position_m) - plate)[:2]))
        assert max(-site.plane.across_m[0], site.plane.across_m[-1]) >= min(aside, 4.0)
        assert site.plane.up_m[-1] >= lamp.position_m[2]
    assert site.plane.across_m[0] <= -4.0
    assert site.plane.lux.shape == (site.plane.up_m.size, site.plane.across_m.size)


@pytest.mark.by_hand
@pytest.mark.parametrize(("name", "word"), [("parcel-shelf", "room light"), ("yard-noon", "sky")])
def test_light_of_a_room_is_not_called_sky(name, word):
    names = [r.name for r in site_of(name).rows]
    assert any(n == word or n.startswith(f"{word} ") for n in names)
    assert ("sky" in names) == (word == "sky")


@pytest.mark.invariant
def test_contours_are_those_of_one_edition():
    """IEC 62676-4:2014 whole: no density of another edition among them."""
    least = sorted(value for value, _ in CLASSES_PX_PER_M)
    assert list(DENSITIES) == least == [12.5, 25.0, 62.5, 125.0, 250.0, 1000.0]
    assert least[0] >= LEAST_DENSITY
    assert least[-1] == MOST_DENSITY
