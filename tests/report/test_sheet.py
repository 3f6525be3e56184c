"""The sheet: all of it can be read, whatever stands on it, and its picture is the largest part."""

from __future__ import annotations

import copy
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from bare import bare
from PIL import Image

from simulator import files
from simulator.camera.load import Camera
from simulator.judge.impairments import IMPAIRMENTS, of_task
from simulator.judge.lighting import Contribution
from simulator.judge.named_figures import FIGURES, Figure
from simulator.judge.record import Quantity
from simulator.judge.result import Verdict
from simulator.report import sheet
from simulator.report.flow import MARGIN_IN, SMALL_PT, Box
from simulator.report.pictures import scaled
from simulator.report.sheet_behind import draw_behind
from simulator.report.wording import capital, entry
from simulator.report.wording.verdict import customer_sentence, worded
from simulator.scene.load import Scene
from simulator.studies.overrides import load_pair
from simulator.studies.predict import predict

SHORT = {"remedies": False, "tolerances": False}
"""What these checks do not need and what takes longest."""

SCENES = ("car-park-led", "depot-gate-infrared", "doorway-noon", "perimeter-fog")
"""Scenes of many and of few lights, of a text and of a person; all would take minutes."""
# a quarter of the pixels each way, the field of view kept
SETS = ("sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6",
        "processing.temporal_noise_reduction=0")  # fmt: skip


NOT_ENOUGH = entry("limits", "alone-not-enough").partition("{{")[0].strip()


@pytest.fixture(scope="module")
def results():
    """A real verdict of every scene; few trials, as only words matter here."""
    kept = {}
    for name in SCENES:
        pair = load_pair(bare(name), "fixed-2mp-lowlight", SETS)
        with pytest.MonkeyPatch.context() as region:
            region.setattr("simulator.studies.predict.find_limits", lambda *_, **__: [])
            found = predict(*pair, seed=1, trials=24, **SHORT)
            kept[name] = replace(found, verdict=worded(found.verdict))
    return kept


def _limits(first_share):
    """A row for every impairment, shares falling from the first."""
    return [
        {
            "factor": record.name,
            "probability_without": 0.875,
            "probability_only": 0.125,
            "share": first_share * 0.5**i - 0.03,
            "meaning": record.meaning,
        }
        for i, record in enumerate(of_task("read"))
    ]


def _as(verdict, word, **tables):
    """The verdict with another word, and with some tables or keys changed."""
    out = copy.deepcopy(verdict.to_dict())
    out["verdict"] = word
    spread = {"legible": (0.99, 0.96, 1.0), "marginal": (0.86, 0.8, 0.91)}
    value, low, high = spread.get(word, (0.02, 0.0, 0.06))
    out["probability"], out["probability_low"], out["probability_high"] = value, low, high
    out["limits"] = [] if word == "legible" else _limits(0.6)
    for key, table in tables.items():
        out[key] = {**out[key], **table} if isinstance(table, dict) else table
    return Verdict.from_dict(out)


def pages_of(result, verdict, lights=None, title=None):
    """Front and the pages behind."""
    lights = lights or result.stages["lights"][0]
    front = sheet.draw_front(verdict, result.frame, title or result.camera.model.title)
    return [front, *draw_behind(verdict, lights)]


def written(pages):
    """All that stands on some pages, as one text."""
    return "\n".join(text for page in pages for text in page.written)


