"""Finding, reading and merging files."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from simulator.errors import FileFormatError, NameNotFoundError
from simulator.files import Tolerance, find, merge_use, read_toml, split_tolerances
from simulator.toml_text import to_toml


@pytest.mark.by_hand
def test_a_name_is_found_and_a_path_is_left_alone(tmp_path: Path) -> None:
    assert find("scenes", "yard-noon").name == "yard-noon.toml"
    assert find("scenes", "mine.toml") == Path("mine.toml")
    assert find("lenses", "mine.toml", beside=tmp_path) == tmp_path / "mine.toml"


@pytest.mark.by_hand
def test_unknown_name_brings_the_nearest() -> None:
    with pytest.raises(NameNotFoundError) as caught:
        find("scenes", "yard-non")
    assert caught.value.fix == "did you mean yard-noon?"
    assert "depot-gate-dark" in (caught.value.allowed or "")


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("ir", "plate-2mp-infrared"), ("wdr", "doorway-2mp-wide"), ("PTZ", "zoom-2mp-dome"),
        ("anpr", "plate-2mp-global"), ("bodycam", "body-worn-2mp"), ("4k", "overview-8mp"),
    ],
)  # fmt: skip
def test_words_of_the_trade_find_a_camera(word: str, meant: str) -> None:
    with pytest.raises(NameNotFoundError) as caught:
        find("cameras", word)
    assert meant in (caught.value.fix or "")


@pytest.mark.by_hand
def test_bad_toml_names_line_and_column(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_text('title = "a"\nwidth = = 3\n')
    with pytest.raises(FileFormatError) as caught:
        read_toml(path)
    assert "line 2, column 9" in caught.value.problem
    assert caught.value.given == "width = = 3"
    assert caught.value.file == str(path)


@pytest.mark.by_hand
def test_bad_encoding_names_line_and_column(tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes(b'a = 1\nb = "\xe4"\n')
    with pytest.raises(FileFormatError, match="line 2, column 6"):
        read_toml(path)


@pytest.mark.by_hand
def test_byte_order_mark_is_read(tmp_path: Path) -> None:
    path = tmp_path / "mark.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\n")
    assert read_toml(path) == {"a": 1}


@pytest.mark.by_hand
def test_missing_file_and_folder(tmp_path: Path) -> None:
    (tmp_path / "scene.toml").write_text("a = 1")
    with pytest.raises(FileFormatError) as caught:
        read_toml(tmp_path / "scen.toml")
    assert caught.value.fix == "did you mean scene.toml?"
    with pytest.raises(FileFormatError, match="folder"):
        read_toml(tmp_path)
    with pytest.raises(FileFormatError, match="cannot be read"):
        read_toml(tmp_path / "scene.toml" / "inner.toml")
    with pytest.raises(FileFormatError, match="cannot be read"):
        read_toml(Path("nul\0.toml"))


@pytest.mark.by_hand
def test_tolerances_leave_plain_values() -> None:
    number = {"value": 2.6, "tolerance": 0.4, "source": "measured"}
    raw = {"a": {"b": number}, "lamp": [{"name": "gate lamp", "x": number}], "p": [1, number]}
    plain, tolerances = split_tolerances(raw)
    assert plain == {"a": {"b": 2.6}, "lamp": [{"name": "gate lamp", "x": 2.6}], "p": [1, 2.6]}
    assert tolerances == dict.fromkeys(
        ("a.b", "lamp.gate lamp.x", "p[1]"), Tolerance(2.6, 0.4, "measured")
    )
    assert raw["a"] == {"b": number}


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("table", "key"),
    [
        ({"value": 1.0}, "a.tolerance"),
        ({"tolerance": 1.0, "source": "measured"}, "a.value"),
        ({"value": 1.0, "tolerance": -1.0, "source": "measured"}, "a.tolerance"),
        ({"value": float("nan"), "tolerance": 0.1, "source": "measured"}, "a.value"),
        ({"value": True, "tolerance": 0.1, "source": "measured"}, "a.value"),
        ({"value": "x", "tolerance": 0.1, "source": "measured"}, "a.value"),
        ({"value": 1.0, "tolerance": 0.1, "source": "guessed"}, "a.source"),
        ({"value": 1.0, "tolerance": 0.1, "source": "measured", "unit": "m"}, "a.unit"),
    ],
)
def test_bad_tolerance_is_refused(table: dict[str, object], key: str) -> None:
    with pytest.raises(FileFormatError) as caught:
        split_tolerances({"a": table}, "lens.toml")
    assert (caught.value.key, caught.value.file) == (key, "lens.toml")


@pytest.mark.by_hand
def test_what_the_entry_says_wins() -> None:
    assert merge_use({"use": "x", "b": 1}, {"a": 2, "b": 3}) == {"use": "x", "b": 1, "a": 2}


texts = st.text(st.characters(codec="utf-8"), max_size=8)
scalars = st.one_of(
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False),
    texts,
    st.dates(),
    st.fixed_dictionaries({"value": st.integers(), "source": texts}),
)
tables = st.recursive(
    st.dictionaries(texts, scalars, max_size=4),
    lambda inner: st.dictionaries(
        texts, inner | scalars | st.lists(inner, max_size=3) | st.lists(scalars, max_size=3)
    ),
    max_leaves=8,
)


@pytest.mark.invariant
@given(tables)
def test_what_is_written_reads_back(table: dict[str, object]) -> None:
    assert tomllib.loads(to_toml(table)) == table
