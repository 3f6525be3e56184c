"""Photometric files written after the public structure of LM-63, integrated to known fluxes.

The bodies have fluxes that textbooks give in closed form: an even sphere 4 pi I, a Lambertian face
pi I0; the other two are worked out beside the test.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from simulator.light import webs
from simulator.light.photometric_file import parse_photometric_file, read_photometric_file

DATA = Path(__file__).parents[1] / "light" / "data"


@pytest.mark.outside
@pytest.mark.parametrize(
    ("name", "lumens", "tolerance"),
    [
        # 40 cd x multiplier 2 x ballast factor 1.25 = 100 cd all around: 4 pi x 100
        ("sphere-1995", 4.0 * np.pi * 100.0, 1e-9),
        # 300 cos(gamma) below: pi x 300; straight lines between 2.5 degree steps lose 1/6300
        ("lambert-2002", np.pi * 300.0, 3e-4),
        # 100 + C over half the circle, mirrored, on the lower half sphere: mean 190 cd x 2 pi
        ("side-2019", 2.0 * np.pi * 190.0, 1e-9),
        # 20, 40, 60, 80, 20 x ballast factor .5 around: mean of the straight lines 25 cd x 4 pi
        ("turning-2002", 4.0 * np.pi * 25.0, 1e-9),
    ],
)
def test_lumens(name, lumens, tolerance):
    file = read_photometric_file(DATA / f"{name}.ies")
    assert file.lumens() == pytest.approx(lumens, rel=tolerance)


@pytest.mark.by_hand
@pytest.mark.parametrize("name", ["sphere-1995", "lambert-2002", "side-2019", "turning-2002"])
def test_dense_table_keeps_the_lumens(name):
    file = read_photometric_file(DATA / f"{name}.ies")
    dense = file.dense_table()
    assert (dense.shape, dense.dtype) == (webs.WEB_SHAPE, np.float32)
    flux = webs.flux(webs.GAMMA_DEG, webs.C_DEG, dense.astype(float))
    # the edge at gamma = 90 is one step of half a degree wide: half of it times I(90)
    assert flux == pytest.approx(file.lumens(), rel=6e-3)


@pytest.mark.outside
def test_what_the_numbers_of_each_form_mean():
    # LM-63: lumens -1 is absolute photometry; units 1 feet, 2 metres; in the forms of 2002 and 2019
    # the number after the ballast factor is no factor any more
    old = read_photometric_file(DATA / "sphere-1995.ies")
    assert (old.form, old.absolute, old.rated_lumens) == ("1995", False, 1600.0)
    assert old.size_m == pytest.approx((-0.3048, 0.0, -0.3048))
    assert old.keywords["LUMINAIRE"].splitlines()[1].startswith("40 cd")
    assert (old.input_watts, old.tilt_deg.size) == (90.0, 0)
    middle = read_photometric_file(DATA / "lambert-2002.ies")
    assert (middle.form, middle.absolute, middle.rated_lumens) == ("2002", True, None)
    assert middle.intensity(10.0, 0.0) == pytest.approx(300.0)
    new = read_photometric_file(DATA / "side-2019.ies")
    assert (new.form, new.size_m) == ("2019", (0.2, 0.4, 0.1))
    assert new.factor_at_tilt(67.5) == pytest.approx(0.8)
    assert old.factor_at_tilt(67.5) == 1.0


@pytest.mark.outside
def test_ballast_lamp_factor_counts_in_the_form_of_1995_alone():
    text = (DATA / "sphere-1995.ies").read_text().replace("1.25 1 90", "1.25 0.8 90")
    assert parse_photometric_file(text).intensity(0.0, 50.0) == pytest.approx(80.0)
    later = text.replace("IESNA:LM-63-1995", "IES:LM-63-2019")
    assert parse_photometric_file(later).intensity(0.0, 50.0) == pytest.approx(100.0)
