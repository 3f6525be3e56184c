"""Random draws for compiled kernels: uniform, normal and Poisson from one 64-bit state.

A state is a plain number: every function takes it and returns the next one with its draw, so
that a row of pixels keeps its generator in a register. Counter and finaliser are SplitMix64
(Steele, Lea, Flood, OOPSLA 2014). The same state gives the same draws on any number of threads.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernels import helper

_LAYERS = 128
_TAIL = 3.442619855899
_AREA = 9.91256303526217e-3
"""Start of the tail and area of each layer of a normal density cut in 128 layers (Marsaglia and
Tsang, J. Stat. Softw. 5(8), 2000; from memory, the layers are checked to close in the tests)."""


def ziggurat_layers() -> np.ndarray:
    """Right ends (129,) of the layers of exp(-x^2/2), the widest first, the last zero.

    All layers have one area; the first stands for the tail too, its true end is the second.
    """
    x = np.zeros(_LAYERS + 1)
    height = math.exp(-0.5 * _TAIL * _TAIL)
    x[0], x[1] = _AREA / height, _TAIL
    for i in range(2, _LAYERS):
        height += _AREA / x[i - 1]
        x[i] = math.sqrt(-2.0 * math.log(height))
    return x


_X = ziggurat_layers()
_RATIO = _X[1:] / _X[:-1]
_INVERSE = 1.0 / np.maximum(np.arange(256.0), 1.0)


@helper
def mix(z):  # type: ignore[no-untyped-def]
    """Finaliser of SplitMix64."""
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return z ^ (z >> np.uint64(31))


@helper
def uniform(state):  # type: ignore[no-untyped-def]
    """Next state and a uniform number in (0, 1)."""
    state += np.uint64(0x9E3779B97F4A7C15)
    return state, (float(np.int64(mix(state) >> np.uint64(11))) + 0.5) * (1.0 / 9007199254740992.0)


@helper
def _normal_rest(state, layer, u):  # type: ignore[no-untyped-def]
    """The few draws of the ziggurat that fall outside the inner boxes."""
    while True:
        if layer == 0:
            while True:
                state, a = uniform(state)
                state, b = uniform(state)
                x = -math.log(a) / _TAIL
                if -2.0 * math.log(b) > x * x:
                    return state, (_TAIL + x if u > 0.0 else -_TAIL - x)
        x = u * _X[layer]
        outer = math.exp(-0.5 * (_X[layer] * _X[layer] - x * x))
        inner = math.exp(-0.5 * (_X[layer + 1] * _X[layer + 1] - x * x))
        state, v = uniform(state)
        if inner + v * (outer - inner) < 1.0:
            return state, x
        state += np.uint64(0x9E3779B97F4A7C15)
        h = mix(state)
        layer = np.int64(h & np.uint64(_LAYERS - 1))
        u = float(np.int64(h) >> np.int64(11)) * (1.0 / 4503599627370496.0)
        if abs(u) < _RATIO[layer]:
            return state, u * _X[layer]


@helper
def normal(state):  # type: ignore[no-untyped-def]
    """Next state and an exactly normal number by the ziggurat.

    The layer comes from other bits than the place in it (Doornik 2005).
    """
    state += np.uint64(0x9E3779B97F4A7C15)
    h = mix(state)
    layer = np.int64(h & np.uint64(_LAYERS - 1))
    u = float(np.int64(h) >> np.int64(11)) * (1.0 / 4503599627370496.0)
    x = u * _X[layer]
    if abs(u) >= _RATIO[layer]:
        state, x = _normal_rest(state, layer, u)
    return state, x


@helper
def log_factorial(k):  # type: ignore[no-untyped-def]
    """ln k! of a whole number, by Stirling's series to 1e-8; from a library's lgamma below 4."""
    if k < 4.0:
        return math.lgamma(k + 1.0)
    z = k + 1.0
    r = 1.0 / (z * z)
    series = (1.0 / 12.0 - r * (1.0 / 360.0 - r * (1.0 / 1260.0 - r * (1.0 / 1680.0)))) / z
    return (z - 0.5) * math.log(z) - z + 0.9189385332046727 + series


@helper
def _poisson_rest(state, mean, b, a, us, v, k):  # type: ignore[no-untyped-def]
    """Transformed rejection beyond the squeeze, until a draw is taken."""
    alpha = 1.1239 + 1.1328 / (b - 3.4)
    v_r = 0.9277 - 3.6224 / (b - 2.0)
    log_mean = math.log(mean)
    while True:
        if k >= 0.0 and not (us < 0.013 and v > us):
            left = math.log(v * alpha / (a / (us * us) + b))
            if left <= k * log_mean - mean - log_factorial(k):
                return state, k
        state, u = uniform(state)
        state, v = uniform(state)
        u -= 0.5
        us = 0.5 - abs(u)
        k = math.floor((2.0 * a / us + b) * u + mean + 0.43) * 1.0
        if us >= 0.07 and v <= v_r:
            return state, k


@helper
def poisson(state, mean):  # type: ignore[no-untyped-def]
    """Next state and an exact Poisson count.

    Inversion below 10, transformed rejection above (Hormann, Insurance Math. Econ. 12, 1993, PTRS).
    """
    if mean <= 0.0:
        return state, 0.0
    if mean < 10.0:
        state, u = uniform(state)
        p = math.exp(-mean)
        total, k = p, 0
        while u > total and k < 200:
            k += 1
            p *= mean * _INVERSE[k]
            total += p
        return state, float(k)
    root = math.sqrt(mean)
    b = 0.931 + 2.53 * root
    a = -0.059 + 0.02483 * b
    state, u = uniform(state)
    state, v = uniform(state)
    u -= 0.5
    us = 0.5 - abs(u)
    k = math.floor((2.0 * a / us + b) * u + mean + 0.43) * 1.0
    # v <= 0.9277 - 3.6224 / (b - 2), without the division
    if us >= 0.07 and (0.9277 - v) * (b - 2.0) >= 3.6224:
        return state, k
    return _poisson_rest(state, mean, b, a, us, v, k)
