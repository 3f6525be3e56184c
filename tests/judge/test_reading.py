"""The reader on pictures made here: no camera noise, no processing, only what each test adds."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from simulator.errors import FileFormatError
from simulator.judge.readers import MACHINE, PERSON, reader_of
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.trials import read_probability
from simulator.scene.targets.glyphs import ALPHABET
from simulator.scene.targets.plate import LOOKALIKES, plate_design

PAPER, INK = 200.0, 60.0
QUIET = TemplateReader("quiet", contrast_noise=0.0, efficiency=1.0, floor_px=0.0, level_noise=0.0)
SYMBOLS = len(ALPHABET) - len(LOOKALIKES)


@pytest.fixture(scope="module")
def plate_at(make_judged, make_camera):
    """Ideal light of a plate with characters of a height, as levels; kept by height and text."""
    kept = {}
    camera = make_camera(
        sensor={"width_px": 640, "height_px": 360},
        lens={"aberration_sigma_um": 0.0, "glare_index": 0.0},
    )

    def make(height_px=20.0, **plate):
        key = (height_px, *plate.items())
        if key not in kept:
            y = 0.075 * 12e-3 / 2.9e-6 / height_px
            made = make_judged(
                camera=camera,
                ideal=True,
                plate={"position_m": [0.0, y, 1.0], "sheeting": "none", **plate},
                station={"height_m": 1.0, "aim_m": [0.0, y, 1.0]},
            )
            green = made.rate[:, :, 1]
            x0, y0, x1, y1 = made.target.box_px
            a, b = made.origin
            inner = green[y0 - b + 1 : y1 - b - 1, x0 - a + 1 : x1 - a - 1]
            low, high = inner.min(), inner.max()
            made.levels = np.clip((green - low) / (high - low), 0, 1) * (PAPER - INK) + INK
            kept[key] = made
        return kept[key]

    return make


def read(made, levels, reader=QUIET, trials=1, noise=0.0, seed=3):
    """What is read of levels (rows, columns) with Gaussian noise, (trials, characters)."""
    rng = np.random.default_rng(seed)
    frames = levels + noise * rng.standard_normal((trials, *levels.shape))
    frames = np.clip(np.round(frames), 0, 255).astype(np.uint8)
    frames = np.repeat(frames[..., None], 3, axis=3)
    return reader.read(frames, made.target, made.origin, seed=seed)


@pytest.mark.invariant
@pytest.mark.parametrize("height_px", [12.0, 16.0, 24.0, 40.0])
@pytest.mark.parametrize("text", ["A1B2 X3Y", "K8D 6Q4", "M3N 5W7"])
def test_a_perfect_picture_is_read(plate_at, height_px, text):
    made = plate_at(height_px, text=text)
    assert read(made, made.levels).all()


@pytest.mark.invariant
def test_every_character_is_read(plate_at):
    for start in range(0, len(ALPHABET), 6):
        made = plate_at(24.0, text=ALPHABET[start : start + 6])
        assert read(made, made.levels).all(), ALPHABET[start : start + 6]


@pytest.mark.invariant
@pytest.mark.parametrize("design", ["light-on-dark-520x110", "dark-on-white-520x111-wide"])
def test_other_designs_are_read(plate_at, design):
    made = plate_at(20.0, text="C6G 9S0", design=design)
    assert read(made, made.levels, PERSON).all()


@pytest.mark.by_hand
def test_a_blank_picture_is_guessed(plate_at):
    # 300 guesses of every character with the reader's own noise alone: 1 in 34 if it favours no
    # symbol. Nothing looks most like a letter with little ink, so that one may be guessed more
    # often; never a whole text
    hits, whole = [], 0
    for text in ("A1B2 X3Y", "K8D 6Q4", "M3N 5W7", "C2E 7F4"):
        made = plate_at(16.0, text=text)
        blank = np.full_like(made.levels, 128.0)
        found = read(made, blank, PERSON, trials=300)
        hits.append(found.mean(axis=0))
        whole += int(found.all(axis=1).sum())
    assert np.concatenate(hits).mean() == pytest.approx(1.0 / SYMBOLS, rel=0.6)
    assert whole == 0


@pytest.mark.by_hand
def test_a_whole_plate_is_never_guessed(plate_at):
    made = plate_at(16.0)
    blank = np.full_like(made.levels, 128.0)
    assert not read(made, blank, PERSON, trials=300).all(axis=1).any()


@pytest.mark.invariant
def test_inverted_contrast_is_not_read(plate_at):
    """The reader expects the design's own contrast: dark letters that turn bright stay unread."""
    made = plate_at(24.0)
    assert read(made, PAPER + INK - made.levels).mean() < 0.2


@pytest.mark.by_hand
def test_lookalikes_are_one_symbol(plate_at):
    letters, digits = plate_at(24.0, text="OI"), plate_at(24.0, text="01")
    assert read(letters, digits.levels).all()
    assert read(digits, letters.levels).all()
    shapes = design_shapes(plate_design("dark-on-white-520x110"))
    index = dict(zip(shapes.alphabet, shapes.symbols.tolist(), strict=True))
    assert index["O"] == index["0"] != index["I"] == index["1"]
    assert len(set(index.values())) == SYMBOLS == 34
    assert sorted(set(index.values())) == list(range(34))


@pytest.mark.invariant
def test_wrong_text_is_not_read(plate_at):
    right, wrong = plate_at(24.0, text="A1B2 X3Y"), plate_at(24.0, text="X3Y4 A5B")
    assert not read(wrong, right.levels).any()


