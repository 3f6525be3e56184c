"""What a study held is gone with it at once, without a search for rings of references.

A picture is some megabytes, and so is a layer of light: what stands in a ring waits until Python
looks for rings, which a process that answers one question after the other may do too late.
"""

from __future__ import annotations

import gc
import weakref
from collections.abc import Iterator

import pytest
from bare import bare

from simulator import Camera, open_session
from simulator.camera.in_scene import CameraInScene
from simulator.studies.predict import predict

pytestmark = pytest.mark.invariant


@pytest.fixture
def without_search() -> Iterator[None]:
    """Within it nobody looks for rings."""
    gc.collect()
    gc.disable()
    yield
    gc.enable()


def alive() -> int:
    return sum(isinstance(one, CameraInScene) for one in gc.get_objects())


def test_session_is_let_go(without_search: None) -> None:
    session = open_session(bare("depot-gate-infrared"), Camera.load("fixed-2mp-lowlight"))
    assert session.probability().value >= 0.0  # looks at other texts too, which are drawn
    known = weakref.ref(session), weakref.ref(session.mounted), weakref.ref(session.layers)
    del session
    assert [one() for one in known] == [None, None, None]


def test_prediction_is_let_go(without_search: None) -> None:
    before = alive()
    found = predict(
        bare("depot-gate-infrared"), Camera.load("fixed-2mp-lowlight"), trials=8, remedies=False,
        tolerances=False,
    )  # fmt: skip
    assert found.verdict.limits  # what the limits were asked of is let go as well
    assert alive() > before
    del found
    assert alive() == before
