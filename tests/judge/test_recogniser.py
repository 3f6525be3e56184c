"""The installed text recogniser, readers of one's own, and the pictures that all of them get."""

from __future__ import annotations

import os
import sys
from importlib.metadata import EntryPoint, EntryPoints

import numpy as np
import pytest

from simulator.errors import FileFormatError
from simulator.judge.readers import MACHINE, RECOGNISER, named, outside, reader_of
from simulator.judge.readers.lines import text_lines
from simulator.judge.readers.reader import NOTHING, laid_beside, true_symbols
from simulator.judge.readers.recogniser import recogniser_installed
from simulator.judge.repeats import text_pictures
from simulator.judge.silhouette import LUMA
from simulator.judge.texts import own_text, random_texts, with_text
from simulator.judge.trials import clustered_interval, jeffreys_interval, read_probability

needs_recogniser = pytest.mark.skipif(
    not recogniser_installed(), reason="needs the extra ocr: onnxruntime, rapidocr-onnxruntime"
)


@pytest.fixture(scope="module")
def sharp(make_judged, make_camera):
    """A plate of 17 px characters, well lit and at rest."""
    return make_judged(camera=make_camera())


@pytest.fixture(scope="module")
def two_rows(make_judged, make_camera):
    """A plate with two rows of characters."""
    camera = make_camera(sensor={"width_px": 640, "height_px": 360})
    return make_judged(
        camera=camera,
        plate={"text": "A1B2/X3Y", "design": "dark-on-white-340x220-two-row"},
    )


def pictured(made, count, **more):
    return text_pictures(made.in_scene, made.state, made.target, count, seed=3, **more)


@needs_recogniser
@pytest.mark.outside
def test_the_recogniser_reads_sharp_plates(sharp, two_rows):
    # a general recogniser, not ours: rapidocr-onnxruntime
    for made in (sharp, two_rows):
        for one in pictured(made, 6, texts=3):
            found = RECOGNISER.symbols(one.pictures, one.target, one.origin_px, seed=1)
            assert np.all(found == true_symbols(one.target)), one.text


@needs_recogniser
@pytest.mark.invariant
def test_the_recogniser_sees_nothing_but_the_pictures(sharp):
    (one, *_) = pictured(sharp, 2, texts=["A1B2 X3Y"])
    (other, *_) = pictured(sharp, 2, texts=["M3K4 T5R"])
    # told that the other text stands there, it still reads what the picture shows
    found = RECOGNISER.symbols(one.pictures, other.target, one.origin_px, seed=1)
    assert not np.any((found == true_symbols(other.target)).all(axis=1))
    grey = np.full_like(one.pictures, 128)
    assert np.all(RECOGNISER.symbols(grey, one.target, one.origin_px, seed=1) == NOTHING)


@needs_recogniser
@pytest.mark.invariant
def test_the_machine_judges_with_its_interval(sharp):
    found = read_probability(
        sharp.in_scene, sharp.state, sharp.target, seed=1, trials=24, reader="machine", texts=4
    )
    assert found.value == 1.0 and found.named == 1.0
    assert (found.low, found.high) == jeffreys_interval(18, 18)
    assert found.texts == 4 and found.confused == ()


@pytest.mark.by_hand
def test_without_the_extra_the_quick_estimate_speaks_and_says_so(monkeypatch):
    monkeypatch.setattr(named, "recogniser_installed", lambda: False)
    assert reader_of("machine") is MACHINE
    assert MACHINE.assumption.id == "reader.machine-estimate"


@pytest.mark.by_hand
def test_answers_are_laid_beside_the_truth():
    assert laid_beside([1, 2, 3], [1, 2, 3]) == [1, 2, 3]
    assert laid_beside([1, 9, 3], [1, 2, 3]) == [1, 9, 3]
    assert laid_beside([], [1, 2]) == [NOTHING, NOTHING]
    # one too many is no good read, wherever it stands
    for answer in ([7, 1, 2, 3], [1, 7, 2, 3], [1, 2, 3, 7]):
        assert laid_beside(answer, [1, 2, 3]) != [1, 2, 3]


@pytest.mark.by_hand
def test_lines_of_two_rows_are_parted(two_rows):
    lines = text_lines(two_rows.target.cells_px)
    assert [list(line.cells) for line in lines] == [[0, 1, 2, 3], [4, 5, 6]]
    for line in lines:
        assert line.height_px == pytest.approx(two_rows.target.character_height_px, rel=0.02)
        # characters 46 mm wide, gaps 9 mm, 75 mm high
        wide = len(line.cells) * 46 + (len(line.cells) - 1) * 9
        assert line.aspect == pytest.approx(wide / 75, rel=0.02)