@pytest.mark.invariant
def test_level_and_contrast_do_not_matter_without_noise(plate_at):
    made = plate_at(20.0)
    for gain, offset in ((0.2, 100.0), (0.2, 0.0), (1.2, 10.0)):
        assert read(made, made.levels * gain + offset).all()


@pytest.mark.invariant
def test_more_noise_reads_less(plate_at):
    made = plate_at(16.0)
    noises = (0.0, 150.0, 220.0, 350.0, 600.0)
    rates = [read(made, made.levels, trials=120, noise=s).mean() for s in noises]
    assert rates[0] == 1.0
    # 840 characters: standard error .017 at most, so a step of .05 is two of a difference
    assert all(a > b + 0.05 for a, b in pairwise(rates)), rates


@pytest.mark.invariant
def test_smaller_characters_read_less(plate_at):
    heights = (2.5, 3.2, 4.0, 5.5)
    made = [plate_at(height) for height in heights]
    rates = [read(m, m.levels, PERSON, trials=120).mean() for m in made]
    assert all(b > a + 0.05 for a, b in pairwise(rates)), rates
    assert rates[0] < 0.4
    large = plate_at(20.0)
    assert read(large, large.levels, PERSON, trials=120).mean() > 0.99


def _noise_for_half(made):
    """Noise [levels] at which half of the characters are read, by bisection on its logarithm."""
    low, high = np.log(10.0), np.log(1500.0)
    contrast = 0.12  # low, so that noise is not clipped at black and white
    levels = 128.0 + contrast * (made.levels - 128.0)
    for _ in range(6):
        middle = (low + high) / 2.0
        rate = read(made, levels, trials=40, noise=float(np.exp(middle)) * contrast).mean()
        low, high = (middle, high) if rate > 0.5 else (low, middle)
    return float(np.exp((low + high) / 2.0))


@pytest.mark.by_hand
def test_matched_filter_law(plate_at):
    """White noise: a matched filter gathers contrast over the area of a character.

    Its signal to noise is contrast x sqrt(area) / noise, so the noise that leaves half of the
    characters grows as their height. The reader seeks over shifts and its templates are not the
    exact letters, so a wide margin: 12 to 24 px must give a factor of 1.5 to 2.7.
    """
    small, large = _noise_for_half(plate_at(12.0)), _noise_for_half(plate_at(24.0))
    assert 1.5 < large / small < 2.7
    larger = _noise_for_half(plate_at(36.0))
    assert 1.2 < larger / large < 2.1


@pytest.mark.invariant
def test_the_seed_steers_the_reader(plate_at):
    made = plate_at(5.0)
    first, same, other = (
        read(made, np.round(made.levels), PERSON, trials=40, seed=seed) for seed in (1, 1, 2)
    )
    assert np.array_equal(first, same)
    assert not np.array_equal(first, other)


@pytest.mark.invariant
def test_probability_counts_whole_plates(make_judged):
    made = make_judged(lux=3.0)
    found = read_probability(
        made.in_scene,
        made.state,
        made.target,
        seed=1,
        trials=60,
        plan=made.plan,
        traces=made.traces,
    )
    assert found.trials == 60
    assert len(found.characters) == 7
    assert found.value <= found.characters.min() + 1e-12
    assert found.low <= found.value <= found.high
    again = read_probability(made.in_scene, made.state, made.target, seed=1, trials=60)
    assert again.value == found.value
    assert np.array_equal(again.characters, found.characters)


@pytest.mark.invariant
def test_less_light_reads_less(make_judged, make_camera):
    camera = make_camera(day_night={"mode": "night"}, exposure={"shutter_max_s": 0.01})
    values = []
    for lux in (0.02, 0.1, 0.5, 20.0):
        made = make_judged(camera=camera, lux=lux)
        found = read_probability(made.in_scene, made.state, made.target, seed=1, trials=60)
        values.append(float(found.characters.mean()))
    # 420 characters: standard error .024 at most
    assert all(b > a - 0.03 for a, b in pairwise(values)), values
    assert values[0] < 0.6
    assert values[-1] > 0.97


@pytest.mark.by_hand
def test_readers_by_name():
    assert reader_of("person") is PERSON
    assert reader_of("machine").estimate is MACHINE
    assert reader_of(QUIET) is QUIET
    with pytest.raises(FileFormatError) as caught:
        reader_of("robot")
    assert caught.value.allowed.startswith("person, machine")


@pytest.mark.invariant
def test_the_shared_noise_ties_pictures_of_a_pass(plate_at):
    # the same marginal rate, but two looks at one picture agree more often than by chance
    made = plate_at(9.0)
    reader = TemplateReader("tied", 3.0, 1.0, 0.5, shared_noise=0.8)
    frames = np.repeat(np.round(made.levels)[None, :, :, None], 3, axis=3).astype(np.uint8)
    frames = np.repeat(frames, 300, axis=0)
    one, two = (
        reader.read(frames, made.target, made.origin, seed=seed, shared_seed=99) for seed in (1, 2)
    )
    alone = reader.read(frames, made.target, made.origin, seed=3)
    rate = alone.mean(axis=0)
    assert 0.3 < rate.mean() < 0.9  # else there is little room above chance
    assert one.mean(axis=0) == pytest.approx(rate, abs=0.12)
    by_chance = (rate**2 + (1.0 - rate) ** 2).mean()
    assert (one == two).mean() > by_chance + 0.05
    assert (one == alone).mean() == pytest.approx(by_chance, abs=0.05)
