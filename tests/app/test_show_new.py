"""`nightproof show` and `nightproof new scene`."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from PIL import Image

from simulator.app.cli import main
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.studies.new.kinds import KINDS
from simulator.studies.new.lights import LIGHTS
from simulator.studies.new.scene import Answers, answers_for, scene_text
from simulator.studies.outside import at_moment, indoors
from simulator.studies.session import open_session


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    monkeypatch.setattr(sys, "argv", ["nightproof", *arguments])
    with pytest.raises(SystemExit) as caught:
        main()
    return int(caught.value.code or 0)


@pytest.mark.by_hand
def test_show_writes_a_picture_and_prints_the_table(monkeypatch, capsys, tmp_path: Path):
    out = tmp_path / "site.png"
    assert run(monkeypatch, "show", "yard-noon", "--out", str(out), "--json") == 0
    table = json.loads(capsys.readouterr().out)
    assert out.stat().st_size > 10_000
    assert table["illuminance_lux"] == pytest.approx(
        sum(light["illuminance_lux"] or 0.0 for light in table["lights"])
    )


@pytest.mark.invariant
def test_show_replaces_its_own_picture_and_no_other(monkeypatch, capsys, tmp_path: Path):
    monkeypatch.chdir(tmp_path)
    assert run(monkeypatch, "show", "yard-noon") == 0
    assert run(monkeypatch, "show", "yard-noon") == 0
    assert [path.name for path in Path("outputs").iterdir()] == ["yard-noon--site.png"]
    mine = tmp_path / "mine.png"
    foreign = tmp_path / "foreign.png"
    Image.new("RGB", (4, 4)).save(foreign)
    for content in (b"precious", foreign.read_bytes()):
        mine.write_bytes(content)
        capsys.readouterr()
        assert run(monkeypatch, "show", "yard-noon", "--out", str(mine)) == 2
        assert "in the way" in capsys.readouterr().err
        assert mine.read_bytes() == content


@pytest.mark.by_hand
def test_show_tells_every_light_of_the_target(monkeypatch, capsys, tmp_path: Path):
    # the window stands behind the guest: only what the room throws back of it gets to the face
    assert run(monkeypatch, "show", "reception-window", "--out", str(tmp_path / "x.png")) == 0
    told = capsys.readouterr().out
    light = dict(line.split(":", 1) for line in told.splitlines() if " lx" in line and ":" in line)
    lux = {name: float(text.split(" lx")[0].replace(" ", "")) for name, text in light.items()
           if name.startswith(("window", "ceiling lamp"))}  # fmt: skip
    assert len(lux) == 5
    assert min(lux.values()) > 0.0


@pytest.mark.by_hand
def test_show_refuses_what_is_not_there(monkeypatch, capsys, tmp_path: Path):
    assert run(monkeypatch, "show", "no-such-scene", "--out", str(tmp_path / "x.png")) == 2
    assert "no-such-scene" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.by_hand
@pytest.mark.parametrize("light", sorted(LIGHTS))
def test_every_light_makes_a_valid_scene(tmp_path: Path, light: str):
    path = tmp_path / "mine.toml"
    path.write_text(scene_text(Answers(light=light, lamp_lm=500.0)), encoding="utf-8")
    scene = Scene.load(path).model
    assert scene.natural_light.illuminance_lux == LIGHTS[light].lux
    assert scene.lamp[0].luminous_flux_lm == 500.0
    assert path.read_text(encoding="utf-8").count("#") >= 6


@pytest.mark.by_hand
def test_new_scene_takes_options_and_keeps_what_is_there(monkeypatch, capsys, tmp_path: Path):
    path = tmp_path / "gate.toml"
    options = ("--distance-m", "12", "--text", "K5X8 L6M", "--infrared", "none", "--vehicle", "van")
    assert run(monkeypatch, "new", "scene", str(path), *options) == 0
    scene = Scene.load(path).model
    assert scene.illuminator == ()
    assert scene.target[0].text == "K5X8 L6M"
    assert scene.target[0].position_m[1] == 12.0
    before = path.read_text(encoding="utf-8")
    # the lens is focused on the target, and the file says so
    assert scene.station.focus_m is None
    assert "focused\n# on the target" in before
    assert open_session(Scene.load(path), Camera.load("fixed-2mp-lowlight")).in_scene.focus_m == (
        pytest.approx(12.0, abs=0.3)
    )
    capsys.readouterr()
    assert run(monkeypatch, "new", "scene", str(path), "--text", "A1B2") == 2
    assert "--overwrite" in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == before


@pytest.mark.by_hand
@pytest.mark.parametrize(
    "bad",
    [
        ("--light", "dawn"), ("--vehicle", "tank"), ("--height-m", "-1"), ("--distance-m", "-5"),
        ("--distance-m", "far"), ("--speed-kmh", "nan"), ("--infrared", "no-such-lamp"),
        ("--lamp", "40"), ("--lamp", "-3 W"), ("--text", ""), ("--text", "ABCDEFGHIJKLM"),
    ],
)  # fmt: skip
def test_bad_answers_write_nothing(monkeypatch, capsys, tmp_path: Path, bad: tuple[str, str]):
    path = tmp_path / "gate.toml"
    assert run(monkeypatch, "new", "scene", str(path), *bad) == 2
    told = capsys.readouterr().err
    assert "allowed:" in told
    assert bad[0] in told
    assert list(tmp_path.iterdir()) == []


@pytest.mark.by_hand
def test_a_terminal_asks_again_until_the_answer_is_possible(monkeypatch, capsys, tmp_path: Path):
    answers = iter(["far", "-5", "12", "40", "40 W"])
    asked: list[str] = []

    def prompt(words: str, default: str) -> str:
        asked.append(words)
        return next(answers) if words.startswith(("Distance", "Lamp")) else default

    monkeypatch.setattr("typer.prompt", prompt)
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    path = tmp_path / "gate.toml"
    assert run(monkeypatch, "new", "scene", str(path), "--vehicle", "van") == 0
    told = capsys.readouterr().err
    assert told.count("allowed:") == 3
    assert "from 1 to 1000 [m]" in told
    assert not any(words.startswith("Vehicle") for words in asked)
    scene = Scene.load(path).model
    assert scene.target[0].position_m[1] == 12.0
    # 40 W of an LED at 110 lm/W
    assert scene.lamp[0].luminous_flux_lm == pytest.approx(4400.0)


@pytest.mark.invariant
@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_makes_a_scene_whose_target_is_seen(kind: str):
    for more in ({}, {"sideways_m": -1.0, "distance_m": 9.0, "light": "3 lx"}):
        scene = Scene.from_toml(scene_text(answers_for(kind, **more)), name=kind)
        camera = "doorway-2mp-wide" if KINDS[kind].indoors else "fixed-2mp-lowlight"
        target = open_session(scene, Camera.load(camera)).target
        assert target.entry.name == scene.model.task.target
        away = answers_for(kind, **more).distance_m
        assert target.distance_m == pytest.approx(away, rel=0.2)
        assert indoors(scene.model) == KINDS[kind].indoors
        assert (len(scene.model.room) == 1) == KINDS[kind].indoors


@pytest.mark.by_hand
def test_the_sky_of_an_hour_stands_behind_the_door_and_the_lamps_stay():
    scene = Scene.from_toml(scene_text(answers_for("door")), name="door")
    noon, night = (
        at_moment(scene, f"2026-06-21 {hour}", place=(48.2, 16.4)).model
        for hour in ("12:00", "00:00")
    )
    lux = [next(s for s in m.surface if s.name == "doorway").illuminance_lux for m in (noon, night)]
    # a clear noon of midsummer brings some 100 000 lx; the night stays under 1 lx
    assert lux[0] > 30_000.0
    assert lux[1] < 1.0
    for model in (noon, night):
        assert model.natural_light == scene.model.natural_light
        assert model.lamp == scene.model.lamp


@pytest.mark.by_hand
def test_a_kind_refuses_what_it_does_not_ask(monkeypatch, capsys, tmp_path: Path):
    path = str(tmp_path / "door.toml")
    assert run(monkeypatch, "new", "scene", path, "--kind", "door", "--text", "K5X8 L6M") == 2
    assert "--text" in capsys.readouterr().err
    assert run(monkeypatch, "new", "scene", path, "--kind", "boat") == 2
    assert "car-park" in capsys.readouterr().err
    with pytest.raises(InputError, match="no light"):
        scene_text(answers_for("gate", light="0 lx"))
    assert run(monkeypatch, "new", "scene", path, "--kind", "fence", "--distance", "60",
               "--speed", "7", "--lux", "3 lx") == 0  # fmt: skip
    scene = Scene.load(path).model
    assert scene.natural_light.illuminance_lux == 3.0
    assert scene.target[0].position_m[1] == 60.0
    assert scene.target[0].speed_kmh == 7.0
