"""A plain wheel, installed away from the checkout, finds its bundled files."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def run(*arguments: str, cwd: Path, **environment: str) -> str:
    done = subprocess.run(
        [sys.executable, *arguments],
        cwd=cwd,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    options = ("--wheel", "--no-isolation", "--outdir", str(folder))
    run("-m", "build", *options, str(ROOT), cwd=folder)
    (path,) = folder.glob("*.whl")
    return path


@pytest.mark.invariant
def test_wheel_holds_every_profile_scene_and_table(wheel: Path) -> None:
    inside = set(zipfile.ZipFile(wheel).namelist())
    wanted = [
        f"simulator/bundled/{path.relative_to(ROOT)}"
        for top in ("profiles", "scenes")
        for path in (ROOT / top).rglob("*.toml")
    ]
    wanted += [str(path.relative_to(ROOT)) for path in (ROOT / "simulator").rglob("*.csv")]
    wanted += ["simulator/data/LICENCES.md"]
    pages = ROOT / "simulator" / "app" / "web" / "static"
    wanted += [str(path.relative_to(ROOT)) for path in pages.iterdir()]
    assert len(wanted) > 20
    assert [name for name in wanted if name not in inside] == []
    assert not [name for name in inside if name.startswith(("tests/", "outputs/"))]


@pytest.mark.invariant
def test_installed_wheel_lists_and_loads_from_another_folder(wheel: Path, tmp_path: Path) -> None:
    target, elsewhere = tmp_path / "target", tmp_path / "elsewhere"
    elsewhere.mkdir()
    options = ("--quiet", "--no-deps", "--disable-pip-version-check", "--target", str(target))
    run("-m", "pip", "install", *options, str(wheel), cwd=elsewhere)
    code = (
        "import sys, simulator; from simulator import Camera, Scene;"
        " print(simulator.__file__, file=sys.stderr);"
        " assert simulator.__file__.startswith(sys.argv.pop(1));"
        " Scene.load('depot-gate-infrared'); Camera.load('fixed-2mp-lowlight');"
        " from simulator.app.cli import main; main()"
    )
    printed = run("-c", code, str(target), "list", "--json", cwd=elsewhere, PYTHONPATH=str(target))
    names = json.loads(printed)
    assert names["scenes"] == sorted(path.stem for path in (ROOT / "scenes").glob("*.toml"))
    for kind in ("cameras", "lenses", "lights"):
        folder = ROOT / "profiles" / kind
        assert names[kind] == sorted(path.stem for path in folder.glob("*.toml"))
    assert names["spectra"]
    assert names["materials"]
