from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from simulator import Scene
from simulator.errors import FileFormatError
from simulator.light import webs
from simulator.light.photometric_file import parse_photometric_file, read_photometric_file

DATA = Path(__file__).parent / "data"
GOOD = (DATA / "side-2019.ies").read_text()


@pytest.mark.by_hand
def test_symmetry_mirrors_what_the_file_leaves_out():
    side = read_photometric_file(DATA / "side-2019.ies")
    # 100 + C from 0 to 180, mirrored beyond: 300 is 60
    assert side.intensity([0.0, 60.0, 90.0, 180.0, 300.0, -60.0], 20.0) == pytest.approx(
        [100.0, 160.0, 190.0, 280.0, 160.0, 160.0]
    )
    assert side.intensity(0.0, [90.0, 90.1, 180.0]) == pytest.approx([100.0, 0.0, 0.0])
    quarter = read_photometric_file(DATA / "lambert-2002.ies")
    expected = 300.0 * np.cos(np.radians(40.0))
    assert quarter.intensity([20.0, 160.0, 200.0, 340.0], 40.0) == pytest.approx(
        [expected] * 4, rel=1e-5
    )


@pytest.mark.by_hand
def test_quarter_symmetry_folds_twice():
    text = GOOD.replace("0 60 120 180", "0 30 60 90")
    file = parse_photometric_file(text)
    # columns 100, 160, 220, 280 at 0, 30, 60, 90
    assert file.intensity([15.0, 165.0, 195.0, 345.0], 0.0) == pytest.approx([130.0] * 4)
    assert file.lumens() == pytest.approx(2.0 * np.pi * 190.0)


@pytest.mark.by_hand
def test_symmetry_about_the_plane_90_to_270():
    text = GOOD.replace("0 60 120 180", "90 150 210 270")
    file = parse_photometric_file(text)
    # columns 100, 160, 220, 280 at 90, 150, 210, 270; 30 mirrors 150, 330 mirrors 210
    assert file.intensity([90.0, 30.0, 330.0, 270.0, 0.0], 10.0) == pytest.approx(
        [100.0, 160.0, 220.0, 280.0, 190.0]
    )


@pytest.mark.by_hand
def test_full_circle_is_counterclockwise_and_bilinear():
    file = read_photometric_file(DATA / "turning-2002.ies")
    # columns 10, 20, 30, 40, 10 at 0, 90, 180, 270, 360 after the ballast factor of .5
    assert file.intensity([0.0, 45.0, 90.0, 225.0, 315.0], 77.0) == pytest.approx(
        [10.0, 15.0, 20.0, 35.0, 25.0]
    )
    assert file.candela.flags.writeable is False


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("IES:LM-63-2019", "IESNA:LM-63-1986", "Line 1: this is not a photometric file"),
        ("TILT=INCLUDE", "TILT=lamp.tlt", "Line 6: the tilt is in another file"),
        ("TILT=INCLUDE", "TALT", "without a line TILT"),
        ("1 -1 1.0 4 4 1 2 0.2", "1 -1 1.0 4 4 2 2 0.2", "horizontal angles of types A and B"),
        ("1 -1 1.0 4 4 1 2 0.2", "1 -1 1.0 4 4 3 2 0.2", "horizontal angles of types A and B"),
        ("1 -1 1.0 4 4 1 2 0.2", "1 -1 -1.0 4 4 1 2 0.2", "Line 11: the multiplier"),
        ("1.0 1.00001 60", "-1.0 1.00001 60", "Line 12: the ballast factor"),
        ("1.0 0.9 0.7", "1.0 -0.9 0.7", "Line 10: a tilt factor is negative"),
        ("160 160 160 160", "160 1e300 160 160", "this is no lamp"),
        ("1 -1 1.0 4 4 1 2 0.2", "1 -1 1e300 4 4 1 2 0.2", "this is no lamp"),
        ("160 160 160 160", "160 1_60 160 160", "Line 16: a candela value must be a number"),
        ("1 -1 1.0 4 4 1 2 0.2", "1 -2 1.0 4 4 1 2 0.2", "Line 11: the lumens a lamp"),
        ("1 -1 1.0 4 4 1 2 0.2", "1 -1 0 4 4 1 2 0.2", "Line 11: the multiplier"),
        ("1 -1 1.0 4 4 1 2 0.2", "1 -1 1.0 4.5 4 1 2 0.2", "Line 11: the number of vertical"),
        ("1 -1 1.0 4 4 1 2 0.2", "1 -1 1.0 4 4 1 3 0.2", "Line 11: the units type"),
        ("0 30 60 90\n", "0 30 60 80\n", "Line 13: vertical angles must span"),
        ("0 30 60 90\n", "0 60 30 90\n", "Line 13: vertical angles must rise"),
        ("0 60 120 180", "0 60 120 170", "Line 14: horizontal angles must end"),
        ("160 160 160 160", "160 160 -1 160", "a candela value is negative"),
        ("160 160 160 160", "160 16O 160 160", "Line 16: a candela value must be a number"),
        ("160 160 160 160", "160 nan 160 160", "Line 16: a candela value must be a number"),
        ("280 280 280 280", "280 280 280", "Line 18: the file ends where a candela value"),
        ("280 280 280 280", "280 280 280 280 7", "Line 18: the file goes on"),
        ("1.0 1.00001 60", "0 1.00001 60", "Line 12: the ballast factor"),
    ],
)
def test_faults_are_told_with_their_line(old, new, message):
    assert old in GOOD
    with pytest.raises(FileFormatError, match=message) as caught:
        parse_photometric_file(GOOD.replace(old, new), "folder/lamp.ies")
    assert caught.value.file == "folder/lamp.ies"


