"""A design proved: applied as it is, judged on fresh noise; then tolerances drawn, reserve sought.

The first tells the answer, the second, which takes longer, how far it can be trusted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.judge.result import Word
from simulator.judge.result_parts import Reserve
from simulator.judge.silhouette import luma_levels, seen_silhouette
from simulator.judge.target import JudgedText
from simulator.judge.verdict import verdict_word
from simulator.scene.load import Scene
from simulator.studies.quick_look import observer_look
from simulator.studies.remedies.rest_of_picture import Rest, coarse_picture, rest_of_picture
from simulator.studies.reserve import AXES, reserve_of
from simulator.studies.session import Session, open_session
from simulator.studies.specify.design import Design
from simulator.studies.specify.screens import Angles, angles_of
from simulator.studies.target_room import TargetPictures
from simulator.studies.uncertainty import LEAST_DRAWS, combined_interval, spread
from simulator.units import Image

FRESH_SEED = 7919
"""Added to the seed of the search, so that nothing is proved on the noise it was found with."""
PROOF_TRIALS = 120
PAGE_COLUMNS = 960
"""The picture of a page has about so many columns: more cannot be told apart in print."""
HEAD_ROOM = 0.6
"""Room around a head in its picture, over its larger side."""
BRIGHT, DARK = 95.0, 5.0
"""Percentiles of the target's luma that the acceptance test names."""


class ProofPoint(NamedTuple):
    """One design before its scene."""

    scene: Scene
    design: Design
    seed: int


@dataclass(frozen=True)
class Acceptance:
    """Figures that a picture taken on the day must show."""

    mode: str
    shutter_s: float
    gain_db: float
    pixels_per_m: float
    character_px: float | None
    motion_blur_px: float
    bright_level: float
    """Luma of the bright parts of the target [levels of 255]."""
    dark_level: float
    field_width_m: float


@dataclass(frozen=True)
class Proof:
    """What applying a design gave."""

    probability: float
    low: float
    high: float
    """Ends of its interval, sampling and tolerances together."""
    word: Word
    trials: int
    draws: int
    draws_reaching: float | None
    """Share of the draws from the tolerances that reach the target probability by a quick look."""
    reserve: Reserve | None
    rest: Rest
    """The rest of the picture as specified."""
    acceptance: Acceptance
    angles: Angles
    distance_m: float
    height_m: float
    frame: NDArray[np.uint8]
    """The whole picture, smaller than the camera delivers it."""
    target: NDArray[np.uint8]
    """What the task looks at with some room, pixel by pixel."""


def _session(point: ProofPoint) -> Session:
    return open_session(*point.design.applied(point.scene), seed=point.seed + FRESH_SEED)


def prove(point: ProofPoint) -> Proof:
    """Judge a design applied verbatim, on fresh noise; without tolerances and reserve yet.

    Raises
    ------
    InputError
        For a design that cannot be built.
    """
    session = _session(point)
    scene = session.scene
    judgement = observer_look(session, PROOF_TRIALS)
    wanted = scene.model.task.wanted_probability
    frame = coarse_picture(session)
    pictures = session.closer(HEAD_ROOM).pictures()
    return Proof(
        judgement.value, judgement.low, judgement.high,
        verdict_word(judgement.value, judgement.low, judgement.high, wanted), judgement.trials, 0,
        None, None,
        rest_of_picture(session, frame),
        acceptance_of(session, pictures), angles_of(session), session.target.distance_m,
        scene.model.station.height_m, frame, pictures.frames[0],
    )  # fmt: skip


def completed(point: ProofPoint, proof: Proof, *, thorough: bool = True) -> Proof:
    """A proof with the tolerances in its interval, and the reserve; the reserve in light alone
    where it need not be `thorough`.

    Raises
    ------
    InputError
        As `prove`.
    """
    session = _session(point)
    wanted = session.scene.model.task.wanted_probability
    drawn = spread(session, draws=LEAST_DRAWS) if thorough else None
    low, high = combined_interval(proof.probability, proof.low, proof.high, drawn)
    return replace(
        proof, low=low, high=high, word=verdict_word(proof.probability, low, high, wanted),
        draws=0 if drawn is None else len(drawn.draws),
        draws_reaching=None if drawn is None else float(np.mean(drawn.draws >= wanted)),
        reserve=reserve_of(session, AXES if thorough else AXES[:1]),
        frame=coarse_picture(session, PAGE_COLUMNS),
    )  # fmt: skip


def acceptance_of(session: Session, pictures: TargetPictures) -> Acceptance:
    """Figures of the delivered picture and of the settled camera.

    Parameters
    ----------
    pictures
        A picture of what the task looks at.
    """
    target, view = session.target, session.in_scene.view
    bright, dark = np.percentile(_levels(session, pictures), (BRIGHT, DARK))
    density = view.pixels_per_m(target.depth_m, target.place_px)
    exposure = session.state.exposure
    return Acceptance(
        session.state.mode, exposure.shutter_s, exposure.gain_db, density,
        target.character_height_px if isinstance(target, JudgedText) else None,
        session.motion_blur_px, float(bright), float(dark), view.width_px / density,
    )  # fmt: skip


def _levels(session: Session, pictures: TargetPictures) -> Image:
    """Luma of the pixels that show what the task looks at; of a text of its whole board."""
    left, top = pictures.box_px[:2]
    if isinstance(session.part, JudgedText):
        x0, y0, x1, y1 = pictures.target_box_px
        return luma_levels(pictures.frames[0][y0 - top : y1 - top, x0 - left : x1 - left])
    seen = seen_silhouette(session.in_scene, session.part, session.motion_blur_px)
    down, across = np.nonzero(seen.inside)
    down, across = down + seen.window_px[1] - top, across + seen.window_px[0] - left
    high, wide = pictures.frames.shape[1:3]
    inside = (down >= 0) & (down < high) & (across >= 0) & (across < wide)
    return luma_levels(pictures.frames[0][down[inside], across[inside]])
