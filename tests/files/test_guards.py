"""What no reader of ours may stumble over: each fault is written to a file and read for real."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from simulator import Camera, Scene
from simulator.errors import LONGEST_MESSAGE, FileFormatError, InputError
from simulator.files import find, read_toml
from simulator.light.lamp_spectra import spectrum_of_text
from simulator.reading import bytes_of, json_of, number_of, text_of
from simulator.report.document import render
from simulator.report.section import inputs
from simulator.scene.materials import material_of_text
from simulator.studies.survey.site_file import SiteFile

GATE = find("scenes", "depot-gate-dark").read_text()
CAMERA = "fixed-2mp-lowlight"


def told(error: pytest.ExceptionInfo[InputError]) -> str:
    """The message, which is short and speaks no system's language."""
    text = error.value.text(command_line=True)
    assert len(text.encode()) <= LONGEST_MESSAGE
    assert "Errno" not in text
    return text


@pytest.mark.invariant
@pytest.mark.parametrize(
    "height",
    ["9" * 4301, "9" * 400, "1e400", "-1e308", "[" * 900 + "]" * 900, "{a=" * 300 + "1" + "}" * 300,
     '"\\u0000"', "9223372036854775808", "nan", "3.0\n" + "a." * 900 + "b = 1"],
    ids=lambda v: v[:12],
)  # fmt: skip
def test_a_value_out_of_all_bounds_is_refused(tmp_path: Path, height: str) -> None:
    path = tmp_path / "s.toml"
    path.write_text(GATE.replace("height_m = 3.0", f"height_m = {height}", 1))
    with pytest.raises(InputError) as caught:
        Scene.load(path)
    assert str(path) in told(caught)


@pytest.mark.invariant
@pytest.mark.parametrize(
    "value",
    [10**5000, 2**64, "a\0b", "\ud800", [[[[]]]] * 3],
    ids=["5001 digits", "65 bits", "NUL", "half a character", "deep"],
)
def test_values_from_code_are_held_to_the_same(value: object) -> None:
    with pytest.raises(InputError) as caught:
        Scene.load("depot-gate-dark").set({"station.height_m": value})
    told(caught)
    with pytest.raises(InputError) as caught:
        Scene.load("depot-gate-dark").set({"title": value})
    told(caught)


@pytest.mark.invariant
@pytest.mark.parametrize(
    "text",
    ["exposure.flicker_safe_hz=abc", "exposure.flicker_safe_hz=55", "exposure.flicker_safe_hz=[50]",
     'exposure.flicker_safe_hz="50"', "exposure.flicker_safe_hz=50 Hz", "a." * 900 + "b=1",
     "exposure.flicker_safe_hz=" + "5" * 5000, "sensor.bit_depth=1_2_x",
     "exposure.window=" + "[" * 2000, "title=" + "x" * 100_000],
    ids=lambda v: v[:34],
)  # fmt: skip
def test_near_misses_of_a_setting_are_refused(text: str) -> None:
    with pytest.raises(InputError) as caught:
        Camera.load(CAMERA, [text])
    assert "set" in told(caught)


