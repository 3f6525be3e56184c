"""Bad input: one clear message, exit code 2, no traceback, nothing written."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from simulator.app.cli import main
from simulator.files import find

Refused = Callable[..., str]

CAMERA = "fixed-2mp-lowlight"
SCENE = "depot-gate-dark"


@pytest.fixture
def refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Refused:
    """Run predict in an empty folder; return its message and see that nothing was written."""

    def run(*arguments: str, scene: str | Path = SCENE, camera: str = CAMERA) -> str:
        before = sorted(tmp_path.rglob("*"))
        monkeypatch.chdir(tmp_path)
        words = ["nightproof", "predict", str(scene), "--camera", camera, *arguments]
        monkeypatch.setattr(sys, "argv", words)
        with pytest.raises(SystemExit) as caught:
            main()
        printed = capsys.readouterr()
        assert caught.value.code == 2, printed.err
        assert printed.out == ""
        assert "Traceback" not in printed.err
        assert sorted(tmp_path.rglob("*")) == before
        return printed.err

    return run


def labels(message: str) -> set[str]:
    return {
        word
        for word in ("option", "file", "key", "given", "allowed", "fix")
        if any(line.startswith(f"  {word}:") for line in message.splitlines())
    }


ALL = {"file", "key", "given", "allowed", "fix"}


def changed(tmp_path: Path, old: str, new: str) -> Path:
    text = find("scenes", SCENE).read_text()
    assert old in text
    path = tmp_path / "changed.toml"
    path.write_text(text.replace(old, new, 1))
    return path


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("line", "key", "fix"),
    [
        ("hight_m = 3.0", "station.hight_m", "did you mean height_m?"),
        ("height_ft = 10", "station.height_ft", "write height_m = 3.048"),
        ("height_m = 3000.0", "station.height_m", "in m"),
        ('height_m = "3.0"', "station.height_m", "without quotation marks"),
        ("height_m = nan", "station.height_m", "finite"),
        ("height_m = -inf", "station.height_m", "finite"),
        ("distance_ft = 5.0", "station.distance_ft", "allowed keys"),
    ],
)
def test_wrong_key_or_value_in_a_file(
    refused: Refused, tmp_path: Path, line: str, key: str, fix: str
) -> None:
    path = changed(tmp_path, "height_m = 3.0", line)
    message = refused(scene=path)
    assert labels(message) == ALL
    assert f"file:    {path}" in message
    assert f"key:     {key}\n" in message
    assert fix in message


@pytest.mark.by_hand
def test_wrong_type_in_a_file(refused: Refused, tmp_path: Path) -> None:
    message = refused(scene=changed(tmp_path, "height_m = 3.0", "height_m = true"))
    assert labels(message) >= {"file", "key", "given", "allowed"}


@pytest.mark.by_hand
def test_missing_file(refused: Refused, tmp_path: Path) -> None:
    message = refused(scene=tmp_path / "none.toml")
    assert "There is no such file." in message
    assert labels(message) >= {"file", "allowed", "fix"}


@pytest.mark.by_hand
def test_unknown_names(refused: Refused) -> None:
    message = refused(scene="depot-gate-drak")
    assert "did you mean depot-gate-dark" in message
    message = refused(camera="fixed-2mp-lowlihgt")
    assert "did you mean fixed-2mp-lowlight" in message
    assert labels(message) >= {"given", "allowed", "fix"}


@pytest.mark.by_hand
def test_unreadable_toml(refused: Refused, tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_text("title = = 3\n")
    message = refused(scene=path)
    assert "line 1, column 9" in message
    assert labels(message) >= {"file", "given", "allowed", "fix"}


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("station.hight_m=3", "did you mean station.height_m"),
        ("station.height_m=0", "a number from 0.05 to 200"),
        ("station.height_m=nan", "finite"),
        ("exposure.shutter_ms=10", "exposure.shutter_s"),
        ("title=x", "scene.title or camera.title"),
    ],
)
def test_bad_set(refused: Refused, text: str, part: str) -> None:
    message = refused("--set", text)
    assert labels(message) - {"file"} == {"option", "key", "given", "allowed", "fix"}
    assert f"  option:  --set {text.partition('=')[0]}" in message
    assert part in message


@pytest.mark.by_hand
def test_set_without_a_value(refused: Refused) -> None:
    message = refused("--set", "station.height_m")
    assert labels(message) == {"option", "given", "allowed", "fix"}
    assert "option:  --set" in message


@pytest.mark.by_hand
def test_output_that_cannot_be_written(refused: Refused, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("precious")
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "notes.txt").write_text("precious")
    for out in (tmp_path / "file" / "r", tmp_path / "file", tmp_path / "folder", "/proc/none/r"):
        message = refused("--out", str(out))
        assert labels(message) >= {"file", "given", "allowed", "fix"}
        assert str(out) in message


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("text", "key"),
    [
        ('target.plate.text="ÄÖ 12"', "target.plate.text"),
        ("target.plate.position_m=[0.4, -5.0, 0.55]", "target.plate"),
        ("target.plate.position_m=[40.0, 18.0, 0.55]", "target.plate"),
        ("natural_light.illuminance_lux=0", None),
    ],
)
def test_scenes_that_cannot_be_imaged(refused: Refused, text: str, key: str | None) -> None:
    message = refused("--set", text)
    assert labels(message) >= {"file", "given", "fix"}
    if key is not None:
        assert f"key:     {key}" in message


@pytest.mark.invariant
def test_the_installed_command_ends_the_same_way(tmp_path: Path) -> None:
    code = "from simulator.app.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "predict", "no-such", "--camera", CAMERA],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("There is no bundled scene of this name.")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.by_hand
def test_a_file_of_another_kind_is_told_as_what_it_is(refused: Refused):
    scene, camera = find("scenes", SCENE), find("cameras", CAMERA)
    assert "This is a scene, not a camera." in refused(camera=str(scene))
    told = refused(scene=camera)
    assert "This is a camera, not a scene." in told
    assert {"file", "given", "allowed", "fix"} <= labels(told)
    site = scene.parent / "sites" / "fruit-depot.toml"
    assert "This is a site, not a scene." in refused(scene=site)
