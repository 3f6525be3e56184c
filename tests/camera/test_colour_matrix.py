from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.colour_matrix import (
    XYZ_TO_BT709,
    chart_linear_rgb,
    chart_reflectance,
    colour_matching_functions,
    solve_colour_matrix,
)
from simulator.camera.response import (
    infrared_cut_filter,
    quantum_efficiency,
    quantum_efficiency_names,
)
from simulator.errors import NoLightError
from simulator.light.spectra import gaussian_emitter, spectrum
from simulator.units import WAVELENGTH_NM

LAMPS = ("daylight", "cie-a", "led-4000k", "fluorescent-4000k", "high-pressure-sodium")


def day_response(name: str) -> np.ndarray:
    return quantum_efficiency(name) * infrared_cut_filter()


def raw_of(response: np.ndarray, power: np.ndarray, reflectance: np.ndarray) -> np.ndarray:
    return reflectance @ (response * power * WAVELENGTH_NM).T


@pytest.mark.invariant
@pytest.mark.parametrize("camera", quantum_efficiency_names())
@pytest.mark.parametrize("lamp", LAMPS)
def test_neutral_stays_neutral(camera, lamp):
    response, power = day_response(camera), spectrum(lamp).power
    balance, matrix = solve_colour_matrix(response, power)
    assert balance[1] == 1.0
    assert matrix.sum(axis=1) == pytest.approx(np.ones(3), abs=1e-12)
    grey = matrix @ (balance * raw_of(response, power, np.full(721, 0.18)))
    assert grey / grey[1] == pytest.approx(np.ones(3), abs=1e-9)


@pytest.mark.invariant
@pytest.mark.parametrize("lamp", LAMPS)
def test_the_matrix_beats_none(lamp):
    response, power = day_response("cmos-standard"), spectrum(lamp).power
    balance, matrix = solve_colour_matrix(response, power)
    white = raw_of(response, power, np.ones(721)) * balance
    balanced = raw_of(response, power, chart_reflectance()) * balance / white
    wanted = chart_linear_rgb(power)
    without = np.sqrt(np.mean((balanced - wanted) ** 2))
    with_matrix = np.sqrt(np.mean((balanced @ matrix.T - wanted) ** 2))
    assert with_matrix < 0.6 * without
    assert with_matrix < 0.03


@pytest.mark.by_hand
def test_an_ideal_camera_finds_its_own_matrix():
    """Channels that are combinations of the observer's functions need no approximation."""
    power = spectrum("cie-d65").power
    mixing = np.array([[0.8, 0.2, 0.0], [0.1, 0.85, 0.05], [0.0, 0.1, 0.9]])
    response = mixing @ (XYZ_TO_BT709 @ colour_matching_functions()) / WAVELENGTH_NM
    balance, matrix = solve_colour_matrix(response, power)
    white = raw_of(response, power, np.ones(721)) * balance
    balanced = raw_of(response, power, chart_reflectance()) * balance / white
    assert balanced @ matrix.T == pytest.approx(chart_linear_rgb(power), abs=1e-3)
    # the white of this mix is neutral already, so the matrix is the inverse of the mixing
    rows = np.linalg.inv(mixing)
    assert matrix == pytest.approx(rows / rows.sum(axis=1, keepdims=True), abs=0.01)


@pytest.mark.invariant
def test_one_spectral_line_gives_greys_and_no_wild_matrix():
    response = day_response("cmos-standard")
    _, matrix = solve_colour_matrix(response, spectrum("low-pressure-sodium").power)
    assert matrix == pytest.approx(np.eye(3), abs=0.05)


@pytest.mark.invariant
def test_no_visible_light_is_refused():
    response = quantum_efficiency("cmos-standard")
    with pytest.raises(NoLightError):
        solve_colour_matrix(response, np.zeros(721))
    with pytest.raises(NoLightError):
        solve_colour_matrix(response, gaussian_emitter(940.0, 20.0).power)


@pytest.mark.invariant
def test_same_result_each_time():
    first = solve_colour_matrix(day_response("ccd-analogue"), spectrum("cie-a").power)
    second = solve_colour_matrix(day_response("ccd-analogue"), spectrum("cie-a").power)
    assert first[0].tobytes() == second[0].tobytes()
    assert first[1].tobytes() == second[1].tobytes()
