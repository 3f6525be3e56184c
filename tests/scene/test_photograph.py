"""Photographs as backdrops: levels become reflectances, in order and in place."""

from __future__ import annotations

import contextlib
import io
import re

import cv2
import numpy as np
import pytest
import tifffile
from PIL import Image

from simulator.errors import FileFormatError, InputError
from simulator.scene.build import build_world
from simulator.scene.geometry import CLEAR
from simulator.scene.load import Scene
from simulator.scene.targets.photograph import MAX_SIDE_PX, read_photograph
from simulator.units import WAVELENGTH_NM


def save(path, pixels, **options):
    Image.fromarray(np.asarray(pixels, dtype=np.uint8)).save(path, **options)
    return path


def greys(*levels):
    return np.repeat(np.array(levels, np.uint8)[None, :, None], 3, axis=2).repeat(4, axis=0)


@pytest.fixture
def scene_with(make_scene, tmp_path):
    """A scene file's table with photographs of it, loaded as from that folder."""

    def load(*photographs, **tables):
        raw = make_scene(**tables).model_dump(exclude_none=True, exclude_defaults=True)
        raw["surface"] = [
            {
                "name": f"view {k}",
                "kind": "photograph",
                "file": str(file),
                "position_m": [0.0, 25.0, 0.0],
                "width_m": 8.0,
            }
            for k, file in enumerate(photographs)
        ]
        return Scene.from_dict(raw, name="s", folder=tmp_path)

    return load


@pytest.mark.by_hand
def test_known_grey_has_the_known_reflectance(tmp_path):
    """sRGB level 188 is 0.5029 of white, 118 is 0.1812, 10 is 0.003035 (IEC 61966-2-1)."""
    found = read_photograph(save(tmp_path / "a.png", greys(255, 188, 118, 10)), 0.9)
    values = found.reflectances[found.indices[0]]
    for reflectance, share in zip(values, (1.0, 0.5029, 0.1812, 0.003035), strict=True):
        assert reflectance == pytest.approx(0.9 * share, rel=1e-3)


@pytest.mark.invariant
def test_colours_keep_their_order_and_place(tmp_path):
    pixels = np.zeros((2, 3, 3), np.uint8)
    pixels[0] = [[230, 40, 40], [40, 230, 40], [40, 40, 230]]
    pixels[1] = 120
    found = read_photograph(save(tmp_path / "a.png", pixels), 0.8)
    assert found.indices.shape == (2, 3)
    bands = [
        np.abs(WAVELENGTH_NM - middle) < half
        for middle, half in ((660.0, 40.0), (540.0, 20.0), (430.0, 30.0))
    ]
    for column, band in enumerate(bands):
        mean = [found.reflectances[found.indices[0, c]][band].mean() for c in range(3)]
        assert int(np.argmax(mean)) == column
    assert np.all((found.reflectances >= 0.0) & (found.reflectances <= 0.8 + 1e-12))


@pytest.mark.invariant
def test_brighter_levels_stay_brighter(tmp_path):
    ramp = greys(*range(0, 256, 3))
    found = read_photograph(save(tmp_path / "a.png", ramp), 0.9)
    levels = found.reflectances[found.indices[0], 0]
    assert np.all(np.diff(levels) > 0.0)
    few = read_photograph(tmp_path / "a.png", 0.9, colours=8)
    assert len(few.reflectances) <= 8
    assert np.all(np.diff(few.reflectances[few.indices[0], 0]) >= 0.0)


@pytest.mark.by_hand
def test_a_large_picture_is_averaged_in_linear_light(tmp_path):
    """Fine black and white columns become half of white, level 188."""
    pixels = np.zeros((4, 2 * MAX_SIDE_PX, 3), np.uint8)
    pixels[:, ::2] = 255
    found = read_photograph(save(tmp_path / "a.png", pixels), 0.9)
    assert found.indices.shape == (2, MAX_SIDE_PX)
    assert found.reflectances[found.indices] == pytest.approx(0.45, rel=0.01)


@pytest.mark.invariant
def test_a_turned_photograph_is_set_upright(tmp_path):
    exif = Image.Exif()
    exif[274] = 6
    path = save(tmp_path / "a.jpg", np.full((8, 16, 3), 99), exif=exif)
    assert read_photograph(path, 0.9).indices.shape == (16, 8)


@pytest.mark.invariant
def test_what_is_no_picture_is_refused(tmp_path):
    (tmp_path / "a.png").write_text("not a picture")
    deep = tmp_path / "deep.png"
    Image.fromarray(np.full((4, 4), 40_000, np.uint16)).save(deep)
    for path, told in (
        (tmp_path / "a.png", "no picture of these kinds"),
        (tmp_path / "missing.png", "no such file"),
        (tmp_path, "a folder"),
        (deep, "more than 8 bits"),
    ):
        with pytest.raises(FileFormatError, match=told):
            read_photograph(path, 0.9)


@pytest.mark.invariant
@pytest.mark.parametrize("form", ["GIF", "BMP", "PPM", "WEBP", "ICO", "EPS"])
def test_no_other_decoder_is_started(tmp_path, form):
    """Whatever its name says."""
    Image.new("RGB", (32, 32), "red").save(tmp_path / "a.png", form)
    with pytest.raises(FileFormatError, match="no picture of these kinds"):
        read_photograph(tmp_path / "a.png", 0.9)


