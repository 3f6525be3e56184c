"""Points that are kept: what is taken up again, what is refused and with which line."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from simulator.errors import InputError
from simulator.studies.kept import kept_rows

pytestmark = pytest.mark.invariant

HEAD = {"format": 1, "study": "sweep", "run": "abc"}
POINTS = ("0", "1", "2")


def opened(file, *, resume=True, run="abc", known=POINTS):
    return kept_rows(file, study="sweep", run=run, known=known, resume=resume)


def written(file, *lines, end="\n"):
    texts = [line if isinstance(line, str) else json.dumps(line) for line in lines]
    file.write_text("\n".join(texts) + end)
    return file


def row(point, run="abc", **values):
    return {"run": run, "point": point, "row": values}


@pytest.fixture
def file(tmp_path):
    return tmp_path / "out.points.jsonl"


def test_rows_come_back(file):
    with opened(file, resume=False) as kept:
        kept.add("0", {"probability": 0.25})
        kept.add("2", {"probability": None})
    lines = [json.loads(line) for line in file.read_text().splitlines()]
    assert lines == [HEAD, row("0", probability=0.25), row("2", probability=None)]
    with opened(file) as kept:
        assert kept.rows == {"0": {"probability": 0.25}, "2": {"probability": None}}
        kept.add("1", {"probability": 1.0})
    with opened(file) as kept:
        assert set(kept.rows) == set(POINTS)


def test_without_resume_it_begins_anew(file):
    written(file, "whatever stood here")
    with opened(file, resume=False) as kept:
        assert kept.rows == {}
    assert [json.loads(line) for line in file.read_text().splitlines()] == [HEAD]


def test_nothing_is_kept_without_a_file():
    with opened(None) as kept:
        kept.add("0", {"probability": 1.0})
        assert kept.rows == {"0": {"probability": 1.0}}


@pytest.mark.parametrize("torn", ['{"run": "abc", "poi', json.dumps(row("1", probability=0.5))])
def test_a_last_line_without_its_end_is_dropped(file, torn):
    """Killed while it was written: it may be whole, but nobody knows."""
    written(file, HEAD, row("0", probability=0.25), torn, end="")
    with opened(file) as kept:
        assert set(kept.rows) == {"0"}
        kept.add("1", {"probability": 0.75})
    with opened(file) as kept:
        assert kept.rows["1"] == {"probability": 0.75}
    assert len(file.read_text().splitlines()) == 3


def test_an_empty_file_is_begun(file):
    file.touch()
    with opened(file) as kept:
        assert kept.rows == {}
    assert json.loads(file.read_text()) == HEAD


@pytest.mark.parametrize(
    ("lines", "number", "why"),
    [
        (['{"format": 1, "stu'], 1, "is not JSON"),
        ([[1, 2]], 1, "is not a JSON object"),
        ([{"sweep": "abc"}, row("0")], 1, "is not the head"),
        ([{**HEAD, "format": 9}], 1, "is not the head"),
        ([{**HEAD, "run": "def"}], 1, "another sweep"),
        ([{**HEAD, "study": "survey"}], 1, "another sweep"),
        ([HEAD, row("0"), row("1", run="def")], 3, "another sweep"),
        ([HEAD, row("7")], 2, "has not"),
        ([HEAD, {**row("0"), "point": 0}], 2, "has not"),
        ([HEAD, row("0"), '{"run": "a', row("1")], 3, "is not JSON"),
        ([HEAD, "12"], 2, "is not a JSON object"),
        ([HEAD, {"run": "abc", "point": "0", "row": [1]}], 2, "holds no row"),
        ([HEAD, ""], 2, "is not JSON"),
        ([HEAD, '{"a":' * 50_000], 2, "is not JSON"),
    ],
)
def test_what_does_not_belong_here_is_refused_with_its_line(file, lines, number, why):
    before = written(file, *lines).read_bytes()
    with pytest.raises(InputError, match=why) as refused, opened(file):
        pass
    assert refused.value.file.endswith(f"line {number}")
    assert file.read_bytes() == before


def test_a_first_line_that_is_torn_is_refused(file):
    written(file, '{"format": 1, "stu', end="")
    with pytest.raises(InputError, match="is not whole") as refused, opened(file):
        pass
    assert refused.value.file.endswith("line 1")


def test_text_that_is_not_utf8_is_refused(file):
    file.write_bytes(json.dumps(HEAD).encode() + b"\n\xff\xfe\n")
    with pytest.raises(InputError, match="UTF-8") as refused, opened(file):
        pass
    assert refused.value.file.endswith("line 2")


def test_two_runs_lock_each_other_out(file):
    code = (
        "import sys; from simulator.studies.kept import kept_rows; from simulator.errors import"
        " InputError\n"
        "try:\n"
        "    with kept_rows(__import__('pathlib').Path(sys.argv[1]), study='sweep', run='abc',"
        " known=(), resume=True): print('in')\n"
        "except InputError as error: print(error.problem)"
    )

    def other():
        done = subprocess.run(
            [sys.executable, "-c", code, str(file)], capture_output=True, text=True, check=True
        )
        return done.stdout.strip()

    with opened(file, resume=False) as kept:
        kept.add("0", {"probability": 0.5})
        assert other() == "Another run is keeping its points here."
    with opened(file) as kept:
        assert set(kept.rows) == {"0"}
    assert "in" in other() or "names a point" in other()
