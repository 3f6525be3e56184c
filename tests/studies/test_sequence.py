"""Frames one after another: settling, memory, switching, the codec, and the files."""

from __future__ import annotations

import json

import numpy as np
import pytest
from bare import bare

from simulator.errors import InputError
from simulator.report.sequence_files import film_table
from simulator.studies.overrides import load_pair
from simulator.studies.sequence import predict_sequence

SMALL = (
    "sensor.width_px=240", "sensor.height_px=136", "sensor.pixel_pitch_um=23.2",
    "lens.image_circle_mm=7.0",
)  # fmt: skip
BENCH = ("colour-chart-bench", "fixed-2mp-lowlight")


def bench(*sets: str):
    return load_pair(*BENCH, [*SMALL, *sets])


@pytest.fixture(scope="module")
def falling():
    """The light falls from 300 to 0.5 lx; the camera may switch after 0.4 s."""
    sets = ("natural_light.illuminance_lux=0.5", "day_night.delay_s=0.4")
    scene, camera = bench(*sets)
    before, _ = bench()
    return predict_sequence(scene, camera, 24, seed=3, before=before)


@pytest.mark.invariant
def test_exposure_starts_where_it_was_and_goes_where_it_must(falling):
    first, last = falling.frames[0], falling.frames[-1]
    assert first.mode == "day"
    assert first.picture.mean() < 8
    product = [e.shutter_s * 10 ** (e.gain_db / 20) for e in (first.exposure, last.exposure)]
    assert product[1] > 100.0 * product[0]
    assert last.exposure.limited_by == "nothing"
    assert last.picture.mean() > 60
    assert [f.time_s for f in falling.frames] == pytest.approx(np.arange(24) / 25.0)


@pytest.mark.invariant
def test_mode_switches_after_its_delay_and_takes_the_colour(falling):
    modes = [f.mode for f in falling.frames]
    switch = modes.index("night")
    assert falling.frames[switch].time_s == pytest.approx(0.4)
    assert set(modes[switch:]) == {"night"}
    before, after = falling.frames[switch - 1].picture, falling.frames[switch].picture
    assert np.ptp(before.astype(int), axis=2).max() > 10
    assert np.ptp(after.astype(int), axis=2).max() == 0


@pytest.mark.invariant
def test_settled_camera_stays_and_its_memory_takes_noise_away():
    scene, camera = bench(
        "natural_light.illuminance_lux=0.05", "day_night.mode=night",
        "sensor.dsnu_e=0.0", "sensor.prnu=0.0", "processing.noise_reduction=0.0",
        "processing.sharpening=0.0",
        "processing.temporal_noise_reduction=0.8",
    )  # fmt: skip
    one, two = (predict_sequence(scene, camera, 8, seed=seed) for seed in (3, 4))
    assert len({round(f.exposure.gain_db, 6) for f in one.frames}) == 1
    # a recursion of share 0.8 leaves sqrt((1 - 0.8) / (1 + 0.8)) = 0.33 of the noise where nothing
    # is taken for movement; chance differences of several sigma are
    noise = [
        np.std(a.picture.astype(float) - b.picture)
        for a, b in zip(one.frames, two.frames, strict=True)
    ]
    assert 0.3 * noise[0] < noise[-1] < 0.6 * noise[0]


@pytest.mark.invariant
def test_same_seed_same_frames():
    scene, camera = bench("natural_light.illuminance_lux=5.0")
    a, b = (predict_sequence(scene, camera, 2, seed=9) for _ in range(2))
    np.testing.assert_array_equal(a.frames[1].picture, b.frames[1].picture)
    assert np.any(a.frames[0].picture != a.frames[1].picture)


