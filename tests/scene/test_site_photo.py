"""A photograph of the site: its camera matched, its ground laid out, its levels made reflectances.

OpenCV's projection is the other library that tells where points lie in the picture.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from PIL import Image

from simulator.errors import FileFormatError, InputError
from simulator.scene.build import build_world
from simulator.scene.geometry import CLEAR, View
from simulator.scene.kernels.irradiance import incident, packed_for_light
from simulator.scene.kernels.pack import pack_scene, pack_view
from simulator.scene.kernels.seen import seen_at
from simulator.scene.load import Scene
from simulator.scene.model_photo import SitePhoto
from simulator.scene.photo_match import match
from simulator.scene.targets.photograph import luminance_of_white

SIZE = (1600, 900)
HEIGHT_M, VIEW_DEG, TILT_DEG, ROLL_DEG = 3.2, 62.0, 9.0, 1.5
FOCAL_PX = 800.0 / np.tan(np.radians(VIEW_DEG / 2.0))


def pixels(*points_m: tuple[float, float, float], roll_deg: float = ROLL_DEG) -> np.ndarray:
    """Where OpenCV's pinhole sees points of our axes [px]."""
    t, r = np.radians(TILT_DEG), np.radians(roll_deg)
    forward, down = [0.0, np.cos(t), -np.sin(t)], [0.0, -np.sin(t), -np.cos(t)]
    level = np.array([[1.0, 0.0, 0.0], down, forward])
    turn = np.array([[np.cos(r), -np.sin(r), 0.0], [np.sin(r), np.cos(r), 0.0], [0.0, 0.0, 1.0]])
    rotation = turn @ level
    vector = cv2.Rodrigues(rotation)[0]
    shift = -rotation @ np.array([0.0, 0.0, HEIGHT_M])
    camera = np.array([[FOCAL_PX, 0.0, 800.0], [0.0, FOCAL_PX, 450.0], [0.0, 0.0, 1.0]])
    found, _ = cv2.projectPoints(np.array(points_m), vector, shift, camera, None)
    return found.reshape(-1, 2)


def length(name: str, a: tuple[float, ...], b: tuple[float, ...], **more: object) -> dict:
    ends = pixels(a, b).tolist()
    size = float(np.linalg.norm(np.subtract(a, b)))
    return {"name": name, "from_px": ends[0], "to_px": ends[1], "length_m": size, **more}


BAY = length("parking bay", (-2.0, 8.0, 0.0), (-2.0, 13.0, 0.0))
ROAD = length("road", (-3.0, 15.0, 0.0), (4.0, 15.0, 0.0))
DOOR = length("door", (3.0, 17.0, 0.0), (3.0, 17.0, 2.1), upright=True)
HORIZON = pixels((-3e4, 1e5, HEIGHT_M), (3e4, 1e5, HEIGHT_M)).tolist()


def photo(**known: object) -> SitePhoto:
    whole = {"file": "site.png", "size_px": SIZE, "illuminance_lux": 10_000.0, **known}
    return SitePhoto.model_validate(whole)


@pytest.mark.outside
@pytest.mark.parametrize(
    "known",
    [
        {"horizon_px": HORIZON, "length": [BAY, ROAD]},
        {"horizon_px": HORIZON, "length": [BAY], "view_deg": VIEW_DEG},
        {"horizon_px": HORIZON, "length": [DOOR, BAY, ROAD]},
        {"horizon_px": HORIZON, "height_m": HEIGHT_M, "view_deg": VIEW_DEG},
    ],
)
def test_the_camera_is_found_again(known: dict) -> None:
    """From places where another library's camera sees known points."""
    found = match(photo(**known)).camera
    assert found.height_m == pytest.approx(HEIGHT_M, rel=0.005)
    assert found.view_deg == pytest.approx(VIEW_DEG, abs=0.3)
    assert np.degrees(found.tilt_rad) == pytest.approx(TILT_DEG, abs=0.05)
    places = pixels((1.0, 6.0, 0.0), (-2.0, 12.0, 0.0))
    assert found.ground_at(places)[:, :2] == pytest.approx(
        np.array([[1.0, 6.0], [-2.0, 12.0]]), rel=0.01, abs=0.01
    )


