"""The sheet: its size, and that every word of it can be read."""

from __future__ import annotations

import copy
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from PIL import Image

from simulator import files
from simulator.camera.load import Camera
from simulator.judge.impairments import of_task
from simulator.judge.lighting import Contribution
from simulator.judge.result import Verdict
from simulator.report import sheet
from simulator.report.pictures import enlarged
from simulator.report.wording import entry
from simulator.report.wording.verdict import worded
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
        pair = load_pair(name, "fixed-2mp-lowlight", SETS)
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


def drawn(result, verdict, path, lights=None, title=None, write=False):
    """The sheet's figure; it is written to the path only if asked."""
    from matplotlib.figure import Figure

    kept = []
    with pytest.MonkeyPatch.context() as region:
        original = Figure.savefig

        def keep(self, *args, **kwargs):
            kept.append(self)
            if write:
                original(self, *args, **kwargs)

        region.setattr(Figure, "savefig", keep)
        sheet.draw_sheet(
            path,
            verdict,
            result.frame,
            enlarged(result.frame, result.target.box_px),
            lights or result.stages["lights"][0],
            title or result.camera.model.title,
        )
    return kept[0]


def boxes_of(figure):
    """Text and its extent in pixels, of every text that is shown."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.text import Text

    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    unseen = {
        id(text)
        for axes in figure.axes
        if not axes.axison
        for axis in (axes.xaxis, axes.yaxis)
        for text in axis.findobj(Text)
    }
    return [
        (text.get_text(), text.get_window_extent(renderer))
        for text in figure.findobj(Text)
        if text.get_visible() and text.get_text().strip() and id(text) not in unseen
    ]


def overlap(a, b):
    """Shared area over that of the smaller box."""
    wide = min(a.x1, b.x1) - max(a.x0, b.x0)
    high = min(a.y1, b.y1) - max(a.y0, b.y0)
    if wide <= 0 or high <= 0:
        return 0.0
    return wide * high / min(a.width * a.height, b.width * b.height)


def assert_readable(figure):
    width, height = figure.canvas.get_width_height()
    found = boxes_of(figure)
    assert len(found) > 30
    cut = [
        (text, box.extents)
        for text, box in found
        if box.x0 < 0 or box.y0 < 0 or box.x1 > width or box.y1 > height
    ]
    assert cut == []
    crossed = [
        (a, b, round(overlap(box_a, box_b), 2))
        for (a, box_a), (b, box_b) in combinations(found, 2)
        if overlap(box_a, box_b) > 0.1
    ]
    assert crossed == []


@pytest.mark.invariant
@pytest.mark.parametrize("name", SCENES)
@pytest.mark.parametrize("word", ["legible", "not legible"])
def test_words_fit_for_every_scene(results, name, word, tmp_path):
    result = results[name]
    figure = drawn(result, _as(result.verdict, word), tmp_path / "sheet.png")
    assert_readable(figure)


@pytest.mark.invariant
def test_the_longest_camera_title_and_many_long_lights_fit(results, tmp_path):
    result = results[SCENES[0]]
    titles = [Camera.load(name).model.title for name in files.bundled_names("cameras")]
    lights = [
        Contribution(i, f"a lamp with a very long name number {i}", 12345.678, None, 1000.0 - i)
        for i in range(9)
    ]
    verdict = _as(result.verdict, "marginal")
    figure = drawn(result, verdict, tmp_path / "sheet.png", lights, max(titles, key=len))
    assert_readable(figure)


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
@pytest.mark.parametrize("count", [0, 1, 3, 4, 9])
def test_other_targets_fit(results, count, tmp_path):
    result = results[SCENES[0]]
    own = next(r for r in result.verdict.targets if r.name == result.verdict.target.name)
    verdict = _as(result.verdict, "marginal", targets=[own, *_others(own, count)])
    lights = [
        Contribution(i, f"a lamp with a very long name number {i}", 12345.678, None, 1000.0 - i)
        for i in range(9)
    ]
    figure = drawn(result, verdict, tmp_path / "sheet.png", lights)
    assert_readable(figure)
    words = [text for text, _ in boxes_of(figure)]
    assert any("other targets" in text for text in words) == (count > 0)
    if count > 4:
        assert f"and {count - 3} more" in words
        assert "not visible" in words


@pytest.mark.invariant
@pytest.mark.parametrize("word", ["legible", "marginal", "not legible"])
@pytest.mark.parametrize("fill", ["gate lamp wide mast ", "W", "i "])
def test_the_longest_title_and_question_fit(results, word, fill, tmp_path):
    result = results[SCENES[0]]
    title, question = (fill * 120)[:119] + "x", (fill * 300)[:299] + "?"
    verdict = _as(result.verdict, word, title=title, question=question)
    figure = drawn(result, verdict, tmp_path / "sheet.png")
    assert_readable(figure)
    words = ["".join(text.split()) for text, _ in boxes_of(figure)]
    assert "".join(verdict.title.split()) in words
    assert "".join(verdict.question.split()) in words
    # the heading stays above the picture
    top = max(axes.get_position().y1 for axes in figure.axes) * figure.canvas.get_width_height()[1]
    heading = {
        "".join(text.split())
        for text in (verdict.title, verdict.question, result.camera.model.title)
    }
    boxes = [box for text, box in boxes_of(figure) if "".join(text.split()) in heading]
    assert len(boxes) == 3
    assert min(box.y0 for box in boxes) > top


@pytest.mark.invariant
@pytest.mark.parametrize("task", ["detect", "recognise", "identify"])
def test_other_tasks_have_their_own_words(results, task, tmp_path):
    result = results[SCENES[0]]
    verdict = _as(
        result.verdict, "not legible", task={"name": task}, limits=[],
        target={"cycles": 3.25, "character_height_px": None, "text": None},
    )  # fmt: skip
    figure = drawn(result, verdict, tmp_path / "sheet.png")
    assert_readable(figure)
    words = "\n".join(text for text, _ in boxes_of(figure))
    done = {"detect": "DETECTABLE", "recognise": "RECOGNISABLE", "identify": "IDENTIFIABLE"}
    assert f"NOT {done[task]}" in words
    assert "LEGIBLE" not in words and "character" not in words.split("Assumed")[0]
    assert "3.2 cycles" in words


@pytest.mark.by_hand
def test_nothing_left_of_the_signal_is_said_in_words(results, tmp_path):
    result = results[SCENES[0]]
    verdict = _as(result.verdict, "not legible", signal={"snr_db": -89.2})
    words = [text for text, _ in boxes_of(drawn(result, verdict, tmp_path / "sheet.png"))]
    assert "none left" in words
    assert not any("-89" in text for text in words)


@pytest.mark.by_hand
def test_it_says_where_fixing_one_cause_is_not_enough(results, tmp_path):
    result = results[SCENES[0]]
    rows = [{**row, "probability_without": 0.1} for row in _limits(0.6)]
    verdict = _as(result.verdict, "not legible", limits=rows)
    figure = drawn(result, verdict, tmp_path / "sheet.png")
    assert_readable(figure)
    words = " ".join(" ".join(text for text, _ in boxes_of(figure)).split())
    first, second = [record.name for record in of_task("read")][:2]
    assert f"{NOT_ENOUGH} {first}, {second}" in words
    rows[0]["probability_without"] = 0.9
    verdict = _as(result.verdict, "not legible", limits=rows)
    figure = drawn(result, verdict, tmp_path / "sheet.png")
    assert NOT_ENOUGH not in " ".join(text for text, _ in boxes_of(figure))


@pytest.mark.invariant
def test_the_check_sees_what_does_not_fit(results, tmp_path):
    """A word laid over another, or over the edge, is found by the check above."""
    result = results[SCENES[0]]
    verdict = _as(result.verdict, "marginal")
    figure = drawn(result, verdict, tmp_path / "sheet.png")
    extra = figure.text(0.97, 0.955, "OVER", size=20, ha="right", va="center")
    with pytest.raises(AssertionError, match="OVER"):
        assert_readable(figure)
    extra.set_position((1.01, 0.5))
    with pytest.raises(AssertionError, match="OVER"):
        assert_readable(figure)


@pytest.mark.invariant
def test_size_of_the_page(results, tmp_path):
    result = results[SCENES[0]]
    drawn(result, _as(result.verdict, "legible"), tmp_path / "sheet.png", write=True)
    with Image.open(tmp_path / "sheet.png") as picture:
        wide, high = round(sheet.WIDTH_IN * sheet.DPI), round(sheet.HEIGHT_IN * sheet.DPI)
        assert picture.size == (wide, high)
        # much of it is paper, but not all
        grey = np.asarray(picture.convert("L"))
        assert 0.3 < np.mean(grey > 250) < 0.97


@pytest.mark.by_hand
def test_numbers_of_the_verdict_stand_on_the_sheet(results, tmp_path):
    result = results[SCENES[0]]
    verdict = _as(result.verdict, "not legible")
    figure = drawn(result, verdict, tmp_path / "sheet.png")
    words = "\n".join(text for text, _ in boxes_of(figure))
    s, g = verdict.signal, verdict.geometry
    for part in (
        Scene.load(SCENES[0]).model.title,
        Scene.load(SCENES[0]).model.question,
        f"{s.snr_db:.1f} dB",
        f"{g.pixels_per_m:.0f} px/m",
        g.density_class,
        g.density_edition,
        "in 2 % of pictures",
        "0 to 6 %",
        "main limit: motion",
        *[record.name for record in of_task("read")][:4],  # those with a share worth a word
    ):
        assert part in words, part
    assert not set(words.split("\n")) & set([record.name for record in of_task("read")][4:])
