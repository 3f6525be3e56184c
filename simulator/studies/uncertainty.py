"""What the tolerances of profile and scene do to the probability, and which of them matter.

Every number with a tolerance lies somewhere within value +- tolerance, evenly (the form of the
files says no more). A Latin hypercube in slices (`sliced_hypercube`) draws all of them; each
draw is a camera and a scene of its own that settles, exposes and is looked at quickly, a few
pictures through the whole camera (`judge/sight`). What counts is by how much the quick look differs
from that of the nominal values with the same noise, so that noise itself cancels. Where the first
slice of draws, spread over the whole range of every number, changes nothing that would be told
(`FLAT`), no more are made.

The spread of the draws and that of sampling are independent and add in quadrature, each side for
itself:

    low = P - sqrt( (P - P_low)^2 + (Q - Q_2.5)^2 ),   high likewise with Q_97.5

with P and P_low the careful result and its sampling limit, Q the quick nominal look and Q_2.5 the
2.5th percentile of the draws. Shares of the spread are first-order: the squared rank correlation of
each input with the result, less what n draws of pure chance give on average,

    share = max(0, (n - 1) rho^2 - 1) / (n - 2)

(Spearman's rho; the estimate of explained variance after Ezekiel, from memory). Shares need not add
up to one: what is missing is joint effects and what so few draws cannot tell.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.errors import InputError
from simulator.files import Tolerance
from simulator.judge.readers import reader_of
from simulator.judge.result import Sensitivity
from simulator.judge.sight import Sight
from simulator.scene.load import Scene
from simulator.scene.model import SceneModel
from simulator.scene.radiosity.field import lending, rough
from simulator.studies.session import Session, open_session
from simulator.units import FloatArray

DRAWS = 32
"""Draws at most."""
SLICE = 8
"""Draws of a slice; every number of draws is a multiple of it, or less than it."""
FLAT = 0.005
"""A first slice that stays within so much of the nominal look is all that is drawn: in quadrature
with the interval of sampling it moves neither end by what is told."""
FEW_DRAWS, LEAST_DRAWS = 16, 8
"""Draws for large targets and recorded streams, and for very large targets, which take longer."""
LARGE_PX, VERY_LARGE_PX = 60_000, 250_000
"""Pixels of a target's box from which it counts as large, and as very large."""
CHANCE_SIGMA = 2.58
"""Rank correlations within so many standard errors 1 / sqrt(n - 1) of nothing are not told: one in
a hundred is farther by chance."""
ENDS = (2.5, 97.5)
SHOWS_NOTHING = ("price", "lens.focal_min_mm", "lens.focal_max_mm")
"""Keys that change no picture."""


class Input(NamedTuple):
    """One number with a tolerance: whose it is, its dotted key, its value and half width."""

    side: str
    key: str
    value: float
    tolerance: float

    @property
    def full_key(self) -> str:
        """Dotted key with its file before it."""
        return f"{self.side}.{self.key}"


@dataclass(frozen=True)
class Spread:
    """What the draws gave.

    `nominal` is the quick look at the values as they stand, `draws` (n,) those of the draws,
    `shares` of the spread by input, the largest first; `seed` that of the sequence.
    """

    nominal: float
    draws: FloatArray
    shares: tuple[tuple[Input, float], ...]
    seed: int

    @property
    def ends(self) -> tuple[float, float]:
        """2.5th and 97.5th percentile of the draws."""
        low, high = np.percentile(self.draws, ENDS)
        return float(low), float(high)


def tolerant_inputs(scene: Scene, camera: Camera) -> list[Input]:
    """Numbers of both files that have a tolerance above 0."""
    sides: tuple[tuple[str, Mapping[str, Tolerance]], ...] = (
        ("scene", scene.tolerances),
        ("camera", camera.tolerances),
    )
    return [
        Input(side, key, float(t.value), float(t.tolerance))
        for side, inputs in sides
        for key, t in sorted(inputs.items())
        if t.tolerance > 0.0 and key not in SHOWS_NOTHING
    ]


