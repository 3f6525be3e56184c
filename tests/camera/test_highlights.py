"""Highlights fall to neutral, and edges of what is blown out have no colour of their own."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.colour_path import ColourPath
from simulator.camera.model import Processing
from simulator.camera.processing import develop, finish
from simulator.camera.sensor_readout import Readout

CHAIN = Readout(1.0, 1.0, 64.0, 4064.0)
PATH = ColourPath(
    np.array([1.8, 1.0, 1.6]),
    np.array([[1.6, -0.4, -0.2], [-0.3, 1.5, -0.2], [0.0, -0.5, 1.5]]),
    False,
)
PLAIN = Processing(noise_reduction=0.0, sharpening=0.0)


def shown(colour):
    """Eight-bit picture of balanced light (rows, columns, 3) in units of white, as a mosaic."""
    rows, columns = colour.shape[:2]
    mosaic = np.empty((1, rows, columns), np.uint16)
    for j in (0, 1):
        for i in (0, 1):
            raw = colour[j::2, i::2, j + i] / PATH.balance[j + i]
            mosaic[0, j::2, i::2] = np.clip(64.0 + 4000.0 * raw + 0.5, 0.0, 4064.0)
    return finish(develop(mosaic, CHAIN, PATH, "bt709"), PLAIN, rows)[0].astype(int)


def even(r, g, b):
    return np.broadcast_to(np.array([r, g, b]), (24, 24, 3))


@pytest.mark.invariant
def test_silver_never_turns_cyan_on_its_way_to_white():
    """A grey in slightly bluish light, brighter and brighter: its hue fades, and ends in white."""
    spread = []
    for level in np.linspace(0.3, 1.6, 40):
        pixel = shown(even(0.86 * level, 1.0 * level, 1.06 * level))[12, 12]
        spread.append(int(pixel.max() - pixel.min()))
    own = max(spread[:10])
    assert max(spread) <= 1.1 * own + 2
    assert spread[-1] == 0
    assert np.all(np.diff(spread[20:]) <= 2)


@pytest.mark.invariant
def test_colours_that_are_far_from_grey_keep_their_hue():
    red = shown(even(1.4, 0.25, 0.1))[12, 12]
    assert red[0] == 255 and red[1] < 120 and red[2] < 80


@pytest.mark.invariant
@pytest.mark.parametrize("angle_deg", [0.0, 12.0, 37.0, 90.0])
def test_no_dots_of_colour_along_the_edge_of_a_blown_grey(angle_deg):
    """White paper four times over white before a grey ground: nowhere any colour."""
    y, x = np.mgrid[:48, :48] - 23.3
    a = np.radians(angle_deg)
    rise = np.clip((x * np.cos(a) + y * np.sin(a)) / 1.5 + 0.5, 0.0, 1.0)
    picture = shown((0.12 + (4.0 - 0.12) * rise)[:, :, None] * np.ones(3))[4:-4, 4:-4]
    colour = picture.max(axis=-1) - picture.min(axis=-1)
    assert colour.max() <= 40
    assert np.mean(colour > 12) < 0.01