@pytest.mark.outside
def test_two_lengths_and_the_view_tell_height_and_tilt() -> None:
    ends = [pixels(*pair, roll_deg=0.0).tolist() for pair in (
        ((-2.0, 8.0, 0.0), (-2.0, 13.0, 0.0)), ((-3.0, 15.0, 0.0), (4.0, 15.0, 0.0)))]  # fmt: skip
    known = [
        {"name": f"{k}", "from_px": a, "to_px": b, "length_m": size}
        for k, ((a, b), size) in enumerate(zip(ends, (5.0, 7.0), strict=True))
    ]
    found = match(photo(length=known, view_deg=VIEW_DEG)).camera
    assert found.height_m == pytest.approx(HEIGHT_M, rel=0.005)
    assert np.degrees(found.tilt_rad) == pytest.approx(TILT_DEG, abs=0.05)


@pytest.mark.invariant
def test_what_does_not_tell_the_camera_is_refused() -> None:
    with pytest.raises(InputError, match="cannot be told") as caught:
        match(photo(length=[BAY]))
    assert "view_deg" in str(caught.value)
    # lengths across the view alone do not tell the angle of view
    across = [ROAD, length("kerb", (-2.0, 10.0, 0.0), (2.0, 10.0, 0.0))]
    with pytest.raises(InputError, match="along the view"):
        match(photo(horizon_px=HORIZON, length=across))
    with pytest.raises(InputError, match="contradicts"):
        match(photo(horizon_px=HORIZON, length=[BAY, ROAD, {**DOOR, "length_m": 4.0}]))
    with pytest.raises(ValueError, match="patch, or illuminance_lux"):
        SitePhoto.model_validate({"file": "a.png", "size_px": SIZE})


@pytest.fixture
def site(make_scene, tmp_path):
    """A scene with a photograph of blocks of grey, taken by the camera above without roll."""
    blocks = np.random.default_rng(3).choice([40, 90, 140, 200], (9, 16)).astype(np.uint8)
    blocks[6, 8] = 140
    picture = np.kron(blocks, np.ones((100, 100), np.uint8))
    Image.fromarray(np.stack([picture] * 3, axis=-1)).save(tmp_path / "site.png")

    def load(*, target=(), **known):
        raw = make_scene(
            natural_light={"illuminance_lux": 20_000.0, "sun_share": 0.8, "sun_azimuth_deg": 90.0}
        ).model_dump(exclude_none=True, exclude_defaults=True)
        raw.pop("station")
        raw["target"] = [*raw["target"], *target]
        raw["site_photo"] = {
            "file": "site.png", "size_px": list(SIZE), "height_m": HEIGHT_M,
            "view_deg": VIEW_DEG, "tilt_deg": TILT_DEG,
            "patch": {"at_px": [850, 650], "reflectance": 0.3}, **known,
        }  # fmt: skip
        raw["site_photo"] = {k: v for k, v in raw["site_photo"].items() if v is not None}
        return Scene.from_dict(raw, name="s", folder=tmp_path), picture

    return load


def shown(world, station, width, height):
    """What a camera of the photograph's angle of view shows (height, width)."""
    focal = FOCAL_PX * width / SIZE[0]
    view = View.aimed(np.array(station.position_m), np.array(station.aim_m), width, height, focal)
    x, y = np.arange(width) + 0.5, np.arange(height) + 0.5
    return seen_at(x, y, pack_scene(world, view), pack_view(view, 1.0, 1e6), False, grid=True)