def boxes_of(page):
    """Text and its extent in pixels, of every line; extents of the pictures."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.transforms import Bbox

    canvas = FigureCanvasAgg(page.figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    texts = [(t.get_text(), t.get_window_extent(renderer)) for t in page.figure.texts]
    high = page.size_px[1]
    pictures = [
        Bbox.from_bounds(
            at.left * page.dpi, high - (at.top + at.height) * page.dpi,
            at.width * page.dpi, at.height * page.dpi,
        )
        for at in page.pictures
    ]  # fmt: skip
    return texts, pictures


def over(a, b):
    """Whether two extents share more than a pixel each way."""
    wide, high = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
    return wide > 1.0 and high > 1.0


def assert_readable(page, more_than=10):
    """Nothing is cut, laid over anything else, or smaller than 8 pt; three sizes, two weights."""
    texts, pictures = boxes_of(page)
    assert len(texts) > more_than
    (wide, high), edge = page.size_px, MARGIN_IN * page.dpi - 2.0
    cut = [
        (text, box.extents)
        for text, box in texts
        if box.x0 < edge or box.y0 < edge or box.x1 > wide - edge or box.y1 > high - edge
    ]
    assert cut == []
    crossed = [(a, b) for (a, box), (b, other) in combinations(texts, 2) if over(box, other)]
    assert crossed == []
    assert [text for text, box in texts for picture in pictures if over(box, picture)] == []
    sizes = {text.get_fontsize() for text in page.figure.texts}
    assert len(sizes) <= 3 and min(sizes) >= SMALL_PT == 8.0
    assert len({text.get_fontweight() for text in page.figure.texts}) <= 2


@pytest.mark.invariant
@pytest.mark.parametrize("name", SCENES)
@pytest.mark.parametrize("word", ["legible", "not legible"])
def test_words_fit_for_every_scene(results, name, word):
    for page in pages_of(results[name], _as(results[name].verdict, word)):
        assert_readable(page)


@pytest.mark.invariant
@pytest.mark.parametrize("name", SCENES)
def test_the_picture_is_the_argument(results, name):
    result = results[name]
    front = sheet.draw_front(result.verdict, result.frame, result.camera.model.title)
    _, pictures = boxes_of(front)
    areas = sorted(box.width * box.height / np.prod(front.size_px) for box in pictures)
    assert len(areas) == 2 and areas[-1] > 0.33 and sum(areas) > 0.36


@pytest.mark.invariant
def test_a_page_of_any_camera_shows_whole_pixels():
    for columns, rows in ((752, 564), (1280, 960), (1920, 1080), (2592, 1944), (3840, 2160)):
        frame = np.zeros((rows, columns, 3), np.uint8)
        fit = sheet.fitted(frame, Box(0.0, 0.0, 8.0, 4.6))
        assert 110.0 <= fit.dpi <= 300.0
        assert max(fit.factor, 1.0 / fit.factor) % 1.0 == pytest.approx(0.0)
        shown = scaled(frame, fit.factor)
        wide, high = shown.shape[1] / fit.dpi, shown.shape[0] / fit.dpi
        assert (wide, high) <= (8.01, 4.61) and max(wide / 8.0, high / 4.6) > 0.99
    full = np.random.default_rng(1).integers(0, 255, (1080, 1920, 3)).astype(np.uint8)
    assert np.array_equal(scaled(full, 1.0), full)
    assert sheet.fitted(full, Box(0.0, 0.0, 8.0, 4.6)).factor == 1.0


LONG_LIGHTS = [
    Contribution(i, f"a lamp with a very long name number {i}", 12345.678, None, 1000.0 - i)
    for i in range(9)
]


@pytest.mark.invariant
def test_the_longest_camera_title_and_many_long_lights_fit(results):
    result = results[SCENES[0]]
    titles = [Camera.load(name).model.title for name in files.bundled_names("cameras")]
    verdict = _as(result.verdict, "marginal")
    pages = pages_of(result, verdict, LONG_LIGHTS, max(titles, key=len))
    for page in pages:
        assert_readable(page)
    assert "a lamp with a very long name number 8" in written(pages[1:])


def _others(like, count, read=0.25):
    """Rows of other targets with long names, as many as asked."""
    return [
        {
            **like.model_dump(),
            "name": f"something long left beside the gate {i}",
            "box_px": None if i == 1 else [0, 0, 10, 10],
            "pixels_per_m": 1234.5,
            "mean_level": 255.0,
            "probability": read if i % 2 else 0.97,
        }
        for i in range(count)
    ]


@pytest.mark.invariant
@pytest.mark.parametrize("count", [0, 1, 4, 40])
def test_other_targets_fit(results, count):
    result = results[SCENES[0]]
    own = next(r for r in result.verdict.targets if r.name == result.verdict.target.name)
    verdict = _as(result.verdict, "marginal", targets=[own, *_others(own, count)])
    pages = pages_of(result, verdict, LONG_LIGHTS)
    for page in pages:
        assert_readable(page)
    words = written(pages[1:])
    assert ("other targets" in words) == (count > 0)
    assert words.count("something long left beside the gate") == count
    assert (len(pages) > 2) == (count == 40)


@pytest.mark.invariant
@pytest.mark.parametrize("count", [1, 9, 40])
def test_more_figures_than_fit_break_nothing(results, count):
    """A twelfth figure, and a fiftieth: the front counts what it leaves out, the back shows all."""
    result, entered = results[SCENES[1]], []

    class Made(Figure):
        def read(self, verdict):
            return 1234.5

    quantity = Quantity("A figure of a rather long name", "made", "px", places=("sheet", "back"))
    try:
        for i in range(count):
            entered.append(FIGURES.with_record(Made(f"signal.made_{i}_px", quantity, "made up")))
            entered[-1].__enter__()
        pages = pages_of(result, _as(result.verdict, "not legible"))
    finally:
        for block in reversed(entered):
            block.__exit__(None, None, None)
    for page in pages:
        assert_readable(page)
    assert written(pages[1:]).count("A figure of a rather long name") == count
    front = written(pages[:1])
    shown = front.count("A figure of a rather long name")
    assert shown == count or f"and {count - shown} more on the next page" in front


@pytest.mark.invariant
def test_more_limits_than_fit_break_nothing(results):
    result = results[SCENES[1]]
    every = [record.name for record in IMPAIRMENTS]
    rows = [{**row, "share": 0.3 - 0.01 * i} for i, row in enumerate(_limits(0.6))]
    rows += [
        {**rows[0], "factor": name, "share": 0.04} for name in every if name not in str(rows)
    ]  # fmt: skip
    pages = pages_of(result, _as(result.verdict, "not legible", limits=rows))
    for number, page in enumerate(pages):
        # what runs over onto a third page may be little
        assert_readable(page, more_than=10 if number < 2 else 2)
    assert len(rows) == len(every) > 12
    assert "more on the next page" in written(pages[:1])
    nouns = [capital(IMPAIRMENTS[row["factor"]].noun) for row in rows]
    behind = " ".join(written(pages[1:]).split())
    assert [noun for noun in nouns if noun not in behind] == []


@pytest.mark.invariant
@pytest.mark.parametrize("word", ["legible", "marginal", "not legible"])
@pytest.mark.parametrize("fill", ["gate lamp wide mast ", "W", "i "])
def test_the_longest_title_and_question_fit(results, word, fill):
    result = results[SCENES[0]]
    title, question = (fill * 120)[:119] + "x", (fill * 300)[:299] + "?"
    verdict = _as(result.verdict, word, title=title, question=question)
    pages = pages_of(result, verdict)
    for page in pages:
        assert_readable(page)
    words = ["".join(text.split()) for text in pages[0].written]
    assert "".join(verdict.title.split()) in words
    assert "".join(verdict.question.split()) in words


@pytest.mark.invariant
@pytest.mark.parametrize("task", ["detect", "recognise", "identify"])
def test_other_tasks_have_their_own_words(results, task):
    result = results[SCENES[0]]
    verdict = _as(
        result.verdict, "not legible", task={"name": task}, limits=[],
        target={"cycles": 3.25, "character_height_px": None, "text": None},
    )  # fmt: skip
    pages = pages_of(result, verdict)
    for page in pages:
        assert_readable(page)
    words = written(pages[:1])
    done = {"detect": "detectable", "recognise": "recognisable", "identify": "identifiable"}
    assert f"Not {done[task]}" in words
    assert "legible" not in words.lower() and "character" not in words
    assert "Resolved cycles\n3.25" in words


@pytest.mark.by_hand
def test_nothing_left_of_the_signal_is_said_in_words(results):
    result = results[SCENES[0]]
    pages = pages_of(result, _as(result.verdict, "not legible", signal={"snr_db": -89.2}))
    assert "none left" in written(pages[:1])
    assert "-89" not in written(pages)


@pytest.mark.by_hand
def test_it_says_where_fixing_one_cause_is_not_enough(results):
    result = results[SCENES[0]]
    rows = [{**row, "probability_without": 0.1} for row in _limits(0.6)]
    words = written(pages_of(result, _as(result.verdict, "not legible", limits=rows)))
    first, second = [record.noun for record in of_task("read")][:2]
    assert f"{NOT_ENOUGH} {first}, {second}" in words
    rows[0]["probability_without"] = 0.9
    verdict = _as(result.verdict, "not legible", limits=rows)
    assert NOT_ENOUGH not in written(pages_of(result, verdict))


def _remedies(count):
    """Changes that all reach the target, each with a side effect."""
    return [
        {
            "lever": "longest shutter", "from": 0.02, "to": 0.02 / (i + 2), "unit": "s",
            "probability": 0.97, "reaches": True, "sets": [], "camera": None,
            "side_effects": ["gain of 30 dB (now 20 dB): more noise"], "cautions": [], "parts": [],
        }
        for i in range(count)
    ]  # fmt: skip


@pytest.mark.invariant
@pytest.mark.parametrize("count", [0, 1, 3, 8])
def test_at_most_three_changes_stand_on_the_front(results, count):
    result = results[SCENES[0]]
    pages = pages_of(result, _as(result.verdict, "not legible", remedies=_remedies(count)))
    for page in pages:
        assert_readable(page)
    assert written(pages[:1]).count("Set the longest shutter") == min(count, 3)
    assert written(pages[1:]).count("Set the longest shutter") == count
    assert "side effects" not in written(pages[:1]).lower()


@pytest.mark.invariant
@pytest.mark.parametrize("name", SCENES)
def test_the_front_is_short(results, name):
    verdict = _as(results[name].verdict, "not legible", remedies=_remedies(3))
    front = pages_of(results[name], verdict)[0].written
    answer = next(text for text in front if text and customer_sentence(verdict).startswith(text))
    assert len(answer.split()) <= 25
    prose = [text for text in front if text.endswith(".") and text != verdict.title]
    assert sum(len(text.split()) for text in prose) <= 90


@pytest.mark.invariant
def test_the_check_sees_what_does_not_fit(results):
    """A word laid over another, over the edge or over the picture is found by the check above."""
    result = results[SCENES[0]]
    page = pages_of(result, _as(result.verdict, "marginal"))[0]
    assert_readable(page)
    x, y = page.figure.texts[0].get_position()
    extra = page.figure.text(x, y, "OVER", size=8.0, ha="left", va="center")
    with pytest.raises(AssertionError, match="OVER"):
        assert_readable(page)
    extra.set_position((0.99, 0.5))
    with pytest.raises(AssertionError, match="OVER"):
        assert_readable(page)
    extra.set_position((0.3, 0.6))
    with pytest.raises(AssertionError, match="OVER"):
        assert_readable(page)


@pytest.mark.invariant
def test_every_page_is_written(results, tmp_path):
    result = results[SCENES[0]]
    own = next(r for r in result.verdict.targets if r.name == result.verdict.target.name)
    verdict = _as(result.verdict, "legible", targets=[own, *_others(own, 40)])
    paths = sheet.draw_sheet(
        tmp_path / "sheet.png", verdict, result.frame, result.stages["lights"][0], "A camera"
    )
    assert [path.name for path in paths] == ["sheet.png", "sheet-2.png", "sheet-3.png"]
    for path in paths:
        with Image.open(path) as picture:
            # A4 landscape, to a pixel
            assert picture.width / picture.height == pytest.approx(297.0 / 210.0, rel=2e-3)
            assert picture.info["Comment"].startswith(f"scene {verdict.scene}")


@pytest.mark.by_hand
def test_numbers_of_the_verdict_stand_on_the_sheet(results):
    result = results[SCENES[0]]
    verdict = _as(result.verdict, "not legible")
    pages = pages_of(result, verdict)
    words = written(pages[:1])
    s, g = verdict.signal, verdict.geometry
    most = of_task("read")[:4]  # those with a share worth a word
    for part in (
        Scene.load(SCENES[0]).model.title,
        Scene.load(SCENES[0]).model.question,
        f"{s.snr_db:.1f} dB",
        f"{g.pixels_per_m:.3g} px/m",
        g.density_class,
        "in 2 % of pictures",
        "0 to 6 %",
        "target 90 %",
        "Predicted, not photographed",
        verdict.input_hash,
        *(record.noun.capitalize() for record in most),
    ):
        assert part in words, part
    assert g.density_edition in written(pages[1:])
    assert not {record.noun.capitalize() for record in of_task("read")[4:]} & set(words.split("\n"))
