"""What messages and help say: the words of people, units as they write them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from bare import bare

import simulator.errors
from simulator import Camera, Scene
from simulator.errors import InputError
from simulator.studies.lessons.catalogue import find_lesson
from simulator.studies.overrides import load_pair

CODE = "from simulator.app.cli import main; main()"


def refused(*sets: str) -> InputError:
    with pytest.raises(InputError) as caught:
        load_pair(bare("depot-gate-dark"), "fixed-2mp-lowlight", sets)
    return caught.value


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ("target.plate.speed_kmh=900", "speed_kmh is in km/h"),
        ("sensor.pixel_pitch_um=900", "pixel_pitch_um is in µm"),
        ("exposure.gain_db=900", "gain_db is in dB"),
        ("target.plate.tilt_deg=900", "tilt_deg is in degrees"),
        ("wdr=on", "wide_range.method"),
        ("exposure.shutter=1/50", "exposure.shutter_s"),
        ("ir=on", "illuminator"),
        ("day_night.mode=mono", '"night"'),
        ("wide_range.method=wdr", '"exposures"'),
    ],
)
def test_the_fix_is_in_the_words_of_people(text: str, fix: str) -> None:
    assert fix in (refused(text).fix or "")


@pytest.mark.by_hand
def test_common_words_for_kinds(tmp_path: Path) -> None:
    table = Scene.load(bare("depot-gate-dark")).table()
    for word, meant in (("lorry", "vehicle-front"), ("number-plate", "plate"), ("man", "person")):
        other = {"kind": word, "name": "x", "position_m": [0.0, 15.0, 0.0]}
        with pytest.raises(InputError) as caught:
            Scene.from_dict({**table, "target": [*table["target"], other]})
        assert caught.value.fix == f'did you mean "{meant}"?'
    with pytest.raises(InputError) as caught:
        find_lesson("backlihgt")
    assert "backlight" in (caught.value.fix or "")


@pytest.mark.by_hand
def test_what_is_set_can_be_switched_off_again() -> None:
    assert "none to switch it off" in (refused("exposure.flicker_safe_hz=abc").allowed or "")
    held = Camera.load("fixed-2mp-lowlight", ["exposure.shutter_s=1/500"])
    assert held.set("exposure.shutter_s=none").model.exposure.shutter_s is None
    assert held.set("exposure.shutter_s=none") == Camera.load("fixed-2mp-lowlight")
    worn = Scene.load(bare("depot-gate-dark")).set('target.plate.sheeting="none"')
    assert worn.model.target[0].sheeting == "none"  # a value of its own stays one


@pytest.mark.invariant
def test_no_path_of_an_installation_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(simulator.errors, "_BUNDLED", Path("/usr/lib/x/simulator/bundled"))
    file = "/usr/lib/x/simulator/bundled/profiles/cameras/fixed-2mp-lowlight.toml"
    told = InputError("No.", file=file).text()
    assert "the bundled camera fixed-2mp-lowlight" in told
    assert "/usr" not in told
    assert "/home/me/a.toml" in InputError("No.", file="/home/me/a.toml").text()


def run(*words: str, cwd: Path, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-c", CODE, *words], cwd=cwd, env={**os.environ, **environment},
        capture_output=True, check=False,
    )  # fmt: skip


@pytest.mark.invariant
def test_help_uses_the_width_of_the_terminal(tmp_path: Path) -> None:
    for columns in (40, 200):
        told = run("predict", "--help", cwd=tmp_path, COLUMNS=str(columns), TERM="dumb")
        assert told.returncode == 0
        widest = max(len(line) for line in told.stdout.decode().splitlines())
        # an option's own name is never broken
        assert widest <= columns + 20
        assert columns == 40 or widest > 100
    assert b"[default: 0" in told.stdout


@pytest.mark.invariant
def test_a_terminal_of_ascii_shows_what_it_can(tmp_path: Path) -> None:
    told = run("explain", "pixel_pitch_um", cwd=tmp_path, LC_ALL="C", PYTHONIOENCODING="ascii")
    assert told.returncode == 0, told.stderr
    told = run("show", bare("depot-gate-dark"), "--out", "x.png", cwd=tmp_path, LC_ALL="C",
               TERM="dumb", PYTHONIOENCODING="ascii", HOME="/proc/none")  # fmt: skip
    assert (told.returncode, told.stderr) == (0, b"")  # not where charts keep their fonts, either


@pytest.mark.invariant
def test_shell_completion_is_written(tmp_path: Path) -> None:
    told = run("--show-completion", "bash", cwd=tmp_path)
    if told.returncode != 0:  # typer asks the parent process which shell it is
        told = run("--show-completion", cwd=tmp_path, SHELL="/bin/bash",
                   _TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION="1")  # fmt: skip
    found = run(cwd=tmp_path, _NIGHTPROOF_COMPLETE="complete_bash", COMP_WORDS="nightproof pre",
                COMP_CWORD="1")  # fmt: skip
    assert b"predict" in found.stdout


@pytest.mark.invariant
@pytest.mark.parametrize("home", [None, "/proc/none"], ids=["none", "not writable"])
def test_commands_work_without_a_home_in_a_plain_locale(tmp_path: Path, home: str | None) -> None:
    """No HOME, locale C, a dumb terminal of 40 columns: a scene is written, a key told."""
    kept = {k: v for k, v in os.environ.items() if k not in ("HOME", "XDG_CACHE_HOME", "LANG")}
    bare_of_all = {**kept, "LC_ALL": "C", "TERM": "dumb", "COLUMNS": "40"}
    if home is not None:
        bare_of_all["HOME"] = home
    for words in (("new", "scene", "mine", "--distance-m", "12"), ("explain", "shutter")):
        told = subprocess.run(
            [sys.executable, "-c", CODE, *words], cwd=tmp_path, env=bare_of_all,
            stdin=subprocess.DEVNULL, capture_output=True, check=False,
        )  # fmt: skip
        assert (told.returncode, told.stderr) == (0, b""), words
        assert told.stdout or words[0] == "new"
    assert Scene.load(tmp_path / "mine.toml").model.station.height_m > 0.0
