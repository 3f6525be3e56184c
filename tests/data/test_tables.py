from __future__ import annotations

from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

from simulator import data
from simulator.errors import FileFormatError, NameNotFoundError
from simulator.units import WAVELENGTH_NM

ALL = [(kind, name) for kind in data.KINDS for name in data.names(kind)]
HEADER = "".join(f"# {key}: text\n" for key in data.HEADER_KEYS if key != "status")
GOOD = HEADER + "# status: assumed\n"


@pytest.mark.invariant
@pytest.mark.parametrize(("kind", "name"), ALL)
def test_each_table_is_sourced_and_sane(kind, name):
    table = data.read_table(kind, name)
    assert set(data.HEADER_KEYS) <= set(table.header)
    assert all(np.all(column >= 0.0) for column in table.columns.values())
    if "wavelength_nm" in table.columns:
        for column in table.columns:
            assert table.on_grid(column).shape == WAVELENGTH_NM.shape
    if kind in ("reflectance", "quantum_efficiency", "filters", "charts"):
        for column in set(table.columns) - {"wavelength_nm"}:
            assert table.columns[column].max() <= 1.0


@pytest.mark.invariant
def test_the_needed_names_exist():
    assert {
        "cie-a", "daylight", "cie-d65", "g173-global", "led-3000k", "led-4000k", "led-5000k",
        "high-pressure-sodium", "low-pressure-sodium", "metal-halide", "mercury",
        "fluorescent-4000k", "moonlight", "night-sky",
    } <= set(data.names("spectra"))  # fmt: skip
    assert data.names("spectra") == sorted(data.names("spectra"))


@pytest.mark.invariant
def test_columns_cannot_be_written():
    with pytest.raises(ValueError, match="read-only"):
        data.read_table("spectra", "cie-a").columns["relative_power"][0] = 1.0


@pytest.mark.by_hand
def test_parse_reads_header_and_numbers():
    table = data.parse_table("t", GOOD + "wavelength_nm,a\n380,0\n1100,7.2\n", "t.csv")
    assert table.header["title"] == "text"
    assert table.columns["a"].tolist() == [0.0, 7.2]
    assert table.on_grid("a")[100] == pytest.approx(1.0)  # 100 of 720 nm of a line 0 to 7.2


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("text", "message"),
    [
        (HEADER + "a\n1\n", "header line missing: status"),
        (HEADER + "# status: guessed\na\n1\n", "known word"),
        (GOOD + "a,b\n1,2\n3\n", "not numbers"),
        (GOOD + "a,b\n1,two\n", "not numbers"),
        (GOOD + "a\nnan\n", "finite"),
        (GOOD + "a\ninf\n", "finite"),
    ],
)
def test_bad_files_are_refused(text, message):
    with pytest.raises(FileFormatError, match=message) as caught:
        data.parse_table("t", text, "folder/t.csv")
    assert caught.value.file == "folder/t.csv"


@pytest.mark.invariant
@pytest.mark.parametrize("rows", ["400,1\n1100,1\n", "380,1\n1000,1\n", "380,1\n380,1\n1100,1\n"])
def test_a_table_that_misses_the_grid_is_refused(rows):
    table = data.parse_table("t", GOOD + "wavelength_nm,a\n" + rows, "t.csv")
    with pytest.raises(FileFormatError):
        table.on_grid("a")


@pytest.mark.invariant
def test_unknown_names_tell_the_nearest():
    with pytest.raises(NameNotFoundError, match="led-3000k"):
        data.read_table("spectra", "led-300k")
    with pytest.raises(NameNotFoundError, match="spectra"):
        data.names("spectrums")
    with pytest.raises(NameNotFoundError):
        data.read_table("spectra", "../observers/cie-1931-2deg")


@pytest.mark.invariant
def test_licences_and_basis_of_every_table_are_told(monkeypatch):
    tools = Path(__file__).resolve().parents[2] / "tools"
    monkeypatch.syspath_prepend(str(tools))
    made = import_module("make_licences").text()
    kept = (Path(data.__file__).parent / "LICENCES.md").read_text(encoding="utf-8")
    assert made == kept, "run tools/make_licences.py"
    for kind in data.KINDS:
        for name in data.names(kind):
            assert f"| {kind}/{name} | " in kept
