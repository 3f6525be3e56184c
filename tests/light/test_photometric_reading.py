from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from simulator.errors import FileFormatError
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
        ("TILT=INCLUDE", "TILT=lamp.tlt", "Line 6: a tilt in another file"),
        ("TILT=INCLUDE", "TALT", "without a line TILT"),
        ("1 -1 1.0 4 4 1 2 0.2", "1 -1 1.0 4 4 2 2 0.2", "Line 11: photometry of type B"),
        ("1 -1 1.0 4 4 1 2 0.2", "1 -1 1.0 4 4 3 2 0.2", "Line 11: photometry of type A"),
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