@pytest.mark.invariant
def test_another_text_changes_its_characters_alone(sharp):
    world = sharp.in_scene.world
    written, target = with_text(sharp.in_scene, sharp.target, "Z9Z9 Q7Q")
    assert own_text(target) == "Z9Z9 Q7Q"
    assert np.allclose(target.cells_px, sharp.target.cells_px)
    old = world.cards[target.card_index].texture
    new = written.world.cards[target.card_index].texture
    changed = np.argwhere(old != new)
    low, high = changed.min(axis=0), changed.max(axis=0)
    texel = 1000 * world.cards[target.card_index].width_m / old.shape[1]
    cells = target.cells
    assert low[0] >= round(cells[0].top_m * 1000 / texel)
    assert high[0] < round((cells[0].top_m + cells[0].height_m) * 1000 / texel) + 1
    assert low[1] >= round(cells[0].left_m * 1000 / texel)
    # and back again
    back, _ = with_text(written, target, own_text(sharp.target))
    assert np.array_equal(back.world.cards[target.card_index].texture, old)
    with pytest.raises(FileFormatError):
        with_text(sharp.in_scene, sharp.target, "A TEXT THAT IS FAR TOO LONG")


@pytest.mark.invariant
def test_random_texts_are_grouped_like_the_own_one(sharp):
    texts = random_texts(sharp.target, 40, seed=5)
    assert all(len(t) == len("A1B2 X3Y") and t[4] == " " for t in texts)
    assert texts == random_texts(sharp.target, 40, seed=5)
    assert len(set(texts)) == 40
    # one drawing of each pair of look-alikes
    assert len(set("".join(texts)) & set("O0")) == 1


@pytest.mark.invariant
def test_repeats_hold_the_target_and_share_out_their_number(sharp):
    found = pictured(sharp, 10, texts=4)
    assert [len(one.pictures) for one in found] == [2, 3, 2, 3]
    for one in found:
        left, top, right, bottom = one.box_px
        rows, columns = one.pictures.shape[1:3]
        assert 0 < left < right < columns and 0 < top < bottom < rows
        assert one.pictures.dtype == np.uint8
        # ink is darker than its surround: the cells lie where the characters are
        luma = one.pictures.mean(axis=0) @ LUMA
        inside = luma[round(top) : round(bottom), round(left) : round(right)]
        assert inside.min() < 0.5 * inside.max()
    noise = np.std(found[0].pictures.astype(float)[0] - found[0].pictures[1])
    assert noise > 0.0


@pytest.mark.by_hand
def test_trials_of_one_text_count_for_less_where_texts_differ():
    alike = [np.array([True, False] * 4)] * 10
    assert clustered_interval(alike) == jeffreys_interval(40, 80)
    # five texts always read, five never: no more than ten draws
    apart = [np.full(8, n % 2 == 0) for n in range(10)]
    low, high = clustered_interval(apart)
    assert (low, high) == pytest.approx(jeffreys_interval(5, 10), abs=0.03)


def echo(pictures):
    """A reader of one's own that knows the answer."""
    return ["a1b2 x3y" for _ in pictures]


@pytest.mark.by_hand
def test_a_package_offers_a_reader_of_its_own(sharp, monkeypatch):
    point = EntryPoint("mine", f"{__name__}:echo", "nightproof.readers")
    monkeypatch.setattr(EntryPoint, "load", lambda self: echo if self.name == "mine" else None)
    monkeypatch.setattr(outside, "entry_points", lambda group: EntryPoints([point]))
    reader = reader_of("mine")
    (one, *_) = pictured(sharp, 2, texts=["A1B2 X3Y"])
    found = reader.symbols(one.pictures, one.target, one.origin_px, seed=1)
    assert np.all(found == true_symbols(one.target))
    assert "mine" in reader.assumption.values.values()


@pytest.mark.by_hand
def test_a_command_reads_where_that_is_allowed(sharp, monkeypatch, tmp_path):
    script = tmp_path / "reader.py"
    script.write_text(
        "import sys, pathlib\n"
        "assert pathlib.Path(sys.argv[1]).read_bytes().startswith(b'\\x89PNG')\n"
        "print('A1B2 X3Y')\n"
    )
    name = f"command:{sys.executable} {script} {{picture}}"
    monkeypatch.delenv(outside.ALLOWED, raising=False)
    with pytest.raises(FileFormatError) as caught:
        reader_of(name)
    assert outside.ALLOWED in caught.value.fix
    monkeypatch.setenv(outside.ALLOWED, "1")
    (one, *_) = pictured(sharp, 2, texts=["A1B2 X3Y"])
    found = reader_of(name).symbols(one.pictures, one.target, one.origin_px, seed=1)
    assert np.all(found == true_symbols(one.target))
    with pytest.raises(FileFormatError):
        reader_of(f"command:{os.devnull} {{picture}}").symbols(
            one.pictures, one.target, one.origin_px, seed=1
        )
