"""A second camera for the overview, where what reads the target shows the rest black.

A short shutter and little gain, as a plate needs, leave the surroundings of a lit plate black: it
throws the light back and they do not. The same camera once more beside it, with a wide lens, a long
shutter and more gain, shows them in the light of the same lamp.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.studies import trade
from simulator.studies.remedies.rest_of_picture import (
    BLACKENED,
    Rest,
    coarse_picture,
    rest_of_picture,
)
from simulator.studies.session import open_session
from simulator.studies.specify.design import Design
from simulator.studies.specify.proof import PAGE_COLUMNS
from simulator.studies.specify.screens import lens_choice

WIDER = (0.25, 0.5, 1.0)
"""Focal lengths of the second camera over that of the first, the widest field first."""


class OverviewPoint(NamedTuple):
    """One design before its scene."""

    scene: Scene
    design: Design
    seed: int


@dataclass(frozen=True)
class Overview:
    """The same camera once more, beside the first and aimed alike."""

    design: Design
    """How it is set."""
    rest: Rest
    """What it shows beside the target."""
    frame: NDArray[np.uint8] = field(compare=False, repr=False)
    """Its picture (rows, columns, 3), smaller than the camera delivers it."""


def overview_of(point: OverviewPoint) -> Overview | None:
    """The widest second camera that shows most of the surroundings; None if none does.

    Its shutter may be as long as the trade has it and its gain as high; where the scene holds
    nothing that lights them, more is black than `BLACKENED` with any lens.
    """
    design = point.design
    for times in WIDER:
        choice = lens_choice(design.camera, times * design.lens_mm)
        wide = replace(
            design, lens=choice.changes, lens_mm=choice.mm, fixed=False,
            shutter_s=trade.SHUTTERS_S[0], moves=False,
            gain_cap_db=min(trade.GAIN_DB, design.camera.model.exposure.gain_max_db),
        )  # fmt: skip
        try:
            session = open_session(*wide.applied(point.scene), seed=point.seed)
            rest = rest_of_picture(session)
        except InputError:  # a lens that the body does not take
            continue
        if rest.black_fraction < BLACKENED:
            return Overview(wide, rest, coarse_picture(session, PAGE_COLUMNS))
    return None
