"""What a shell completes, and bundled files to start from."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from simulator.app.cli import app
from simulator.app.cli.completing import keys, names
from simulator.files import bundled_names, find


@pytest.mark.by_hand
def test_names_are_completed_in_lists_too():
    assert names("scenes")("depot-gate-d") == ["depot-gate-dark"]
    assert names("cameras")("fixed-5mp,plate-2mp-i") == ["fixed-5mp,plate-2mp-infrared"]
    assert names("lights")("no such") == []


@pytest.mark.by_hand
def test_keys_are_those_of_the_scene_and_camera():
    typed = SimpleNamespace(params={"scene": "depot-gate-dark", "camera": "plate-2mp-infrared"})
    assert keys(typed, "shut") == ["shutter="]
    assert "target.plate.speed_kmh=" in keys(typed, "target.plate.")
    # before a scene is named, keys without names of its things
    none = SimpleNamespace(params={})
    assert "exposure.shutter_s=" in keys(none, "exposure.") and keys(none, "target.plate.") == []


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("kind", "words"), [("scenes", ["new", "scene"]), ("sites", ["new", "site"])]
)
def test_a_bundled_file_is_copied_as_it_is(kind, words, tmp_path):
    name, file = bundled_names(kind)[0], tmp_path / "own.toml"
    told = CliRunner().invoke(app, [*words, str(file), "--copy", name])
    assert told.exit_code == 0
    assert file.read_text("utf-8") == find(kind, name).read_text("utf-8")
    again = CliRunner().invoke(app, [*words, str(file), "--copy", name])
    assert again.exit_code != 0