@pytest.mark.invariant
@pytest.mark.parametrize("text", ["", "\n", "hello\nworld"])
def test_other_texts_are_refused(text):
    with pytest.raises(FileFormatError):
        parse_photometric_file(text)


@pytest.mark.invariant
def test_every_cut_of_a_file_is_refused_or_whole():
    for end in range(len(GOOD.rstrip()) - 3):
        with pytest.raises(FileFormatError):
            parse_photometric_file(GOOD[:end])


@pytest.mark.invariant
def test_a_missing_file_is_told(tmp_path):
    with pytest.raises(FileFormatError, match="no such file"):
        read_photometric_file(tmp_path / "none.ies")


@pytest.mark.invariant
def test_a_luminaire_without_light_is_refused():
    text = GOOD
    for old in ("100 100 100 100", "160 160 160 160", "220 220 220 220", "280 280 280 280"):
        text = text.replace(old, "0 0 0 0")
    with pytest.raises(FileFormatError, match="gives no light"):
        parse_photometric_file(text)


@pytest.mark.invariant
def test_small_letters_are_read():
    """LM-63 writes capitals; files of other programs do not always."""
    small = parse_photometric_file(GOOD.replace("TILT=INCLUDE", "tilt = include").lower())
    good = parse_photometric_file(GOOD)
    assert set(small.keywords) == set(good.keywords)
    assert np.array_equal(small.candela, good.candela)
    assert small.factor_at_tilt(50.0) == good.factor_at_tilt(50.0)


@pytest.mark.invariant
def test_a_tilt_file_is_read_beside_its_luminaire(tmp_path):
    cut = "TILT=INCLUDE\n1\n3\n0 45 90\n1.0 0.9 0.7"
    assert cut in GOOD
    (tmp_path / "lamp.ies").write_text(GOOD.replace(cut, "TILT=lamp.tlt"))
    (tmp_path / "lamp.tlt").write_text("1\n3\n0 45 90\n1.0 0.9 0.7\n")
    assert read_photometric_file(tmp_path / "lamp.ies").factor_at_tilt(45.0) == 0.9
    table = Scene.load("car-park-led").table()
    lamp = {k: v for k, v in table["lamp"][0].items() if k not in ("intensity_cd", "beam_deg")}
    lamp.pop("luminous_flux_lm", None)
    table["lamp"] = [{**lamp, "photometry": "lamp.ies"}]
    kept = Scene.from_dict(table, folder=tmp_path).model.lamp[0].photometry
    assert kept is not None
    assert "TILT=INCLUDE" in kept  # the copy of a result needs no file beside it
    for name in ("none.tlt", "../lamp.tlt", "/etc/hostname", "a\\b"):
        (tmp_path / "lamp.ies").write_text(GOOD.replace(cut, f"TILT={name}"))
        with pytest.raises(FileFormatError):
            read_photometric_file(tmp_path / "lamp.ies")