def spread(session: Session, *, draws: int | None = None) -> Spread | None:
    """The task's probability over the tolerances of both files; None if there are none.

    Parameters
    ----------
    session
        The files as they are written; its seed steers the sequence and the noise, the same noise in
        every draw.
    draws
        How many; without it `DRAWS`, or `FEW_DRAWS` where each takes long. Fewer are made where
        the first ones change nothing.

    Raises
    ------
    InputError
        As `predict` does for the nominal values.
    """
    scene, camera, seed = session.scene, session.camera, session.seed
    inputs = tolerant_inputs(scene, camera)
    if not inputs:
        return None
    quantiser = session.coded.quantiser
    nominal = _look(session, quantiser)
    x0, y0, x1, y1 = session.part.box_px
    size = (x1 - x0) * (y1 - y0)
    if draws is None:
        slow = size > LARGE_PX or camera.model.stream.codec != "none"
        draws = LEAST_DRAWS if size > VERY_LARGE_PX else FEW_DRAWS if slow else DRAWS
    unit = sliced_hypercube(len(inputs), draws, np.random.default_rng(seed))
    probabilities = np.empty(0)
    for row in 2.0 * unit - 1.0:
        if len(probabilities) == SLICE and np.all(np.abs(probabilities - nominal) < FLAT):
            break
        probabilities = np.append(probabilities, _drawn_look(session, inputs, row, quantiser))
    return Spread(
        nominal, probabilities, _shares(inputs, unit[: len(probabilities)], probabilities), seed
    )


def sliced_hypercube(inputs: int, draws: int, rng: np.random.Generator) -> FloatArray:
    """Numbers (draws, inputs) in 0 to 1, each input spread evenly over all draws.

    Every `SLICE` draws one after another are a Latin hypercube of their own, and all together are
    one: the first slice covers the range of every input as the whole does, only more coarsely.

    Parameters
    ----------
    inputs
        How many numbers are drawn at once.
    draws
        How many times, a multiple of `SLICE` or less than it.

    References
    ----------
    McKay, Beckman and Conover 1979 (Latin hypercubes); Qian 2012 (in slices); from memory.

    Examples
    --------
    >>> import numpy as np
    >>> unit = sliced_hypercube(3, 16, np.random.default_rng(1))
    >>> sorted((16 * unit[:, 0]).astype(int)) == list(range(16))
    True
    >>> sorted((8 * unit[:8, 2]).astype(int)) == list(range(8))
    True
    """
    each = min(SLICE, draws)
    slices = draws // each
    cells = np.broadcast_to(np.arange(each * slices).reshape(each, slices), (inputs, each, slices))
    # which slice gets which of some neighbouring cells, then in which order a slice has its own
    cells = rng.permuted(rng.permuted(cells, axis=2), axis=1)
    unit = (cells + rng.random(cells.shape)) / (each * slices)
    return np.asarray(unit.transpose(2, 1, 0).reshape(each * slices, inputs))


def _drawn_look(
    session: Session, inputs: list[Input], row: FloatArray, quantiser: int | None
) -> float:
    """The look at one draw; 0 if it moves the target out of the picture or takes all light."""
    scene, camera = session.scene, session.camera
    scene_model, camera_model = _drawn(scene, camera, inputs, row)
    kept = session.mounted.world if scene_model is scene.model else None
    pair = replace(scene, model=scene_model), replace(camera, model=camera_model)
    try:
        with rough(), lending(session.mounted.light_field):
            return _look(open_session(*pair, seed=session.seed, world=kept), quantiser)
    except InputError:
        return 0.0


def _look(session: Session, quantiser: int | None) -> float:
    """Probability of the task from a few pictures, all draws with the same noise.

    The quantiser of a stream is that of the values as they stand: found anew it would take the
    whole picture of every draw.
    """
    task = session.scene.model.task
    sight = Sight(session.entry, task.name, reader_of(task.reader), session.seed)
    in_scene, target = session.in_scene, session.part
    state = replace(session.state, quantiser=quantiser)
    return sight.quick(in_scene, state, target, sight.view(in_scene, state, target, ()))


