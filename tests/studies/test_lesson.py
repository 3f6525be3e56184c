from __future__ import annotations

import json
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from simulator.app.cli import app
from simulator.camera.in_scene import place_camera
from simulator.errors import NameNotFoundError
from simulator.report.document import section_of
from simulator.report.lesson import save_lesson
from simulator.scene.build import build_world
from simulator.studies.lessons.catalogue import LESSONS, find_lesson
from simulator.studies.lessons.lesson import Taught, teach
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
    elif isinstance(table, list) and table and isinstance(table[0], dict):
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
    assert changed == set(lesson.keys)
    assert len(lesson.steps) == len({step.label for step in lesson.steps}) >= 4


@pytest.fixture(scope="module")
def taught():
    lesson = find_lesson("infrared")
    lesson = replace(lesson, steps=lesson.steps[:4])
    return teach(lesson, seed=2, sets=SMALL, trials=24)


@pytest.mark.by_hand
def test_infrared_follows_the_inverse_square_law(taught):
    # lamp at (0.3, 0, 3.2), plate at (0.4, 18, 0.55), facing the camera: the distance is
    # sqrt(0.1^2 + 18^2 + 2.65^2) = 18.194 m, the plate upright: cosine 18/18.194 = 0.989
    for taken in taught.steps:
        beside = taken.step.value / 18.194**2 * 0.989
        assert taken.seen.irradiance_w_m2 == pytest.approx(beside, rel=0.02)
    light = [t.seen.electrons for t in taught.steps]
    assert np.diff(light).min() > 0.0
    # ten times the lamp, ten times its electrons, the night sky's share apart
    assert light[2] / light[0] == pytest.approx(10.0, rel=0.1)


@pytest.mark.invariant
def test_more_infrared_reads_better_until_white(taught):
    probability = [t.found.probability for t in taught.steps]
    assert probability[0] < 0.3
    assert probability[3] > 0.8
    noise = [t.seen.noise_temporal_levels for t in taught.steps]
    assert noise[3] < noise[1]


@pytest.mark.invariant
def test_answers_are_those_of_the_results(taught):
    least = taught.lesson.questions[0]
    served = [t for t in taught.steps if t.found.probability >= taught.wanted]
    assert served[0].step.label in least.answer(taught.steps)
    failed = [replace(t, found=replace(t.found, probability=0.0)) for t in taught.steps]
    assert least.answer(failed) == "None of them."
    assert "What is wanted is reached" not in " ".join(taught.lesson.told(failed))


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
    for question in taught.lesson.questions:
        assert question.ask(taught.steps).split("?")[0][:40] in text
    verdict = json.loads((tmp_path / "lesson" / "verdict.json").read_text(encoding="utf-8"))
    assert verdict["schema_version"] == 1
    assert [row["label"] for row in verdict["steps"]] == [t.step.label for t in taught.steps]
    section = section_of(tmp_path / "lesson")
    assert section.title == taught.lesson.title
    assert len(section.pictures) == 2
    assert section.tables[0].rows


@pytest.mark.by_hand
def test_the_formulas_of_motion_and_pixels_are_those_of_the_camera():
    from simulator.studies.lessons.motion import MOTION
    from simulator.studies.lessons.pixels import PIXELS

    scene, camera = load_pair(MOTION.scene, MOTION.camera, [*MOTION.sets, *MOTION.steps[2].sets])
    in_scene = place_camera(build_world(scene.model), scene.model.station, camera.model)
    card = in_scene.world.cards[in_scene.world.targets["plate"][0]]
    smear = np.hypot(*in_scene.smear_px(1 / 250, card.centre_m)[card.group])
    # b = v t (f/p) h / d^2 = 8.333 / 250 x 22 mm / 2.9 um x 2.45 m / (18.2 m)^2
    assert smear == pytest.approx(8.333 / 250 * 7586.0 * 2.45 / 18.2**2, rel=0.04)
    scene, camera = load_pair(PIXELS.scene, PIXELS.camera, [*PIXELS.sets, *PIXELS.steps[2].sets])
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


@pytest.mark.invariant
def test_what_is_fixed_is_said(taught):
    assert isinstance(taught, Taught)
    text = " ".join(taught.table()["conditions"])
    assert taught.steps[0].camera.model.title in text
    assert "seed" in text
