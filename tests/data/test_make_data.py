from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from simulator import data

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.invariant
def test_the_tool_writes_the_same_bytes_again(tmp_path):
    tool = ROOT / "tools" / "make_data.py"
    subprocess.run(
        [sys.executable, str(tool), "--to", str(tmp_path)], check=True, capture_output=True
    )
    made = {p.relative_to(tmp_path): p.read_bytes() for p in tmp_path.rglob("*.csv")}
    folder = Path(data.__file__).parent
    kept = {p.relative_to(folder): p.read_bytes() for p in folder.rglob("*.csv")}
    assert sorted(made) == sorted(kept)
    assert [str(p) for p in made if made[p] != kept[p]] == []