def _drawn(
    scene: Scene, camera: Camera, inputs: list[Input], row: FloatArray
) -> tuple[SceneModel, CameraModel]:
    """Both models with their inputs moved by shares of their tolerances.

    What a file does not allow, such as a noise below nothing, stays at the nearest allowed value on
    the way: the step is halved until it is.
    """
    out: dict[str, Any] = {"scene": scene.model, "camera": camera.model}
    whole = {
        side: {
            one.key: one.value + float(step) * one.tolerance
            for step, one in zip(row, inputs, strict=True)
            if one.side == side
        }
        for side in out
    }
    try:
        moved = {side: _with(out[side], values) for side, values in whole.items() if values}
        return moved.get("scene", scene.model), moved.get("camera", camera.model)
    except ValueError:
        pass  # one by one, to find which of them goes how far
    for step, one in zip(row, inputs, strict=True):
        for share in (1.0, 0.5, 0.25, 0.125, 0.0):
            value = one.value + share * float(step) * one.tolerance
            try:
                out[one.side] = _with(out[one.side], {one.key: value})
                break
            except ValueError:
                continue
    return out["scene"], out["camera"]


def _with(model: Any, values: Mapping[str, float]) -> Any:
    """A model with some numbers changed; ValueError if it does not allow them."""
    whole = model.model_dump()
    for key, value in values.items():
        place: Any = whole
        *path, last = _parts(key)
        for part in path:
            place = _entry(place, part)
        if isinstance(place, list | tuple) and last.isdigit():
            raise ValueError("numbers in a list stay as they are")
        now = place[last]
        place[last] = round(value) if isinstance(now, int) and not isinstance(now, bool) else value
    return type(model).model_validate(whole)


def _parts(key: str) -> list[str]:
    return [part.rstrip("]") for part in key.replace("[", ".").split(".")]


def _entry(place: Any, part: str) -> Any:
    if isinstance(place, list | tuple):
        return next(entry for entry in place if entry.get("name") == part)
    return place[part]


def _ranks(values: FloatArray) -> FloatArray:
    """Rank of every value, equal ones at the mean of theirs."""
    _, which, counts = np.unique(values, return_inverse=True, return_counts=True)
    return (np.cumsum(counts) - (counts - 1) / 2.0)[which]


def _shares(
    inputs: list[Input], unit: FloatArray, probabilities: FloatArray
) -> tuple[tuple[Input, float], ...]:
    n = len(probabilities)
    if n < 3 or np.ptp(probabilities) <= 0.0:
        return ()
    ranks = _ranks(probabilities)
    rows = []
    for k, one in enumerate(inputs):
        rho = float(np.corrcoef(_ranks(unit[:, k]), ranks)[0, 1])
        if abs(rho) * np.sqrt(n - 1.0) >= CHANCE_SIGMA:
            rows.append((one, max(0.0, (n - 1) * rho**2 - 1.0) / (n - 2)))
    return tuple(sorted(rows, key=lambda item: -item[1]))


def combined_interval(
    value: float, low: float, high: float, drawn: Spread | None
) -> tuple[float, float]:
    """Interval of a probability with the tolerances in it, within 0 and 1.

    Parameters
    ----------
    value, low, high
        Careful result and its sampling interval.
    """
    if drawn is None:
        return low, high
    below, above = drawn.ends
    down = float(np.hypot(value - low, max(0.0, drawn.nominal - below)))
    up = float(np.hypot(high - value, max(0.0, above - drawn.nominal)))
    return max(0.0, value - down), min(1.0, value + up)


def sensitivity_rows(drawn: Spread | None) -> tuple[Sensitivity, ...]:
    """Inputs that matter most, as a verdict holds them."""
    return tuple(
        Sensitivity(key=one.full_key, share=share, value=one.value, tolerance=one.tolerance)
        for one, share in (() if drawn is None else drawn.shares)
    )