def typed(kind: int, vertical: str, horizontal: str, rows: str) -> str:
    """A file of type 2 (B) or 3 (A); a row of candela values for each horizontal angle."""
    v, h = len(vertical.split()), len(horizontal.split())
    return (
        f"IES:LM-63-2019\nTILT=NONE\n1 -1 1 {v} {h} {kind} 2 0.1 0.1 0.1\n1 1 50\n"
        f"{vertical}\n{horizontal}\n{rows}\n"
    )


@pytest.mark.by_hand
@pytest.mark.parametrize("kind", [2, 3])
def test_types_a_and_b_look_ahead_with_right_and_up(kind):
    """100 ahead, 200 at the right, 10 at the left, 50 above, 20 below; C = 0 right, 90 up."""
    text = typed(kind, "-90 0 90", "-90 0 90", "10 10 10\n20 100 50\n200 200 200")
    file = parse_photometric_file(text)
    assert file.kind == ".CBA"[kind]
    # 89.999 degrees from the axis towards right, up, left, down
    around = file.intensity([0.0, 90.0, 180.0, 270.0], 89.9999)
    assert around == pytest.approx([200.0, 50.0, 10.0, 20.0], rel=1e-4)
    assert file.intensity(37.0, 0.0) == pytest.approx(100.0)
    assert file.intensity([0.0, 77.0], [91.0, 180.0]) == pytest.approx([0.0, 0.0])


@pytest.mark.by_hand
def test_types_a_and_b_differ_off_the_axes():
    """Towards H = 60, V = 45: in type A the direction is (cos45 sin60, cos45 cos60, sin45), in type
    B (sin60, cos60 cos45, cos60 sin45) as right, forward, up."""
    a60, a45 = np.radians(60.0), np.radians(45.0)
    for kind, (right, forward, up) in (
        (3, (np.cos(a45) * np.sin(a60), np.cos(a45) * np.cos(a60), np.sin(a45))),
        (2, (np.sin(a60), np.cos(a60) * np.cos(a45), np.cos(a60) * np.sin(a45))),
    ):
        zeros = "0 0 0 0 0"
        text = typed(
            kind, "-90 -45 0 45 90", "-90 0 60 90", f"{zeros}\n{zeros}\n0 0 0 7 0\n{zeros}"
        )
        c = np.degrees(np.arctan2(up, right))
        gamma = np.degrees(np.arccos(forward))
        assert parse_photometric_file(text).intensity(c, gamma) == pytest.approx(7.0)


@pytest.mark.by_hand
@pytest.mark.parametrize("kind", [2, 3])
def test_lumens_of_types_a_and_b(kind):
    """An even half sphere of I has 2 pi I, whole or by halves; its dense table keeps the flux."""
    for vertical, horizontal in (("-90 90", "-90 0 90"), ("0 90", "0 45 90"), ("-90 90", "0 90")):
        rows = "\n".join(["30 30"] * len(horizontal.split()))
        file = parse_photometric_file(typed(kind, vertical, horizontal, rows))
        assert file.lumens() == pytest.approx(2.0 * np.pi * 30.0, rel=1e-9)
        dense = webs.flux(webs.GAMMA_DEG, webs.C_DEG, file.dense_table().astype(float))
        assert dense == pytest.approx(file.lumens(), rel=6e-3)
