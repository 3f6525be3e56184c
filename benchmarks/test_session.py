"""A kept session relit, against a fresh judgement of the changed scene."""

from __future__ import annotations

from itertools import cycle

import pytest

from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies.quick import quick
from simulator.studies.session import open_session

LUX = (0.05, 0.2, 1.0, 5.0, 20.0, 100.0)
PAIRS = [
    ("depot-gate-infrared", "plate-2mp-infrared"),
    ("depot-gate-infrared", "fixed-2mp-lowlight"),
]


@pytest.fixture(params=PAIRS, ids=lambda pair: pair[1])
def pair(request):
    scene, camera = request.param
    return Scene.load(scene), Camera.load(camera)


def test_relit(benchmark, pair):
    session, lux = open_session(*pair), cycle(LUX)
    for level in LUX:
        session.relit(lux=level).probability()
    benchmark(lambda: session.relit(lux=next(lux)).probability())


def test_fresh(benchmark, pair):
    (scene, camera), lux = pair, cycle(LUX)
    benchmark(lambda: quick(scene.set({"natural_light.illuminance_lux": next(lux)}), camera))