@pytest.mark.invariant
def test_what_is_no_file_is_refused_and_never_waited_for(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    round_about = tmp_path / "round.toml"
    round_about.symlink_to(round_about)
    dangling = tmp_path / "dangling.toml"
    dangling.symlink_to(tmp_path / "gone")
    for path, words in (
        (pipe, "a device or a pipe"),
        (Path("/dev/zero"), "a device or a pipe"),
        (tmp_path, "a folder"),
        (round_about, "go in a circle"),
        (dangling, "no such file"),
        (tmp_path / ("n" * 300 + ".toml"), "name is too long"),
        (pipe / "inner.toml", "a file, not a folder"),
    ):
        with pytest.raises(FileFormatError) as caught:
            read_toml(path)
        assert words in told(caught)


@pytest.mark.invariant
def test_a_file_that_is_too_large_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "large"
    with path.open("wb") as file:
        file.truncate(17 << 20)
    with pytest.raises(FileFormatError, match="too large"):
        text_of(path)
    assert len(bytes_of(path)) == 17 << 20


@pytest.mark.invariant
def test_text_that_is_none_is_refused_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(b"a\nb\xff")
    with pytest.raises(FileFormatError, match="line 2, column 2"):
        text_of(path)
    path.write_bytes(b"a\nbc\0")
    with pytest.raises(FileFormatError, match=r"NUL character \(line 2, column 3"):
        text_of(path)


@pytest.mark.invariant
@pytest.mark.parametrize(
    "text", ["", "{", '{"a": ' * 2000, "[]", "1" * 5000, "null", "\ud7ff{"],
    ids=lambda v: v[:9] or "empty",
)  # fmt: skip
def test_json_that_is_cut_off_or_other_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "verdict.json"
    path.write_text(text)
    with pytest.raises(FileFormatError) as caught:
        json_of(path, "verdict.json")
    told(caught)


@pytest.mark.by_hand
@pytest.mark.parametrize("text", ["1_000", "nan", "inf", "1e999", "١", "0x10", "", "1 2", "1,5"])
def test_what_is_no_number_in_a_table(text: str) -> None:
    with pytest.raises(ValueError, match="number"):
        number_of(text)


@pytest.mark.by_hand
def test_tables_with_doubled_columns_or_underscores_are_refused(tmp_path: Path) -> None:
    head = "# title: t\n# origin: o\n# status: assumed\n# units: 1\n# range: 0 to 1\n"
    with pytest.raises(FileFormatError, match="is there twice"):
        material_of_text(f"{head}wavelength_nm,wavelength_nm\n380,0\n1100,0\n")
    with pytest.raises(FileFormatError, match="not numbers"):
        material_of_text(f"{head}wavelength_nm,reflectance\n3_80,0\n1100,0\n")
    with pytest.raises(FileFormatError, match="two numbers"):
        spectrum_of_text("wavelength_nm,power\n5_00,1\n600,1\n")
    path = tmp_path / "site.csv"
    path.write_text("name,name,scene\na,b,c\n")
    with pytest.raises(FileFormatError, match="is there twice"):
        SiteFile.load(str(path))
    path.write_text('name,scene\n"a,b\n')
    with pytest.raises(FileFormatError, match="not valid CSV") as caught:
        SiteFile.load(str(path))
    assert "quotation marks" in told(caught)


@pytest.mark.invariant
def test_every_cut_of_a_result_is_refused_or_told(tmp_path: Path) -> None:
    whole = '{"schema_version": 1, "study": "sweep", "title": "t", "question": "q", "answer": "a"}'
    for end in range(len(whole)):
        (tmp_path / "verdict.json").write_text(whole[:end])
        with pytest.raises(InputError) as caught:
            render([tmp_path], title="t", client="", author="")
        told(caught)


@pytest.mark.invariant
def test_links_among_the_inputs_of_a_result_are_not_followed(tmp_path: Path) -> None:
    secret = tmp_path / "secret.toml"
    secret.write_text("never shown")
    folder = tmp_path / "result" / "inputs"
    folder.mkdir(parents=True)
    (folder / "scene.toml").write_text("shown")
    (folder / "camera.toml").symlink_to(secret)
    assert inputs(tmp_path / "result") == [("scene.toml", "shown")]
    other = tmp_path / "other"
    other.mkdir()
    (other / "inputs").symlink_to(folder)
    assert inputs(other) == []


@pytest.mark.invariant
def test_a_long_message_in_any_script_stays_on_a_screen() -> None:
    for letter in ("a", "ß", "字", "\U0001f600", "\ud800"):
        long = letter * 4000
        error = InputError(long, argument=long, file=long, key=long, given=long, allowed=long,
                           fix=long)  # fmt: skip
        assert len(error.text().encode("utf-8", "backslashreplace")) <= LONGEST_MESSAGE


@pytest.mark.invariant
def test_a_name_that_no_file_can_have_within_a_file(tmp_path: Path) -> None:
    """`Path.is_file` raises for it (ENAMETOOLONG); in a scene and in a site it is refused."""
    with pytest.raises(InputError, match="There is no such"):
        Scene.load("depot-gate-dark", [f"site_photo.file={'9' * 5000}"])
    site = tmp_path / "s.csv"
    site.write_text(
        f"name,scene,camera,x_m,y_m,bearing_deg\na,depot-gate-dark,{'a/' * 3000}c.toml,1,2,3\n"
    )
    with pytest.raises(InputError, match="There is no such file"):
        SiteFile.load(site)
