"""The short form of `tools/fuzz.py`: every reader is given broken input for a moment."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.mark.invariant
def test_broken_input_is_read_or_refused_and_nothing_else(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "fuzz.py"), "--seconds", "0.2", "--kept",
         str(tmp_path / "kept")],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    last = done.stdout.splitlines()
    assert last[-1] == "nothing lost"
    found = re.fullmatch(r"(\d+) inputs, (\d+) read or refused, 0 others", last[-2])
    assert found is not None
    assert int(found[1]) == int(found[2]) > 50