@pytest.mark.by_hand
def test_the_photograph_fills_the_frame(site) -> None:
    """The planned camera stands where the photograph was taken and sees it again."""
    scene, picture = site(ground_to_m=40.0)
    station = scene.model.station
    assert station.height_m == HEIGHT_M
    world = build_world(scene.model)
    seen = shown(world, station, 320, 180)
    # a grey's reflectance is that of the known patch times its linear level over the patch's
    level = np.array([m.reflectance[200] for m in world.materials])[seen.mats]
    linear = ((picture[2::5, 2::5] / 255.0 + 0.055) / 1.055) ** 2.4
    wanted = 0.3 * linear / ((140.0 / 255.0 + 0.055) / 1.055) ** 2.4
    plate = seen.card == [c.name for c in world.cards].index("plate")
    same = np.isclose(level, wanted, rtol=0.02)[~plate]
    assert same.mean() > 0.97  # blocks' rims may fall a pixel beside


@pytest.mark.invariant
def test_its_ground_is_the_scenes_ground(site) -> None:
    """A box that stands on it is as far away as the matched camera has it, and throws a shadow."""
    person = {"name": "visitor", "kind": "person", "position_m": [0.0, 9.0, 0.0]}
    scene, _ = site(target=[person])
    world = build_world(scene.model)
    grounds = [c for c in world.cards if c.name.startswith("photographed ground")]
    assert grounds
    assert all(c.corner_m[2] < 0.01 and not c.casts_shadow for c in grounds)
    packed, lights = packed_for_light(world)
    sun = next(i for i, light in enumerate(world.lights) if light.kind == "sun")
    # the sun stands 45 degrees high to the right: the shadow falls to the left
    places = np.array([[-0.8, 9.0, 0.003], [0.8, 9.0, 0.003]])
    lit = incident(places, np.array([0.0, 0.0, 1.0]), packed, lights)[:, sun]
    assert lit[0] == pytest.approx(0.0, abs=1e-6)
    assert lit[1] > 1000.0


@pytest.mark.by_hand
def test_a_wall_stands_over_its_foot(site) -> None:
    ends = pixels((-3.0, 12.0, 0.0), (2.0, 14.0, 0.0), roll_deg=0.0).tolist()
    wall = {"name": "house", "from_px": ends[0], "to_px": ends[1], "height_m": 2.5}
    world = build_world(site(wall=[wall])[0].model)
    card = next(c for c in world.cards if c.name == "house")
    assert card.width_m == pytest.approx(np.hypot(5.0, 2.0), rel=1e-3)
    assert card.corners_m[:, 2].min() == pytest.approx(0.0, abs=1e-6)
    assert card.centre_m[:2] == pytest.approx([-0.5, 13.0], abs=0.01)
    assert card.normal[1] < 0.0
    assert card.casts_shadow
    assert np.mean(card.texture != CLEAR) > 0.95


@pytest.mark.invariant
def test_shape_and_files_are_checked(site) -> None:
    with pytest.raises(InputError, match="another shape"):
        build_world(site(size_px=[900, 1600])[0].model)
    with pytest.raises(FileFormatError, match="known patch"):
        build_world(site(patch={"at_px": [5000, 650], "reflectance": 0.3})[0].model)
    with pytest.raises(FileFormatError, match="exposure"):
        build_world(site(patch=None, illuminance_lux=5000.0)[0].model)


@pytest.mark.outside
def test_luminance_by_the_exposure_in_the_file(tmp_path) -> None:
    """f/16, 1/100 s and ISO 100 suit full sun (common practice, no source): a middle grey of 18 %
    under 100 000 lx has 5730 cd/m2, which lies within a stop of level 118."""
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0x829D: 16.0, 0x829A: 0.01, 0x8827: 100})
    file = tmp_path / "sun.jpg"
    Image.fromarray(np.full((8, 8, 3), 118, np.uint8)).save(file, exif=exif)
    middle = 0.18 * luminance_of_white(file)
    assert 0.5 < middle / (0.18 * 1e5 / np.pi) < 2.0
