"""The result folder: what stands in it, that it is whole, and that it can be repeated."""

from __future__ import annotations

import json

import numpy as np
import pytest
import tifffile
from bare import bare
from PIL import Image

from simulator import Camera, Scene, predict
from simulator.studies.overrides import load_pair

SHORT = {"remedies": False, "tolerances": False}
"""What these checks do not need and what takes longest."""

SETS = (
    "sensor.width_px=480",
    "sensor.height_px=270",
    "processing.temporal_noise_reduction=0",
)
ALWAYS = {
    "frame.png", "target.png", "sheet.png", "sheet-2.png",
    "verdict.json",
    "inputs/scene.toml", "inputs/camera.toml", "inputs/run.json", "manifest.json"}  # fmt: skip


@pytest.fixture(scope="module")
def result():
    return predict(
        *load_pair(bare("depot-gate-infrared"), "fixed-2mp-lowlight", SETS),
        seed=11,
        **SHORT,
    )


@pytest.fixture(scope="module")
def folder(result, tmp_path_factory):
    return result.save(tmp_path_factory.mktemp("report") / "result", raw=True)


def names_in(folder):
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.invariant
def test_files(result, folder, tmp_path):
    assert names_in(folder) == ALWAYS | {"raw.tiff", "electrons-per-second.tiff"}
    assert names_in(result.save(tmp_path / "plain")) == ALWAYS
    assert names_in(result.save(str(tmp_path / "by text"))) == ALWAYS


@pytest.mark.invariant
def test_verdict_json(result, folder):
    text = (folder / "verdict.json").read_text(encoding="utf-8")
    assert json.loads(text) == result.verdict.to_dict()
    assert text.startswith('{\n  "schema_version": 2,')
    assert text.endswith("}\n")


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["frame.png", "target.png", "sheet.png"])
def test_pictures_carry_their_origin(result, folder, name):
    with Image.open(folder / name) as picture:
        picture.load()
        text = picture.text
    assert text["Software"] == f"nightproof {result.verdict.versions['nightproof']}"
    comment = text["Comment"]
    assert "seed 11" in comment
    assert result.verdict.input_hash in comment
    assert "depot-gate-infrared" in comment
    assert "fixed-2mp-lowlight" in comment
    for library, number in result.verdict.versions.items():
        assert f"{library} {number}" in comment


@pytest.mark.invariant
def test_frame_png_is_the_frame(result, folder):
    with Image.open(folder / "frame.png") as picture:
        assert picture.mode == "RGB"
        assert np.array_equal(np.asarray(picture), result.frame)


@pytest.mark.invariant
def test_target_png_repeats_whole_pixels(result, folder):
    with Image.open(folder / "target.png") as picture:
        big = np.asarray(picture)
    assert np.array_equal(big, result.target_picture)
    x0, y0, x1, y1 = result.verdict.target.box_px
    # some whole factor that shows every pixel of the plate as a block
    found = [
        k
        for k in range(2, 40)
        if big.shape[0] % k == 0
        and big.shape[1] % k == 0
        and np.array_equal(big, big[::k, ::k].repeat(k, axis=0).repeat(k, axis=1))
    ]
    assert found
    small = big[:: found[-1], :: found[-1]]
    assert small.shape[0] > y1 - y0 and small.shape[1] > x1 - x0
    plate = result.frame[y0:y1, x0:x1]
    windows = np.lib.stride_tricks.sliding_window_view(small, plate.shape)[:, :, 0]
    assert (windows == plate).all(axis=(2, 3, 4)).any()


@pytest.mark.invariant
def test_raw_is_the_mosaic_in_sixteen_bits(result, folder):
    with tifffile.TiffFile(folder / "raw.tiff") as file:
        raw = file.asarray()
        assert "DN" in file.pages[0].description
        assert "seed 11" in file.pages[0].description
    assert raw.dtype == np.uint16
    assert raw.shape == (270, 480)
    assert np.array_equal(raw, result.stages["mosaic"][0])
    chain = result.state.chain
    assert raw.max() <= chain.white_dn


@pytest.mark.invariant
def test_electrons_per_second_are_linear_light(result, folder):
    with tifffile.TiffFile(folder / "electrons-per-second.tiff") as file:
        light = file.asarray()
        assert "e-/s" in file.pages[0].description
    assert light.dtype == np.float32
    assert light.shape == (270, 480, 3)
    assert np.array_equal(light, result.stages["rate"][0])
    assert np.isfinite(light).all() and light.min() >= 0.0


@pytest.mark.outside
def test_raw_of_another_reader(result, folder):
    """Pillow, another TIFF reader, sees the same mosaic."""
    with Image.open(folder / "raw.tiff") as picture:
        assert np.array_equal(np.asarray(picture), result.stages["mosaic"][0])


@pytest.mark.invariant
def test_inputs_repeat_the_verdict(result, folder):
    scene = Scene.load(folder / "inputs" / "scene.toml")
    camera = Camera.load(folder / "inputs" / "camera.toml")
    again = predict(scene, camera, seed=11, **SHORT)
    assert np.array_equal(again.frame, result.frame)
    named = {"scene", "camera"}  # these hold the file's own name
    assert {k: v for k, v in again.verdict.to_dict().items() if k not in named} == {
        k: v for k, v in result.verdict.to_dict().items() if k not in named
    }


@pytest.mark.invariant
@pytest.mark.parametrize("earlier", [False, True])
def test_half_a_folder_is_never_left(result, tmp_path, monkeypatch, earlier):
    place = tmp_path / "made" / "here"
    if earlier:
        result.save(place)
        before = {name: (place / name).read_bytes() for name in names_in(place)}

    def fail(*_, **__):
        raise RuntimeError("the sheet cannot be drawn")

    monkeypatch.setattr("simulator.report.sheet.draw_sheet", fail)
    with pytest.raises(RuntimeError, match="cannot be drawn"):
        result.save(place)
    if earlier:
        assert {name: (place / name).read_bytes() for name in names_in(place)} == before
        assert [p.name for p in place.parent.iterdir()] == ["here"]
    else:
        assert list(tmp_path.iterdir()) == []


@pytest.mark.invariant
def test_an_earlier_result_is_overwritten(result, tmp_path):
    place = tmp_path / "result"
    result.save(place, raw=True)
    result.save(place)
    assert names_in(place) == ALWAYS
    assert [p.name for p in tmp_path.iterdir()] == ["result"]
