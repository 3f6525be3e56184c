"""Every key that a scene file may hold stands in the glossary."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import pytest

from simulator.fields import FileModel
from simulator.judge.named_figures import FIGURES, Figure
from simulator.judge.record import Quantity
from simulator.judge.result import Signal
from simulator.scene import (
    model,
    model_air,
    model_bodies,
    model_light,
    model_photo,
    model_targets,
    model_things,
)

GLOSSARY = Path(__file__).parents[2] / "docs" / "glossary.md"


def section(heading: str) -> str:
    text = GLOSSARY.read_text(encoding="utf-8")
    return text.split(f"## {heading}\n")[1].split("\n## ")[0]


def named(text: str) -> set[str]:
    """Last parts of all names in the first column."""
    first = "\n".join(line.split("|")[1] for line in text.splitlines() if line.startswith("| `"))
    return {name.split(".")[-1] for name in re.findall(r"`([^`]+)`", first)}


@pytest.mark.invariant
def test_every_scene_key_stands_in_the_glossary():
    keys = set()
    parts = (model, model_air, model_bodies, model_light, model_photo, model_targets, model_things)
    for module in parts:
        for entry in vars(module).values():
            if isinstance(entry, type) and issubclass(entry, FileModel):
                keys |= set(entry.model_fields)
    assert len(keys) > 80
    assert keys - named(section("Scene files")) == set()
    assert named(section("Scene files")) - keys == set()


@pytest.fixture(scope="module")
def tool():
    return runpy.run_path(str(GLOSSARY.parents[1] / "tools" / "make_glossary.py"))


@pytest.mark.invariant
def test_what_follows_from_registries_is_as_they_say(tool):
    text = GLOSSARY.read_text(encoding="utf-8")
    assert tool["renewed"](text) == text, "run tools/make_glossary.py"


@pytest.mark.invariant
def test_the_tool_sees_what_differs(tool):
    text = GLOSSARY.read_text(encoding="utf-8")
    told = "| motion | motion blur |"
    assert tool["renewed"](text.replace(told, "| motion | haste |")) == text
    assert tool["renewed"](text.replace("| `snr_db` | SNR, dB |", "| `snr_db` | lx |")) == text
    with pytest.raises(SystemExit, match="no comment <!-- table of levers"):
        tool["renewed"](text.replace("table of levers", "levers"))


@pytest.mark.by_hand
def test_a_new_figure_gets_a_row(tool):
    made = Figure("signal.made_px", Quantity("Made", "judge/made", "px", "m"), "made up")
    with FIGURES.with_record(made, before="signal.snr_db"):
        lines = tool["renewed"](GLOSSARY.read_text(encoding="utf-8")).splitlines()
    at = lines.index("| `made_px` | m, px | made up | judge/made |")
    assert lines[at - 1].startswith("| `electrons_dark` |")
    assert lines[at + 1].startswith("| `snr_db` |")


@pytest.mark.invariant
def test_every_number_of_the_signal_is_a_figure():
    assert {f"signal.{name}" for name in Signal.model_fields} <= set(FIGURES.names())


@pytest.mark.invariant
def test_every_module_that_the_glossary_names_exists():
    root = GLOSSARY.parents[1] / "simulator"
    missing = []
    for line in GLOSSARY.read_text(encoding="utf-8").splitlines():
        if line.startswith("| ") and line.count("|") == 5:
            for where in line.split("|")[4].split(","):
                name = where.strip()
                if (
                    "/" in name
                    and not (root / f"{name}.py").exists()
                    and not (root / name).is_dir()
                ):
                    missing.append(name)
    assert missing == []


@pytest.mark.invariant
def test_columns_of_the_studies_stand_in_the_glossary():
    from simulator.report.survey.words import HEAD
    from simulator.studies.calendar.findings import Month

    survey, calendar = section("Survey"), section("Calendar")
    words = {w.strip(" `") for row in survey.splitlines() if "|" in row
             for w in [row.split("|")[1], *row.split("|")[1].split(",")]}  # fmt: skip
    assert set(HEAD[1:]) - words == set()
    months = set(Month.__dataclass_fields__) - {"number"}
    assert months - named(calendar) == set()