@pytest.mark.invariant
def test_sixteen_bit_colour_is_refused_and_not_cut_off(tmp_path):
    """Pillow reads such a PNG as 8 bits without a word; OpenCV writes one."""
    cv2.imwrite(str(tmp_path / "a.png"), np.full((4, 4, 3), 40_000, np.uint16))
    tifffile.imwrite(tmp_path / "a.tif", np.full((4, 4, 3), 40_000, np.uint16), photometric="rgb")
    for name in ("a.png", "a.tif"):
        with pytest.raises(FileFormatError, match=r"more than 8 bits|broken picture"):
            read_photograph(tmp_path / name, 0.9)
    tifffile.imwrite(tmp_path / "b.tif", np.full((4, 4, 3), 188, np.uint8), photometric="rgb")
    found = read_photograph(tmp_path / "b.tif", 0.9)
    assert found.reflectances[found.indices[0, 0], 0] == pytest.approx(0.9 * 0.5029, rel=1e-3)


@pytest.mark.invariant
def test_more_pixels_than_allowed_are_refused_before_they_are_decoded(tmp_path):
    Image.new("1", (10_000, 8001)).save(tmp_path / "a.png")
    with pytest.raises(FileFormatError, match="10000 x 8001 pixels"):
        read_photograph(tmp_path / "a.png", 0.9)


@pytest.mark.by_hand
def test_what_is_transparent_lets_the_view_through(scene_with, tmp_path):
    pixels = np.full((4, 6, 4), 188, np.uint8)
    pixels[:, :3, 3] = 0
    save(tmp_path / "view.png", pixels)
    world = build_world(scene_with("view.png").model)
    card = next(c for c in world.cards if c.name == "view 0")
    assert np.all(card.texture[:, :3] == CLEAR)
    shown = world.materials[card.texture[0, 4]].reflectance
    assert shown == pytest.approx(0.9 * 0.5029, rel=1e-3)
    pixels[..., 3] = 0
    save(tmp_path / "none.png", pixels)
    with pytest.raises(FileFormatError, match="nothing of it is seen"):
        read_photograph(tmp_path / "none.png", 0.9)


@pytest.mark.by_hand
def test_the_card_keeps_the_shape_of_the_picture(scene_with, tmp_path):
    pixels = np.zeros((30, 60, 3), np.uint8)
    pixels[:, 30:] = 188
    save(tmp_path / "view.png", pixels)
    world = build_world(scene_with("view.png").model)
    card = next(c for c in world.cards if c.name == "view 0")
    assert (card.width_m, card.height_m) == (8.0, 4.0)
    assert card.centre_m == pytest.approx([0.0, 25.0, 2.0])
    left, right = (world.materials[card.texture[10, c]] for c in (5, 50))
    assert left.reflectance == pytest.approx(0.0)
    assert right.reflectance == pytest.approx(0.9 * 0.5029, rel=1e-3)
    (said,) = [m for m in world.assumptions if m.id == "assumption.photograph"]
    assert said.values["photograph"] == "view 0"


@pytest.mark.invariant
def test_the_file_is_found_beside_the_scene_and_its_whole_path_kept(scene_with, tmp_path):
    save(tmp_path / "view.png", greys(10, 200))
    scene = scene_with("view.png")
    kept = re.search(r'file = "(.*)"', scene.to_toml())
    assert kept is not None
    assert kept[1] == str(tmp_path / "view.png")
    elsewhere = tmp_path / "result" / "inputs"
    elsewhere.mkdir(parents=True)
    (elsewhere / "scene.toml").write_text(scene.to_toml())
    again = Scene.load(elsewhere / "scene.toml")
    assert again.model == scene.model
    with pytest.raises(InputError, match="no such photograph") as caught:
        scene_with("viev.png")
    assert caught.value.key == "surface.view 0.file"


@pytest.mark.invariant
def test_photographs_share_the_room_for_materials(scene_with, tmp_path):
    rng = np.random.default_rng(3)
    save(tmp_path / "view.png", rng.integers(0, 256, (64, 64, 3)))
    world = build_world(scene_with(*["view.png"] * 4).model)
    assert len(world.materials) <= CLEAR
    for k in range(4):
        card = next(c for c in world.cards if c.name == f"view {k}")
        used = {world.materials[i].name for i in np.unique(card.texture)}
        assert len(used) > 40
        assert all(name.startswith(f"view {k} (colour") for name in used)


@pytest.mark.invariant
def test_too_many_photographs_are_refused(scene_with, tmp_path):
    save(tmp_path / "view.png", greys(10, 200))
    with pytest.raises(FileFormatError, match="no room") as caught:
        build_world(scene_with(*["view.png"] * 40).model)
    assert caught.value.key == "surface.view 0.file"
    assert "254" in caught.value.allowed


@pytest.mark.invariant
def test_a_broken_compressed_picture_is_told_once_and_in_our_words(tmp_path, capfd):
    """The decoder in C writes lines of its own to the terminal, which say nothing of the fix."""
    out = io.BytesIO()
    noise = np.random.default_rng(1).integers(0, 255, (64, 64, 3), np.uint8)
    Image.fromarray(noise).save(out, "TIFF", compression="tiff_lzw")
    broken = bytearray(out.getvalue())
    for k in range(8, 2000, 7):
        broken[k] ^= 0x5A
    (tmp_path / "broken.tif").write_bytes(broken)
    with Image.open(tmp_path / "broken.tif") as picture, contextlib.suppress(OSError):
        picture.load()
    assert capfd.readouterr().err != ""  # it does write, without our guard
    with pytest.raises(FileFormatError):
        read_photograph(tmp_path / "broken.tif", 0.9)
    assert capfd.readouterr().err == ""
