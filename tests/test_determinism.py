"""Same inputs and seed, same bytes, whatever the number of threads."""

from __future__ import annotations

import os
import subprocess
import sys

import cv2
import numpy as np
import pytest

from simulator.camera.light_field import frame_light
from simulator.camera.pipeline import frame_buffer, settle_exposure, shoot
from simulator.camera.region import region_light
from simulator.camera.region_plan import RegionPlan

pytestmark = pytest.mark.invariant


@pytest.fixture
def with_threads(monkeypatch):
    """Runs a function with a number of threads, and puts the old numbers back."""
    before = cv2.getNumThreads()

    def run(threads: int, make):
        monkeypatch.setenv("NUMBA_NUM_THREADS", str(threads))
        cv2.setNumThreads(threads)
        return make()

    yield run
    cv2.setNumThreads(before)


def _scene(make_scene):
    return make_scene(
        natural_light={"illuminance_lux": 3.0},
        plate={"speed_kmh": 20.0},
        target=[{"name": "car", "kind": "vehicle-front", "carries": "plate",
                 "headlights": "dipped"}],
        surface=[{"name": "road", "kind": "ground", "material": "asphalt", "variation": 0.2}],
    )  # fmt: skip


def test_bytes_do_not_depend_on_threads(make_in_scene, make_scene, make_camera, with_threads):
    scene = _scene(make_scene)
    camera = make_camera(processing={"temporal_noise_reduction": 0.5, "noise_reduction": 0.5})

    def everything():
        in_scene = make_in_scene(scene, camera)
        state = settle_exposure(in_scene, "day")
        rates, light = frame_buffer(in_scene, state)
        frame = shoot(in_scene, state, rates, seed=7)
        point = in_scene.world.cards[0].centre_m
        plan = RegionPlan((80, 50, 240, 130), 24, 3, point, 550.0)
        region = region_light(in_scene, "day", state.exposure.shutter_s, plan, light.stray_light)
        trials = shoot(in_scene, state, [region], seed=7, frames=3, origin_px=(80, 50))
        return [light.rate, light.stray_light, light.depth, *rates, region, frame, trials]

    one = with_threads(1, everything)
    two = with_threads(2, everything)
    for a, b in zip(one, two, strict=True):
        assert a.tobytes() == b.tobytes()


def test_seed_matters(make_in_scene, make_scene):
    in_scene = make_in_scene(_scene(make_scene))
    state = settle_exposure(in_scene, "day")
    rate = frame_light(in_scene, "day", state.exposure.shutter_s).rate
    frames = [shoot(in_scene, state, [rate], seed=seed) for seed in (1, 1, 2)]
    assert np.array_equal(frames[0], frames[1])
    assert not np.array_equal(frames[0], frames[2])


READ = """
{first}
import simulator
import numpy as np
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.readers.templates import VARIANTS, Blur
from analytic_reading import analytic_read_probability
from simulator.scene.targets.plate import plate_design
shapes = design_shapes(plate_design("dark-on-white-520x110"))
reader = TemplateReader("one", 0.65, 0.3, 0.35, variants=VARIANTS[:3], blurs=(Blur(0.05),))
even = lambda fx, fy: np.exp(-3.0 * np.hypot(fx, fy))
found = analytic_read_probability(
    shapes, "A1B2 C3D", reader, height_px=9.0, mtf=even, contrast=40.0, noise=20.0
)
rng = np.random.default_rng(1)
a, b = rng.standard_normal((2, 700, 700)).astype(np.float32)
print(found.value.hex(), found.detectability.tobytes().hex(), hash((a @ b).tobytes().hex()))
"""


@pytest.mark.parametrize("first", ["", "import numpy, scipy.linalg"])
def test_bytes_do_not_depend_on_threads_of_matrix_products(first, tmp_path):
    """In processes of their own: the libraries read their number of threads when they load."""

    def said(threads: int) -> str:
        names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
        environment = {
            **os.environ, **dict.fromkeys(names, str(threads)), "PYTHONHASHSEED": "0",
            "NIGHTPROOF_CACHE_DIR": os.environ.get("NIGHTPROOF_CACHE_DIR", ""),
            "PYTHONPATH": os.pathsep.join(sys.path),
        }  # fmt: skip
        return subprocess.run(
            [sys.executable, "-c", READ.format(first=first)], capture_output=True, text=True,
            check=True, env=environment, timeout=300,
        ).stdout  # fmt: skip

    assert said(1) == said(4)
