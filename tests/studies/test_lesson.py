from __future__ import annotations

import html
import json
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from simulator.app.cli import app
from simulator.camera.in_scene import place_camera
from simulator.errors import NameNotFoundError
from simulator.report.document import section_of
from simulator.report.lessons.page import save_lesson
from simulator.report.wording.lessons import lesson_words
from simulator.scene.build import build_world
from simulator.studies.lessons.catalogue import LESSONS, find_lesson
from simulator.studies.lessons.lesson import teach
from simulator.studies.overrides import load_pair

SMALL = [
    "sensor.width_px=480",
    "sensor.height_px=270",
    "station.aim_m=[0.4, 18.0, 0.6]",
]
"""A part of the sensor around the plate, at its own pixel density."""


def flat(table, before=""):
    if isinstance(table, dict):
        items = table.items()
    elif isinstance(table, list | tuple) and table and isinstance(table[0], dict):
        items = [(entry.get("name", i), entry) for i, entry in enumerate(table)]
    else:
        return {before: table}
    out = {}
    for key, value in items:
        out |= flat(value, f"{before}.{key}".lstrip("."))
    return out


@pytest.mark.invariant
@pytest.mark.parametrize("name", list(LESSONS))
def test_one_thing_changes_and_nothing_else(name):
    lesson = LESSONS[name]
    pairs = [
        load_pair(lesson.scene, lesson.camera, [*lesson.sets, *step.sets]) for step in lesson.steps
    ]
    tables = [
        flat(scene.model.model_dump()) | flat(camera.model.model_dump()) for scene, camera in pairs
    ]
    changed = {
        key for table in tables[1:] for key in table if table[key] != tables[0].get(key)
    }  # fmt: skip
    named = {"wide_range.method"} if name == "backlight" else set()
    assert changed == {lesson.key} | named
    assert len(lesson.steps) == len({step.value for step in lesson.steps}) >= 4


@pytest.fixture(scope="module")
def taught():
    lesson = find_lesson("infrared")
    lesson = replace(lesson, steps=lesson.steps[:5])
    return teach(lesson, seed=2, sets=SMALL, trials=24)


@pytest.mark.by_hand
def test_infrared_follows_the_inverse_square_law(taught):
    # lamp at (0.3, 0, 3.2), plate at (0.4, 18, 0.55), facing the camera: the distance is
    # sqrt(0.1^2 + 18^2 + 2.65^2) = 18.194 m, the plate upright: cosine 18/18.194 = 0.989
    for taken in taught.steps:
        beside = taken.step.value / 18.194**2 * 0.989
        assert taken.seen.irradiance_w_m2 == pytest.approx(beside, rel=0.02)
        assert taken.figures["beam_w_m2"] == pytest.approx(taken.step.value / 18.194**2, rel=1e-3)
    light = [t.seen.electrons for t in taught.steps]
    assert np.diff(light).min() > 0.0
    # ten times the lamp, ten times its electrons, the night sky's share apart
    assert light[2] / light[0] == pytest.approx(10.0, rel=0.1)


@pytest.mark.invariant
def test_more_infrared_reads_better_until_white(taught):
    probability = [t.figures["probability"] for t in taught.steps]
    assert probability[0] < 0.3
    assert probability[3] > 0.8
    noise = [t.seen.noise_temporal_levels for t in taught.steps]
    assert noise[3] < noise[1]


@pytest.mark.invariant
def test_answers_are_those_of_the_results(taught):
    words = lesson_words(taught)
    reliable = [n for n, t in zip(words.labels, taught.steps, strict=True) if t.figures["reliable"]]
    (_, least), *_ = words.questions
    assert least.startswith(reliable[0])
    lost = [replace(t, figures={**t.figures, "reliable": False}) for t in taught.steps]
    failed = lesson_words(replace(taught, steps=tuple(lost)))
    assert not any(label in failed.questions[0][1] for label in words.labels)
    assert failed.shown[1] != words.shown[1]


FIGURES = (
    "probability success_percent shutter_s gain_db motion_blur_px exposure_s mean_level"
    " white_percent electrons noise_temporal_levels irradiance_w_m2 pixels_per_m"
    " character_height_px luminance_ratio exposures sensor_range_db exposure_ratio snr"
    " read_noise_e electrons_per_lux_s speed_m_s drop_m depth_m scale_px towards_px across_px"
    " stroke_px field_m formula_px distance_m beam_w_m2 trail_px trail_frames share"
    " filter_noise tenth_frames tenth_s half_face_px observation_deg"
)


