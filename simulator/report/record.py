"""What every result folder holds besides pictures: verdict.json and the files that went in."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from simulator.checked_file import CheckedFile


def json_text(table: Mapping[str, Any]) -> str:
    """The text of a verdict.json, the same in the folder and on the console."""
    return json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def write_record(
    place: Path, table: Mapping[str, Any], inputs: Mapping[str, CheckedFile[Any]]
) -> None:
    """Write verdict.json and inputs/ into a result folder.

    Parameters
    ----------
    table
        What verdict.json holds.
    inputs
        Scenes and cameras as they were judged, by the stem of their file.
    """
    (place / "verdict.json").write_text(json_text(table), encoding="utf-8")
    inner = place / "inputs"
    inner.mkdir()
    for name, one in inputs.items():
        one.save(inner / f"{name}.toml")
