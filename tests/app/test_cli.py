"""The command line: help, lists, schema, exit codes, and the lines it prints."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from simulator import __version__
from simulator.app.cli import main
from simulator.app.cli.verdict_text import verdict_rows
from simulator.judge.result import Verdict
from simulator.report.wording.verdict import worded

PREDICT = ("predict", "depot-gate-infrared", "--camera", "fixed-2mp-lowlight")
TABLES: dict[str, Any] = {
    "exposure": {"shutter_s": 0.04, "gain_db": 12.34, "limited_by": "shutter_max_s"},
    "verdict": "marginal",
    "probability": 0.71,
    "probability_low": 0.6,
    "probability_high": 0.8,
    "probability_all_fixed": 0.99,
    "limits": [
        {
            "factor": "motion",
            "probability_without": 0.98,
            "probability_only": 0.74,
            "share": 0.27,
        },
        {"factor": "glare", "probability_without": 0.71, "probability_only": 1.0, "share": 0.0},
    ],
    "remedies": [
        {
            "lever": "longest shutter",
            "from": 0.04,
            "to": 0.01,
            "unit": "s",
            "probability": 0.95,
            "reaches": True,
            "sets": ["exposure.shutter_max_s=0.01"],
            "camera": None,
            "messages": {
                "side_effects": [{"id": "effect.noise-of-gain", "values": {}}],
                "cautions": [],
            },
        }
    ],
    "messages": {
        "cautions": [{"id": "caution.height", "values": {"height_m": 4.0}}],
        "conditions": [],
        "to_settle": {
            "id": "settle.measure",
            "values": {"keys": ["camera.sensor.prnu"], "values": [0.01], "tolerances": [0.005]},
        },
    },
}


@pytest.fixture(scope="module")
def verdict(make_verdict: Callable[..., Verdict]) -> Verdict:
    return worded(make_verdict(**TABLES))


@pytest.fixture(autouse=True)
def _result(monkeypatch: pytest.MonkeyPatch, verdict: Verdict) -> None:
    monkeypatch.setattr(FakeResult, "verdict", verdict, raising=False)


class FakeResult:
    verdict: Verdict

    def save(self, folder: Path, *, raw: bool = False) -> None:
        folder.mkdir(parents=True)
        (folder / ("raw" if raw else "plain")).write_text("x")


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    monkeypatch.setattr(sys, "argv", ["nightproof", *arguments])
    with pytest.raises(SystemExit) as caught:
        main()
    assert isinstance(caught.value.code, int)
    return caught.value.code


def stand_in(monkeypatch: pytest.MonkeyPatch, function: Any) -> None:
    """Replace the computation, so that the command alone is tested."""
    monkeypatch.setattr("simulator.api.prediction.predict", function)


@pytest.mark.by_hand
@pytest.mark.parametrize("arguments", [("--help",), ("predict", "--help"), ("list", "-h")])
def test_help(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...]
) -> None:
    assert run(monkeypatch, *arguments) == 0
    assert "Usage: nightproof" in capsys.readouterr().out


@pytest.mark.by_hand
def test_version(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(monkeypatch, "--version") == 0
    assert capsys.readouterr().out == f"nightproof {__version__}\n"


@pytest.mark.by_hand
@pytest.mark.parametrize(
    "arguments",
    [
        ("predict",),
        ("predict", "yard-noon"),
        ("nothing-such",),
        (*PREDICT, "--seed", "-1"),
        (*PREDICT, "--seed", "one"),
        (*PREDICT, "--sett", "a=b"),
        ("schema", "house"),
    ],
)
def test_wrong_use_ends_with_2(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...]
) -> None:
    assert run(monkeypatch, *arguments) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "Error" in printed.err
    assert "Traceback" not in printed.err


@pytest.mark.by_hand
def test_list_names_every_kind(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, "list", "--json") == 0
    names = json.loads(capsys.readouterr().out)
    assert list(names) == [
        "scenes",
        "sites",
        "cameras",
        "lenses",
        "lights",
        "spectra",
        "spectra_made_on_demand",
        "materials",
        "sheetings",
        "plate_designs",
        "quantum_efficiencies",
    ]
    assert all(entries == sorted(set(entries)) and entries for entries in names.values())
    assert run(monkeypatch, "list") == 0
    printed = capsys.readouterr().out
    assert all(entry in printed for entries in names.values() for entry in entries)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("kind", "key"),
    [
        ("scene", "natural_light"),
        ("camera", "sensor"),
        ("lens", "f_number_wide"),
        ("light", "wavelength_nm"),
        ("verdict", "probability_low"),
        ("site", "position"),
    ],
)
def test_schema(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], kind: str, key: str
) -> None:
    assert run(monkeypatch, "schema", kind) == 0
    schema = json.loads(capsys.readouterr().out)
    assert key in schema["properties"]
    assert schema["additionalProperties"] is False


@pytest.mark.by_hand
def test_predict_passes_everything_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    seen: dict[str, Any] = {}

    def predict(scene: Any, camera: Any, *, seed: int, progress: Any, **more: Any) -> FakeResult:
        progress("half", 0.5)
        seen.update(scene=scene, camera=camera, seed=seed, **more)
        return FakeResult()

    stand_in(monkeypatch, predict)
    monkeypatch.chdir(tmp_path)
    arguments = (*PREDICT, "--set", "target.plate.speed_kmh=40", "--seed", "7", "--raw")
    assert run(monkeypatch, *arguments) == 0
    assert seen["seed"] == 7
    assert seen["remedies"] is True
    assert seen["tolerances"] is True
    assert seen["cameras"] is None
    assert seen["camera"].name == "fixed-2mp-lowlight"
    assert seen["scene"].model.target[0].speed_kmh == 40.0
    name = "depot-gate-infrared--fixed-2mp-lowlight--target.plate.speed_kmh=40--seed=7"
    folder = Path("outputs") / name
    assert [path.name for path in folder.iterdir()] == ["raw"]
    printed = capsys.readouterr()
    assert printed.err == ""
    rows = [line.partition(":")[::2] for line in printed.out.splitlines() if ":" in line[:10]]
    assert [label for label, _ in rows] == [
        "question", "answer", "verdict", "marginal", "settle", "camera", "target", "limit", "limit",
        "remedy", "effect", "caution", "result",
    ]  # fmt: skip
    lines = {label: text.strip() for label, text in rows}
    assert lines["question"] == "Can the plate be read while the truck rolls in?"
    assert lines["verdict"] == "marginal: 71 % of pictures (60 to 80 %), target 90 %"
    assert lines["settle"].endswith("PRNU of the camera's sensor (0.01 ± 0.005).")
    assert "1/25 s, gain 12.3 dB, f/1.6, limited by shutter_max_s" in lines["camera"]
    assert '"T8Z4 R6V" at 18.2 m: 227 px/m (recognise), characters 17.0' in lines["target"]
    assert "motion blur: costs 27 % of pictures; " in printed.out
    assert lines["remedy"] == "Set the longest shutter to 1/100 s (now 1/25 s): 95 %"
    assert "          --set 'exposure.shutter_max_s=0.01'" in printed.out.splitlines()
    assert "4 m above ground" in lines["caution"]
    assert lines["result"] == str(folder)


@pytest.mark.by_hand
def test_json_is_the_verdict_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    stand_in(monkeypatch, lambda *_args, **_kwargs: FakeResult())
    assert run(monkeypatch, *PREDICT, "--json", "--out", str(tmp_path / "r")) == 0
    printed = capsys.readouterr()
    assert json.loads(printed.out) == FakeResult.verdict.to_dict()
    assert printed.err == ""


@pytest.mark.by_hand
def test_long_exposures_are_told_in_seconds(make_verdict: Callable[..., Verdict]) -> None:
    long = {"shutter_s": 1.5, "limited_by": "nothing", "gain_db": 12.34}
    rows = dict(verdict_rows(make_verdict(**{**TABLES, "exposure": long}), ""))
    assert rows["camera"] == "night mode, shutter 1.5 s, gain 12.3 dB, f/1.6"


@pytest.mark.by_hand
def test_a_fault_of_ours_is_one_line_and_ends_with_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    def fail(*_args: object, **_kwargs: object) -> None:
        raise ZeroDivisionError("by zero")

    stand_in(monkeypatch, fail)
    monkeypatch.delenv("NIGHTPROOF_DEBUG", raising=False)
    monkeypatch.chdir(tmp_path)
    assert run(monkeypatch, *PREDICT) == 1
    printed = capsys.readouterr()
    assert "ZeroDivisionError: by zero" in printed.err
    assert printed.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
    monkeypatch.setenv("NIGHTPROOF_DEBUG", "1")
    monkeypatch.setattr(sys, "argv", ["nightproof", *PREDICT])
    with pytest.raises(ZeroDivisionError):
        main()


@pytest.mark.by_hand
def test_interrupt_ends_with_130(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    def stop(*_args: object, **_kwargs: object) -> None:
        raise KeyboardInterrupt

    stand_in(monkeypatch, stop)
    monkeypatch.chdir(tmp_path)
    assert run(monkeypatch, *PREDICT) == 130
    assert "Traceback" not in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
