"""Light in whole scenes against an independent path tracer, Mitsuba 3 (Jakob et al. 2022).

Bounced light, sky between walls and soft shadows together: four scenes of
`tools/light_reference`, luminance of every pixel and illuminance at named places. What the path
tracer found with many paths is stored (`light_reference.npz`, made by that tool); that it is what
the path tracer finds is looked at again with fewer paths, where it is installed.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import cv2
import numpy as np
import pytest

FEW_PATHS = 64
BLOCK = 10


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


@pytest.fixture(scope="module")
def stored(tool: ModuleType) -> dict[str, np.ndarray]:
    with np.load(tool.STORED) as file:
        return dict(file)


@pytest.mark.outside
@pytest.mark.parametrize("number", range(4))
def test_luminance_of_a_scene(tool: ModuleType, stored: dict[str, np.ndarray], number: int) -> None:
    """Everywhere but on rims of things and shadow edges, and their neighbours."""
    site, reference = tool.sites()[number], stored[f"luminance_{number}"]
    ours = tool.ours(site, tool.WIDTH, tool.HEIGHT)
    even = ~tool.edges(site, tool.WIDTH, tool.HEIGHT) & (reference > 0.0)
    assert even.mean() > 0.5
    off = np.abs(ours - reference)[even] / reference[even]
    assert np.median(off) <= 0.03
    assert np.percentile(off, 99) <= 0.15


@pytest.mark.outside
@pytest.mark.parametrize("number", range(4))
def test_illuminance_at_places_that_matter(
    tool: ModuleType, stored: dict[str, np.ndarray], number: int
) -> None:
    """On the plate behind the van, in the walled yard, on the face behind the door, and so on."""
    ours = tool.our_lux(tool.sites()[number])
    assert ours == pytest.approx(stored[f"lux_{number}"], rel=0.05)


@pytest.mark.outside
@pytest.mark.parametrize("number", range(4))
def test_stored_light_is_the_path_tracers(
    tool: ModuleType, stored: dict[str, np.ndarray], number: int
) -> None:
    pytest.importorskip("mitsuba", reason="the path tracer comes with the extra `render`")
    site = tool.sites()[number]
    found = [tool.reference(site, tool.WIDTH, tool.HEIGHT, FEW_PATHS, seed) for seed in (1, 2)]
    size = (tool.WIDTH // BLOCK, tool.HEIGHT // BLOCK)
    a, b, known = (
        cv2.resize(x.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        for x in (*found, stored[f"luminance_{number}"])
    )
    # the noise of few paths, told by two runs, and a floor for where they agree by chance
    noise = np.abs(a - b).max() / known.max() + 0.005
    assert np.abs(0.5 * (a + b) - known).max() <= 2.0 * noise * known.max()
    assert 0.5 * (a + b).mean() == pytest.approx(known.mean(), rel=0.02)
