"""What a reading verdict says of its texts, and the pictures it gives to readers of one's own."""

from __future__ import annotations

import numpy as np
import pytest
from bare import bare

from simulator import predict
from simulator.errors import FileFormatError
from simulator.judge.readers.reader import true_symbols
from simulator.judge.result import Verdict
from simulator.studies.overrides import load_pair

SMALL = (
    "sensor.width_px=480", "sensor.height_px=270", "processing.temporal_noise_reduction=0",
)  # fmt: skip


@pytest.fixture(scope="module")
def read():
    """A plate in a car park, read by a person."""
    pair = load_pair(bare("car-park-led"), "fixed-2mp-lowlight", SMALL)
    return predict(*pair, seed=3, remedies=False, tolerances=False)


@pytest.mark.invariant
def test_the_verdict_is_that_of_random_texts_with_the_named_one_beside_it(read, tmp_path):
    found = read.verdict.reading
    assert found.reader == "person" and found.random_texts >= 8
    assert found.named_text_probability_low <= found.named_text_probability
    assert found.named_text_probability <= found.named_text_probability_high
    file = tmp_path / "verdict.json"
    file.write_text(read.verdict.to_json(), encoding="utf-8")
    assert Verdict.read(file).reading == found


@pytest.mark.invariant
def test_repeats_give_any_reader_what_ours_gets(read):
    own = read.repeats(6)
    assert {one.text for one in own} == {read.verdict.target.text}
    assert sum(len(one.pictures) for one in own) == 6
    others = read.repeats(4, texts=["X3Y4 G5K", "M1M1 E1E"])
    assert [one.text for one in others] == ["X3Y4 G5K", "M1M1 E1E"]
    for one in others:
        assert len(one.cells_px) == len(true_symbols(one.target)) == 7
        assert not np.array_equal(one.pictures[0], one.pictures[1])
    again = read.repeats(4, texts=["X3Y4 G5K", "M1M1 E1E"])
    assert np.array_equal(again[1].pictures, others[1].pictures)
    assert len(read.repeats(9, texts=3)) == 3


@pytest.mark.by_hand
def test_repeats_are_of_texts():
    small = ("sensor.width_px=320", "sensor.height_px=180", "sensor.pixel_pitch_um=17.4")
    pair = load_pair(bare("parking-colour"), "fixed-2mp-lowlight", small)
    seen = predict(*pair, seed=3, remedies=False, tolerances=False)
    assert seen.verdict.reading is None
    with pytest.raises(FileFormatError) as caught:
        seen.repeats(3)
    assert caught.value.key == "task.name"
