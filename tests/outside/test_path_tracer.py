"""Light in whole scenes against an independent path tracer, Mitsuba 3 (Jakob et al. 2022).

Bounced light, sky between walls and soft shadows together: four scenes of `tools/light_reference`,
luminance of every pixel. The path tracer's own noise is part of what differs.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import cv2
import numpy as np
import pytest

pytest.importorskip("mitsuba", reason="the path tracer comes with the extra `render`")

WIDTH, HEIGHT, SAMPLES = 60, 40, 1024


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    file = Path(__file__).parents[2] / "tools" / "light_reference.py"
    spec = importlib.util.spec_from_file_location("light_reference", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def away_from_edges(luminance: np.ndarray, ratio: float = 1.25) -> np.ndarray:
    """Pixels whose neighbourhood differs by no more than a ratio: no rims and shadow edges."""
    kernel = np.ones((3, 3), np.uint8)
    lowest, highest = cv2.erode(luminance, kernel), cv2.dilate(luminance, kernel)
    return (highest < ratio * lowest) & (lowest > 0.0)


@pytest.mark.outside
@pytest.mark.parametrize("number", range(4))
def test_luminance_of_a_scene(tool: ModuleType, number: int) -> None:
    site = tool.sites()[number]
    ours = tool.ours(site, WIDTH, HEIGHT)
    reference = tool.reference(site, WIDTH, HEIGHT, SAMPLES).astype(np.float32)
    even = away_from_edges(cv2.GaussianBlur(reference, (3, 3), 0.0)) & (reference > 0.0)
    assert even.mean() > 0.4
    off = np.abs(ours - reference)[even] / reference[even]
    assert np.median(off) <= 0.03
    assert np.percentile(off, 99) <= 0.15


@pytest.mark.outside
@pytest.mark.parametrize("number", [0, 2, 3])
def test_places_that_matter(tool: ModuleType, number: int) -> None:
    """Behind the van in the bay, in the corner of the yard, on the person behind the door."""
    site = tool.sites()[number]
    boxes = {0: (24, 22, 30, 28), 2: (20, 16, 40, 24), 3: (29, 18, 33, 27)}
    ours = tool.ours(site, WIDTH, HEIGHT)
    reference = tool.reference(site, WIDTH, HEIGHT, 4 * SAMPLES, seed=7)
    x0, y0, x1, y1 = boxes[number]
    part = np.s_[y0:y1, x0:x1]
    assert ours[part].mean() == pytest.approx(reference[part].mean(), rel=0.05)