@pytest.mark.invariant
def test_moving_things_pass_their_place_in_the_middle():
    scene, camera = load_pair(
        bare("depot-gate-infrared"), "fixed-2mp-lowlight",
        [*SMALL, "processing.temporal_noise_reduction=0.0"],
    )  # fmt: skip
    found = predict_sequence(scene, camera, 3, seed=1)
    times = [f.time_s for f in found.frames]
    assert times == pytest.approx([-0.04, 0.0, 0.04])
    boxes = np.array([f.box_px for f in found.frames], float)
    assert np.all(np.diff(boxes[:, 3]) >= 0)  # it comes closer, so lower in the picture
    late = predict_sequence(scene, camera, 2, seed=1, start_s=0.8)
    assert late.frames[0].box_px[3] > boxes[-1, 3]


@pytest.mark.invariant
def test_codec_keeps_its_bit_rate_and_loses_something(tmp_path):
    av = pytest.importorskip("av")
    sets = ("natural_light.illuminance_lux=5.0", "stream.bitrate_kbit_s=200")
    scene, camera = bench(*sets, "stream.codec=h264")
    _, plain = bench(*sets)
    found = predict_sequence(scene, camera, 4, seed=2)
    whole = predict_sequence(scene, plain, 4, seed=2)
    assert whole.coded is None
    assert found.coded is not None
    difference = found.frames[-1].picture.astype(float) - whole.frames[-1].picture
    assert 0.5 < np.std(difference) < 30.0
    from simulator.report.sequence_files import save_sequence

    folder = save_sequence(tmp_path / "film", found)
    with av.open(str(folder / "sequence.mp4")) as film:
        pictures = [f.to_ndarray(format="rgb24") for f in film.decode(video=0)]
        assert float(film.streams.video[0].average_rate) == pytest.approx(25.0)
    assert len(pictures) == 4
    assert pictures[-1].shape == found.frames[-1].picture.shape
    assert len(list((folder / "frames").glob("*.png"))) == 4
    told = json.loads((folder / "verdict.json").read_text())
    assert told["stream"]["quantiser"] == found.coded.qp
    assert len((folder / "frames.csv").read_text().splitlines()) == 5
    assert (folder / "strip.png").stat().st_size > 10_000
    assert (folder / "course.png").stat().st_size > 10_000


@pytest.mark.invariant
def test_without_the_codec_library_there_is_an_animated_picture(falling, tmp_path):
    from PIL import Image

    from simulator.report.sequence_files import _animated

    path = _animated(tmp_path / "sequence.webp", falling)
    with Image.open(path) as film:
        assert film.n_frames == 24


@pytest.mark.invariant
def test_a_film_may_bring_the_verdict_of_a_settled_picture():
    scene, camera = load_pair(bare("depot-gate-infrared"), "plate-2mp-infrared", SMALL)
    found = predict_sequence(scene, camera, 2, judge=True)
    table = film_table(found)
    assert table["verdict"] == found.judged.verdict
    assert f"probability {found.judged.probability:.2f}" in table["answer"]
    assert "target 0.90" in table["answer"]
    assert not {"verdict", "answer"} & film_table(predict_sequence(scene, camera, 2)).keys()


@pytest.mark.invariant
def test_too_many_frames_for_a_codec_are_refused():
    scene, camera = load_pair(*BENCH, ["stream.codec=h264"])
    with pytest.raises(InputError, match="do not fit"):
        predict_sequence(scene, camera, 2000)


@pytest.mark.invariant
def test_a_film_and_its_verdict_speak_of_the_same_mode():
    """A camera that has not switched to night yet is judged as it is in the film."""
    pair = ("depot-gate-dark", "fixed-2mp-lowlight")
    scene, camera = load_pair(*pair, ["natural_light.illuminance_lux=0.5"])
    before, _ = load_pair(*pair, ["natural_light.illuminance_lux=3000"])
    soon = predict_sequence(scene, camera, 2, before=before, judge=True)
    assert soon.frames[-1].mode == "day" == soon.judged.mode
    settled = predict_sequence(scene, camera, 2, judge=True)
    assert settled.frames[-1].mode == "night" == settled.judged.mode
