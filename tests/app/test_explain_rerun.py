"""`nightproof explain` and `nightproof rerun`, as a person uses them."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

import pytest
from bare import bare

from simulator import Camera, Scene, predict
from simulator.api.again import rerun
from simulator.api.explaining import ROOTS, explain, keys
from simulator.app.cli import main
from simulator.errors import InputError
from simulator.report.document import render
from simulator.studies.provenance import input_hash
from simulator.studies.short_names import SHORT_NAMES
from simulator.validation import COMMON_WORDS

GATE, CAMERA = bare("depot-gate-infrared"), "plate-2mp-infrared"
SMALL = {"sensor.width_px": 640, "sensor.height_px": 640}


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Path:
    camera = Camera.load(CAMERA).set(SMALL)
    found = predict(GATE, camera, seed=7, remedies=False, tolerances=False, reserve=False)
    return found.save(tmp_path_factory.mktemp("again") / "result")


def command(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["nightproof", *words])
    with pytest.raises(SystemExit) as caught:
        main()
    return int(caught.value.code or 0)


@pytest.mark.invariant
def test_a_result_made_again_is_identical(
    result: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    before = {p: p.read_bytes() for p in result.rglob("*") if p.is_file()}
    assert command(monkeypatch, "rerun", str(result)) == 0
    assert capsys.readouterr().out.startswith("identical: all ")
    assert {p: p.read_bytes() for p in result.rglob("*") if p.is_file()} == before


@pytest.mark.invariant
def test_what_differs_is_told(
    result: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    scene = result / "inputs" / "scene.toml"
    text = scene.read_text()
    scene.write_text(text.replace("speed_kmh = 15.0", "speed_kmh = 16.0"))
    monkeypatch.setattr("simulator.api.again.versions", lambda: {"numpy": "0.1"})
    try:
        assert text != scene.read_text()
        assert command(monkeypatch, "rerun", str(result), "--out", str(tmp_path / "new")) == 3
    finally:
        scene.write_text(text)
    told = capsys.readouterr().out
    assert "different: " in told and "frame.png" in told
    assert "numpy" in told and "0.1 now" in told
    assert "the files in inputs/ are not those of the result" in told
    assert "inputs/scene.toml was changed since" in told
    assert (tmp_path / "new" / "verdict.json").is_file()


@pytest.mark.invariant
def test_what_cannot_be_made_again_is_refused(result: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        rerun(tmp_path)
    (tmp_path / "verdict.json").write_text('{"schema_version": 1, "study": "sweep"}')
    with pytest.raises(InputError, match="Only the result of a prediction"):
        rerun(tmp_path)
    (tmp_path / "verdict.json").write_bytes((result / "verdict.json").read_bytes())
    (tmp_path / "inputs").mkdir()
    for run in ("[]", "{", '{"remedies": 1}'):
        (tmp_path / "inputs" / "run.json").write_text(run)
        with pytest.raises(InputError):
            rerun(tmp_path)
    whole = json.loads((result / "inputs" / "run.json").read_text())
    plain = dict.fromkeys(("raw", "remedies", "reserve", "tolerances"), False)
    assert whole == {"cameras": None, **plain}


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("version", "words"),
    [(1, "an earlier version"), (3, "a later version"), (None, "does not say"),
     ("2", "does not say"), (True, "does not say"), (-1, "an earlier version"),
     ([], "does not say")],
)  # fmt: skip
def test_another_layout_is_refused_with_the_way_to_migrate(
    result: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str], version: object, words: str,
) -> None:  # fmt: skip
    other = tmp_path / "other"
    shutil.copytree(result, other)
    table = json.loads((result / "verdict.json").read_text())
    now = table.pop("schema_version")
    (other / "verdict.json").write_text(
        json.dumps(table if version is None else {**table, "schema_version": version})
    )
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    monkeypatch.chdir(tmp_path)
    for study, *more in (("rerun",), ("report", "--title", "t")):
        assert command(monkeypatch, study, str(other), *more) == 2
        told = capsys.readouterr()
        if study == "report" and version is None:
            assert "not that of a result" in told.err
            continue
        assert words in told.err and "key:     schema_version" in told.err
        assert f"allowed: {now}" in told.err
        assert "nightproof predict inputs/scene.toml --camera inputs/camera.toml" in told.err
        assert f"nightproof {table['versions']['nightproof']} wrote it" in told.err
        assert told.out == ""
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before
    # the way to migrate goes
    monkeypatch.chdir(other)
    again = Scene.load("inputs/scene.toml"), Camera.load("inputs/camera.toml")
    assert input_hash(*again) == table["input_hash"]


@pytest.mark.invariant
def test_a_study_of_another_layout_is_refused_by_report(tmp_path: Path) -> None:
    told = '{"schema_version": 2, "study": "sweep", "title": "t", "question": "q", "answer": "a"}'
    (tmp_path / "verdict.json").write_text(told)
    with pytest.raises(InputError, match="a later version") as caught:
        render([tmp_path], title="t", client="", author="")
    assert "run the study again" in (caught.value.fix or "")


@pytest.mark.by_hand
@pytest.mark.parametrize("seed", ["7", -1, 1.5, None, [1]])
def test_a_seed_that_is_none_is_refused(result: Path, tmp_path: Path, seed: object) -> None:
    other = tmp_path / "other"
    shutil.copytree(result, other)
    table = json.loads((result / "verdict.json").read_text())
    (other / "verdict.json").write_text(json.dumps({**table, "seed": seed}))
    with pytest.raises(InputError):
        rerun(other)


@pytest.mark.by_hand
def test_a_key_is_explained(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command(monkeypatch, "explain", "target.plate.speed_kmh") == 0
    told = capsys.readouterr().out
    assert "target.NAME.speed_kmh (scene): Speed [km/h]." in told
    assert "allowed: a number from 0 to 400" in told and "default: 0.0" in told
    [found] = explain("camera.exposure.flicker_safe_hz")
    assert (found.where, found.default) == ("camera", "nothing")
    assert {one.where for one in explain("title")} >= {"scene", "camera"}
    assert explain("snr_db")[0].where == "verdict.json"


@pytest.mark.by_hand
def test_short_names_and_words_of_the_trade_are_explained() -> None:
    for name, short in SHORT_NAMES.items():
        own, *others = explain(name)
        assert (own.where, own.key) == ("short name", name)
        assert others or "`" not in short.meaning or name == "lamp"
        assert own.allowed.endswith(f", in {short.unit}" if short.unit else "=VALUE")
    assert "exposure.gain_max_db" in [one.key for one in explain("gain")]
    assert [one.key for one in explain("WDR")] == ["wide_range.method"]
    for word in COMMON_WORDS:
        assert explain(word)


@pytest.mark.invariant
def test_every_key_of_scenes_cameras_and_verdicts_has_a_meaning() -> None:
    every = list(keys())
    assert {one.where for one in every} == set(ROOTS)
    assert [f"{one.where} {one.key}" for one in every if not one.meaning.strip()] == []


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("key", "fix"),
    [("station.hight_m", "station.height_m"), ("", "schema"), ("qqqqq", "schema")],
)  # fmt: skip
def test_unknown_keys_bring_the_nearest(key: str, fix: str) -> None:
    with pytest.raises(InputError) as caught:
        explain(key)
    assert fix in (caught.value.fix or "")
