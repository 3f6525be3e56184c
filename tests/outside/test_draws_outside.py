"""Random draws against scipy's distributions."""

from __future__ import annotations

import numpy as np
import pytest
from numba import njit
from scipy import special, stats

from simulator.camera.draws import log_factorial, normal, poisson, ziggurat_layers
from simulator.camera.sensor import _photons_and_noise


@njit
def _normals(count, state):
    out = np.empty(count)
    for i in range(count):
        state, out[i] = normal(state)
    return out


@njit
def _counts(count, mean, state):
    out = np.empty(count)
    for i in range(count):
        state, out[i] = poisson(state, mean)
    return out


@pytest.mark.invariant
def test_layers_close_and_have_one_area():
    x = ziggurat_layers()
    f = np.exp(-0.5 * x * x)
    # the first layer is the box under the density's tail and the tail itself
    tail = np.sqrt(2.0 * np.pi) * stats.norm.sf(x[1])
    areas = np.append(x[1:-1] * np.diff(f[1:]), x[1] * f[1] + tail)
    assert areas == pytest.approx(np.full(128, areas[-1]), rel=1e-8)


@pytest.mark.outside
def test_normal_draws_against_scipy():
    seen = _normals(2_000_000, np.uint64(11))
    # 400 cells of one expected count; ends beyond 3 sigma are the ziggurat's tail
    edges = stats.norm.ppf(np.linspace(0.0, 1.0, 401))
    counts = np.histogram(seen, np.clip(edges, -1e9, 1e9))[0]
    assert stats.chisquare(counts).pvalue > 1e-3
    far = seen[np.abs(seen) > 3.6]
    wanted = 2.0 * stats.norm.sf(3.6) * seen.size
    assert far.size == pytest.approx(wanted, abs=4.0 * np.sqrt(wanted))
    assert (
        stats.kstest(np.abs(far), lambda x: 1.0 - stats.norm.sf(x) / stats.norm.sf(3.6)).pvalue
        > 1e-3
    )


@pytest.mark.outside
@pytest.mark.parametrize("mean", [0.05, 9.99, 10.01, 14.0, 137.0, 11_000.0])
def test_counts_against_scipy(mean):
    seen = _counts(1_000_000, mean, np.uint64(5))
    cells = np.unique(stats.poisson.ppf(np.linspace(1e-4, 1.0 - 1e-4, 200), mean))
    share = np.diff(np.concatenate([[0.0], stats.poisson.cdf(cells, mean), [1.0]]))
    counts = np.bincount(np.searchsorted(cells, seen), minlength=len(share))
    keep = share * seen.size > 5.0
    rest = ~keep
    found = np.append(counts[keep], counts[rest].sum())
    wanted = np.append(share[keep], share[rest].sum()) * seen.size
    used = wanted > 0.0
    assert (
        stats.chisquare(found[used], wanted[used] * found[used].sum() / wanted[used].sum()).pvalue
        > 1e-3
    )


@pytest.mark.outside
def test_log_factorial_against_scipy():
    k = np.concatenate([np.arange(0.0, 300.0), [1e3, 1e4, 1e6]])
    found = np.array([log_factorial(v) for v in k])
    assert found == pytest.approx(special.gammaln(k + 1.0), rel=1e-13, abs=2e-8)


@njit
def _sums(count, mean, sigma, state):
    out = np.empty(count)
    for i in range(count):
        state, out[i] = _photons_and_noise(state, mean, sigma)
    return out


@pytest.mark.outside
@pytest.mark.parametrize(("mean", "sigma"), [(30.0, 0.7), (30.0, 2.2), (100.0, 1.0), (5000.0, 3.0)])
def test_photons_and_noise_in_one_draw_against_scipy(mean, sigma):
    """Against the exact sum: normal densities about every whole number, weighted by Poisson's."""
    seen = np.sort(_sums(1_000_000, mean, sigma, np.uint64(9)))
    k = np.arange(int(max(0.0, mean - 8.0 * np.sqrt(mean))), int(mean + 9.0 * np.sqrt(mean)) + 1)
    at = np.linspace(seen[0], seen[-1], 400)
    exact = stats.norm.cdf((at[:, None] - k) / sigma) @ stats.poisson.pmf(k, mean)
    found = np.searchsorted(seen, at) / seen.size
    # sampling alone gives 1.6e-3 once in ten
    assert np.abs(found - exact).max() < 2e-3
    assert seen.mean() == pytest.approx(mean, abs=4.0 * np.sqrt(mean + sigma**2) / 1000.0)
    assert seen.var() == pytest.approx(mean + sigma**2, rel=0.01)
    assert stats.skew(seen) == pytest.approx(mean / (mean + sigma**2) ** 1.5, abs=0.012)
