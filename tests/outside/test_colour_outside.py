"""The 24-patch chart through the whole camera, judged by colour-science."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from simulator.bench.colour_chart import photograph_chart
from simulator.light.spectra import spectrum
from simulator.units import WAVELENGTH_NM

PROCESSING = {"noise_reduction": 0.0, "sharpening": 0.0, "temporal_noise_reduction": 0.0}


@pytest.fixture(scope="module")
def camera(make_camera):
    return make_camera(processing=PROCESSING)


@pytest.mark.outside
@pytest.mark.parametrize(("name", "illuminant"), [("cie-a", "A"), ("cie-d65", "D65")])
def test_chart_after_the_solved_matrix(camera, name, illuminant):
    """Mean CIEDE2000 over the chart of colour-science, its spectra, observer and adaptation.

    A least-squares 3 x 3 matrix of ordinary colour filters leaves a mean of 2 to 3 and a largest
    difference of 5 to 8 (common practice, no source); a wrong observer, adaptation, matrix or tone
    curve gives a mean above 5.
    """
    found = photograph_chart(camera, spectrum(name), frames=6)
    chart = colour.SDS_COLOURCHECKERS["cc_ohta"]
    shape = colour.SpectralShape(380, 780, 1)

    def seen(sd):
        found = colour.sd_to_XYZ(
            sd.copy().align(shape), observer, light, method="Integration", shape=shape
        )
        return found / 100.0

    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    light = colour.SDS_ILLUMINANTS[illuminant].copy().align(shape)
    white = seen(colour.sd_ones(shape))
    d65 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    wanted = np.stack([seen(sd) for sd in chart.values()])
    adapted = colour.adaptation.chromatic_adaptation_VonKries(
        wanted, white, colour.xy_to_XYZ(d65), transform="Bradford"
    )
    space = colour.RGB_COLOURSPACES["ITU-R BT.709"]
    shown = colour.RGB_to_XYZ(found.linear, space, apply_cctf_decoding=False)
    difference = colour.delta_E(
        colour.XYZ_to_Lab(shown, d65), colour.XYZ_to_Lab(adapted, d65), method="CIE 2000"
    )
    assert difference.mean() < 3.0
    assert difference.max() < 8.0
    # neutrals are the easiest, but that the two lightest absorb violet, which this sensor's blue
    # sees more of than the observer
    assert difference[20:].max() < 1.6
    assert found.difference == pytest.approx(difference, abs=0.4)


@pytest.mark.invariant
def test_daylight_balance_fails_under_a(camera):
    # what the solved matrix corrects: the same chart under A with the colours of daylight
    right = photograph_chart(camera, spectrum("cie-a")).difference.mean()
    wrong = photograph_chart(camera, spectrum("cie-a"), solved_for_light=False).difference.mean()
    assert right < 3.0
    assert wrong > 10.0


@pytest.mark.invariant
def test_gain_takes_colour_away(make_camera):
    # saturation gone at the gain: chroma of every patch near zero, luma as before
    settings = {**PROCESSING, "saturation_full_until_db": 6.0, "saturation_gone_at_db": 18.0}
    camera = make_camera(processing=settings)
    full, half, gone = (
        photograph_chart(camera, spectrum("cie-d65"), gain_db=gain_db, frames=8)
        for gain_db in (0.0, 12.0, 18.0)
    )
    d65 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]

    def chroma(rgb):
        space = colour.RGB_COLOURSPACES["ITU-R BT.709"]
        lab = colour.XYZ_to_Lab(colour.RGB_to_XYZ(rgb, space, apply_cctf_decoding=False), d65)
        return np.hypot(lab[:, 1], lab[:, 2])[:18]

    assert chroma(gone.linear).max() < 1.0
    assert 0.35 < np.mean(chroma(half.linear) / chroma(full.linear)) < 0.65


@pytest.mark.outside
def test_balance_limits_against_blackbodies_of_colour_science(make_in_scene):
    from simulator.camera.white_balance import neutral_gains

    response = make_in_scene().response("day")
    for kelvin in (2500.0, 10_000.0):
        power = colour.colorimetry.planck_law(WAVELENGTH_NM * 1e-9, kelvin)
        electrons = (response * power * WAVELENGTH_NM).sum(axis=1)
        wanted = electrons[1] / electrons[[0, 2]]
        assert neutral_gains(response, kelvin) == pytest.approx(wanted, rel=1e-4)
