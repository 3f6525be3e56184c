"""What stands for no scene, camera, seed or count is told before any work, by its argument."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest

from simulator import (
    Camera,
    InputError,
    Scene,
    calendar,
    compare,
    film,
    lighting,
    measure,
    open_session,
    predict,
    quick,
    show,
    survey,
    sweep,
)
from simulator.plain import whole_number

SCENE, CAMERA = "depot-gate-infrared", "fixed-2mp-lowlight"
STUDIES: dict[str, Callable] = {
    "predict": predict,
    "quick": quick,
    "open_session": open_session,
    "show": show,
    "lighting": lighting,
    "film": lambda scene, camera: film(scene, camera, 5),
    "compare": lambda scene, camera: compare(scene, [camera]),
    "sweep": lambda scene, camera: sweep(scene, camera, {"natural_light.illuminance_lux": [1.0]}),
    "calendar": lambda scene, camera: calendar(scene, camera, (48.2, 16.4), 2026),
}


def refused(make: Callable) -> InputError:
    start = time.perf_counter()
    with pytest.raises(InputError) as caught:
        make()
    assert time.perf_counter() - start < 5.0, "the work began before this was told"
    return caught.value


@pytest.mark.invariant
@pytest.mark.parametrize("name", STUDIES)
def test_every_study_tells_what_is_no_scene_or_camera(name: str) -> None:
    study = STUDIES[name]
    scene, camera = Scene.load(SCENE), Camera.load(CAMERA)
    assert (refused(lambda: study(5, camera)).argument or "").startswith("scene")
    assert (refused(lambda: study(camera, scene)).argument or "").startswith("scene")
    assert (refused(lambda: study(scene, 2.0)).argument or "").startswith("camera")


@pytest.mark.invariant
def test_other_doors() -> None:
    assert refused(lambda: measure(5)).argument == "camera"
    assert refused(lambda: survey(5)).argument == "site"
    assert refused(lambda: quick(SCENE, CAMERA, seed=1.5)).argument == "seed"
    assert refused(lambda: predict(SCENE, CAMERA, seed=-1)).argument == "seed"
    assert refused(lambda: quick(SCENE, CAMERA, trials=0)).argument == "trials"


@pytest.mark.by_hand
def test_whole_numbers() -> None:
    assert whole_number(np.int64(3), "seed") == 3
    assert type(whole_number(np.int64(3), "seed")) is int
    for bad in (True, 2.0, np.float64(2.0), "2", None, np.array([2, 3])):
        assert refused(lambda bad=bad: whole_number(bad, "seed")).argument == "seed"
    assert refused(lambda: whole_number(0, "trials", 1)).allowed == "a whole number from 1 upwards"