@pytest.mark.invariant
@pytest.mark.parametrize("name", list(LESSONS))
@pytest.mark.parametrize("reliable", [True, False])
def test_every_lesson_can_be_said_whatever_comes_out(name, reliable, taught):
    """Figures are all 1; modes, verdicts and marks as they may come."""
    lesson, one = LESSONS[name], taught.steps[0]
    figures = dict.fromkeys(FIGURES.split(), 1.0) | {
        "reliable": reliable,
        "mode": "day",
        "wide": False,
    }
    figures |= {"density_class": "recognise"}
    steps = [replace(one, step=step, figures=figures) for step in lesson.steps]
    steps[-1] = replace(steps[-1], figures={**figures, "mode": "night", "wide": True})
    words = lesson_words(replace(taught, lesson=lesson, steps=tuple(steps)))
    assert len(words.questions) >= 3
    texts = [*words.shown, *words.captions, *(text for pair in words.questions for text in pair)]
    assert all(texts)
    assert not any("  " in text or "{" in text or " ." in text for text in texts)
    assert set(words.titles) >= set(lesson.curves)


@pytest.mark.invariant
def test_light_falls_by_half_decades():
    values = [step.value for step in LESSONS["low-light"].steps]
    assert values == [300, 100, 30, 10, 3, 1, 0.3, 0.1]


class Page(HTMLParser):
    def __init__(self):
        super().__init__()
        self.pictures, self.open, self.headings, self.links = [], [], [], []

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        if tag == "img":
            self.pictures.append(found)
        self.links += [found[k] for k in ("src", "href") if k in found]
        if tag not in ("img", "meta"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


@pytest.mark.invariant
def test_the_page_stands_alone_and_speaks(taught, tmp_path):
    paths = save_lesson(tmp_path / "lesson", taught)
    text = paths[0].read_text(encoding="utf-8")
    page = Page()
    page.feed(text)
    assert page.open == []
    assert all(link.startswith(("data:", "#")) for link in page.links)
    assert len(page.pictures) == 2 * len(taught.steps) + 1
    assert all(picture.get("alt") for picture in page.pictures)
    words = lesson_words(taught)
    for question, answer in words.questions:
        assert question in html.unescape(text)
        assert answer in html.unescape(text)
    verdict = json.loads((tmp_path / "lesson" / "verdict.json").read_text(encoding="utf-8"))
    assert verdict["schema_version"] == 1
    assert [row["label"] for row in verdict["steps"]] == words.labels
    assert [row["value"] for row in verdict["steps"]] == [t.step.value for t in taught.steps]
    assert taught.camera.model.title in " ".join(verdict["conditions"])
    section = section_of(tmp_path / "lesson")
    assert section.title == words.title
    assert len(section.pictures) == 2
    assert section.tables[0].rows


@pytest.mark.by_hand
def test_the_formulas_of_motion_and_pixels_are_those_of_the_camera():
    motion, pixels = LESSONS["motion"], LESSONS["pixels"]
    scene, camera = load_pair(motion.scene, motion.camera, [*motion.sets, *motion.steps[2].sets])
    in_scene = place_camera(build_world(scene.model), scene.model.station, camera.model)
    card = in_scene.world.cards[in_scene.world.targets["plate"][0]]
    smear = np.hypot(*in_scene.smear_px(1 / 250, card.centre_m)[card.group])
    # b = v t (f/p) h / d^2 = 8.333 / 250 x 22 mm / 2.9 um x 2.45 m / (18.2 m)^2
    assert smear == pytest.approx(8.333 / 250 * 7586.0 * 2.45 / 18.2**2, rel=0.04)
    scene, camera = load_pair(pixels.scene, pixels.camera, [*pixels.sets, *pixels.steps[2].sets])
    in_scene = place_camera(build_world(scene.model), scene.model.station, camera.model)
    card = in_scene.world.cards[in_scene.world.targets["plate"][0]]
    depth = float(in_scene.view.project(card.centre_m)[1])
    # 10 mm / (2.9 um x 27.1 m)
    assert in_scene.view.pixels_per_m(depth) == pytest.approx(10e-3 / 2.9e-6 / 27.1, rel=0.01)


@pytest.mark.invariant
def test_an_unknown_lesson_is_refused_with_the_known_ones():
    with pytest.raises(NameNotFoundError) as caught:
        find_lesson("colours")
    assert "backlight" in caught.value.text()
    names = [command.name for command in app.registered_commands]
    assert {"lesson", "calendar"} <= set(names)
