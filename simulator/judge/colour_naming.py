"""Naming a colour: whether a viewer of the picture gives a thing the name it has by daylight.

What is seen is the mean of the target's own pixels in each of several noisy pictures, as CIELAB
under the display's white (sRGB); panels that face the sky are left out, since they mirror it. A
viewer gives one of the eleven basic colour terms of English (Berlin and Kay 1969) with the
probability

    P(term) = w(term) / sum of w,   w = exp(-d^2 / 2 s^2)

where d is CIEDE2000 to the nearest prototype of the term and s = `SPREAD` stands for how people
differ (assumed). Prototypes of chromatic terms are the colours that over 200 000 people most often
called so on their displays, plain and with "dark", "light" and the like (colour survey of R.
Munroe, 2010, public domain, as matplotlib holds it); neutral ones are greys on both sides of the
limits of ISCC-NBS, black up to Munsell value 2.5 and white from 8.5 (from memory). The right names
are those that `RIGHT_SHARE` or more would give the material's reflectance under D65, silver being
grey: a borderline colour may have two.

What a viewer would say of a thing of any other colour too, in the same light through the same
camera, is no answer: with g the share of viewers who give one of the right names to things of
other colours, the probability is that above guessing, (P - g) / (1 - g). In a monochrome picture no
colour can be named: the probability is zero.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.camera.recording import recorded
from simulator.camera.region_traces import Traces
from simulator.errors import InputError
from simulator.judge.colour_difference import (
    ciede2000,
    lab_of_linear,
    lab_of_reflectance,
    linear_of,
)
from simulator.judge.result import ColourSeen
from simulator.judge.retakes import Retakes
from simulator.judge.silhouette import Silhouette
from simulator.judge.target import JudgedTarget
from simulator.scene.kernels.radiance import materials_at
from simulator.scene.materials import is_shade_of, material
from simulator.scene.model import Target
from simulator.scene.model_targets import Parcel, Person, Sign
from simulator.scene.model_things import VehicleFront, VehicleRear, VehicleSide
from simulator.scene.variants import kept_with
from simulator.scene.world import World
from simulator.units import FloatArray, Image

CHROMATIC = ("red", "orange", "yellow", "green", "blue", "purple", "pink", "brown")
KINDS_OF = ("", "dark ", "light ", "deep ", "bright ", "pale ", "dull ", "medium ", "navy ",
            "strong ", "faded ", "dusty ", "greyish ", "slate ")  # fmt: skip
NEUTRAL = {
    "black": (0.0, 10.0, 20.0),
    "grey": (31.0, 41.0, 52.0, 62.0, 72.0, 81.0),
    "white": (91.0, 100.0),
}
"""Lightness L* of neutral prototypes: Munsell value 2.5 is L* 25.5, value 8.5 is 86."""
SPREAD = 6.0
"""Colour difference over which people differ in naming (assumed)."""
RIGHT_SHARE = 1.0 / 3.0
FACES_SKY = 0.5
"""Upward part of the normal of a card from which it counts as facing the sky."""
LEAST_TOLD = 0.01
"""Rarer names are not listed."""
PATCHES = 12
CONFIDENCE = 0.95
OTHERS = tuple(f"chart24-{k:02d}" for k in (7, 13, 14, 15, 16, 19, 22, 24))
"""Orange, blue, green, red, yellow, white, grey and black of a 24-patch chart: what else a thing
might be."""
OTHER_PICTURES = 2
NEAR_PX = 8
"""Pixels around the target's own that processing looks at."""


Lab = tuple[float, float, float]
"""CIELAB."""


@dataclass(frozen=True)
class Naming:
    """Probability that the right colour is named, with its spread over the pictures.

    `right` the right names; `names` probability of every name, the likeliest first; `difference`
    the mean CIEDE2000 to the reference; `seen` and `reference` mean CIELAB; `guessed` the share
    who would give a right name to things of other colours too, which is taken off.
    """

    value: float
    low: float
    high: float
    trials: int
    right: tuple[str, ...]
    names: dict[str, float]
    difference: float
    seen: Lab
    reference: Lab
    mono: bool
    guessed: float = 0.0


@lru_cache
def prototypes() -> dict[str, FloatArray]:
    """CIELAB (n, 3) of the prototypes of each term."""
    from matplotlib.colors import XKCD_COLORS, to_rgb  # noqa: PLC0415

    out = {
        term: np.array([(lightness, 0.0, 0.0) for lightness in values])
        for term, values in NEUTRAL.items()
    }
    for term in CHROMATIC:
        shades = [
            XKCD_COLORS[f"xkcd:{k}{term}"] for k in KINDS_OF if f"xkcd:{k}{term}" in XKCD_COLORS
        ]
        out[term] = lab_of_linear(linear_of(255.0 * np.array([to_rgb(value) for value in shades])))
    return out


def name_shares(lab: FloatArray, mono: bool = False) -> dict[str, FloatArray]:
    """Share of viewers who give each of eleven names to a colour.

    Parameters
    ----------
    lab
        L*, a*, b* (n, 3) of what is shown.
    mono
        Whether only lightness is shown.

    Returns
    -------
    dict of str to numpy.ndarray
        Share (n,) of every name; the shares of a colour add up to 1.

    References
    ----------
    Berlin and Kay 1969 (the eleven terms); prototypes of the colour survey of xkcd (Munroe 2010),
    as matplotlib holds them.

    Examples
    --------
    >>> import numpy as np
    >>> shares = name_shares(np.array([[50.0, 65.0, 45.0]]))
    >>> max(shares, key=lambda name: float(shares[name][0]))
    'red'
    """
    weights = {}
    for term, values in prototypes().items():
        if mono:
            apart = np.abs(lab[:, None, 0] - values[None, :, 0])
        else:
            apart = ciede2000(lab[:, None, :], values[None, :, :])
        weights[term] = np.exp(-(apart.min(axis=1) ** 2) / (2.0 * SPREAD**2)) + 1e-12
    total = sum(weights.values())
    return {term: weight / total for term, weight in weights.items()}


def right_names(lab: FloatArray) -> tuple[str, ...]:
    """Names that count as right for a colour: those that `RIGHT_SHARE` of viewers or more give it.

    Parameters
    ----------
    lab
        L*, a*, b* (3,) of the colour by daylight.

    Returns
    -------
    tuple of str
        The likeliest first.

    References
    ----------
    As `name_shares`; the share is chosen by us.

    Examples
    --------
    >>> import numpy as np
    >>> right_names(np.array([95.0, 0.0, 0.0]))
    ('white',)
    """
    shares = {term: float(share[0]) for term, share in name_shares(lab[None, :]).items()}
    order = sorted(shares, key=lambda term: -shares[term])
    return tuple(term for term in order if shares[term] >= RIGHT_SHARE) or (order[0],)


def coloured_material(entry: Target) -> str:
    """The material whose colour is asked of a target: paint, jacket, board or card.

    Raises
    ------
    InputError
        For a target without a colour of its own.
    """
    if isinstance(entry, VehicleFront | VehicleRear | VehicleSide):
        return entry.paint
    if isinstance(entry, Person):
        return entry.upper
    if isinstance(entry, Sign):
        return entry.background
    if isinstance(entry, Parcel):
        return entry.material
    raise InputError(
        f"A {entry.kind} has no colour to be named.",
        key="task.target",
        given=entry.name,
        allowed="a vehicle (its paint), a person (jacket or shirt), a sign or a parcel",
        fix='choose such a target, or task.name = "detect", "recognise" or "identify"',
    )


def own_pixels(
    in_scene: CameraInScene, entry: Target, silhouette: Silhouette, shutter_smear_px: float
) -> NDArray[np.bool_]:
    """Pixels of the silhouette's window that show the coloured material, edges left out.

    Where nothing is left without its edges, these count, too.

    Raises
    ------
    InputError
        If no pixel shows it.
    """
    base = coloured_material(entry)
    own = [k for k, m in enumerate(in_scene.world.materials) if is_shade_of(m, base)]
    x0, y0, x1, y1 = silhouette.window_px
    x, y = np.meshgrid(np.arange(x0, x1) + 0.5, np.arange(y0, y1) + 0.5)
    places = np.stack([x.ravel(), y.ravel()], axis=1)
    cards, materials = materials_at(places, in_scene.packed_scene, in_scene.packed_view)
    # panels that face the sky mirror it; a viewer goes by the others where there are any
    every = in_scene.world.targets[entry.name]
    upright = [k for k in every if in_scene.world.cards[k].normal[2] < FACES_SKY]
    shown = np.isin(cards, upright) & np.isin(materials, own)
    if not np.any(shown):
        shown = np.isin(cards, every) & np.isin(materials, own)
    mask = shown.reshape(y1 - y0, x1 - x0)
    if not np.any(mask):
        raise InputError(
            "Nothing of the target's colour can be seen.",
            key="task.target",
            given=entry.name,
            allowed=f"a target that shows some of its {material(base).name}",
            fix="move what stands before it, the camera, or use a longer focal length",
        )
    for rim in (2 + int(np.ceil(shutter_smear_px / 2.0)), 1):
        kernel = np.ones((2 * rim + 1, 2 * rim + 1), np.uint8)
        core = cv2.erode(mask.astype(np.uint8), kernel) > 0
        if np.count_nonzero(core) >= 4:
            return np.asarray(core)
    return mask


def recoloured(world: World, base: str, other: str) -> World:
    """The world with everything of one material in the colour of another, shades kept."""
    return kept_with(world, ("colour", base, other), lambda: _recoloured(world, base, other))


def _recoloured(world: World, base: str, other: str) -> World:
    own, new = material(base).reflectance, material(other).reflectance
    materials = [
        replace(m, reflectance=np.minimum(new * (m.reflectance.mean() / own.mean()), 1.0))
        if is_shade_of(m, base)
        else m
        for m in world.materials
    ]
    return replace(world, materials=materials)


def guessed_share(
    retakes: Retakes, base: str, right: Sequence[str], mask: NDArray[np.bool_]
) -> float:
    """Share of viewers who would give a right name although the thing has another colour.

    The same place of the picture with the target in each of `OTHERS` that has none of the right
    names: what is called black in the dark, or orange under a sodium lamp, whatever it is, tells
    nothing.
    """
    # the mean over an area inside needs no finer samples than pixels
    near, area = retakes.around(mask, NEAR_PX, 1)
    traces: dict[str, Traces] = {}
    near = replace(near, traces=traces.__getitem__)
    shares = []
    for k, other in enumerate(OTHERS):
        if set(right_names(lab_of_reflectance(material(other).reflectance))) & set(right):
            continue
        world, name = recoloured(retakes.in_scene.world, base, other), f"in {other}"
        first = next(iter(traces.values()), None)
        traces[name] = retakes.traces(name)
        traces[name].painted_over(traces[name] if first is None else first)
        pictures = near.pictures(world, [OTHER_PICTURES], 50 + k, name)
        means = [linear_of(picture[area]).mean(axis=0) for picture in pictures]
        lab = lab_of_linear(np.stack(means))
        named = name_shares(lab, retakes.state.colour.mono)
        shares.append(float(np.sum([named[term] for term in right], axis=0).mean()))
    return float(np.mean(shares))


def judge_colour(
    retakes: Retakes,
    target: JudgedTarget,
    silhouette: Silhouette,
    rates: Sequence[Image],
    *,
    regions: int = PATCHES,
) -> Naming:
    """Probability that the target's colour is named right, over noisy repetitions.

    Parameters
    ----------
    retakes
        Its plan's box is the silhouette's window.
    rates
        Light of the whole picture, or of the silhouette's window alone, oldest frame first (rows,
        columns, 3) [e-/s].

    Raises
    ------
    InputError
        For a target without a colour of its own, or of which none is seen.
    """
    in_scene, state = retakes.in_scene, retakes.state
    smear = in_scene.smear_px(state.exposure.shutter_s, target.card.centre_m)[target.card.group]
    mask = own_pixels(in_scene, target.entry, silhouette, float(np.hypot(*smear)))
    x0, y0, x1, y1 = silhouette.window_px
    window = (y1 - y0, x1 - x0)
    cut = [
        np.ascontiguousarray(rate if rate.shape[:2] == window else rate[y0:y1, x0:x1])
        for rate in rates
    ]
    # each picture has a seed of its own, so that the fixed pattern differs too
    pictures = np.concatenate(
        [
            recorded(
                in_scene, state, cut, seed=retakes.seed + k, first=1 + k, frames=1,
                origin_px=(x0, y0),
            )
            for k in range(regions)
        ]
    )  # fmt: skip
    mono = state.colour.mono
    # picture by picture and on the target alone: all at once they would take gigabytes
    linear = np.stack([linear_of(picture[mask]).mean(axis=0) for picture in pictures])
    lab = lab_of_linear(linear)
    base = coloured_material(target.entry)
    reference = lab_of_reflectance(material(base).reflectance)
    right = right_names(reference)
    shares = name_shares(lab, mono)
    chances = np.sum([shares[term] for term in right], axis=0)
    guessed = 1.0 if mono else guessed_share(retakes, base, right, mask)
    if mono:
        chances = np.zeros_like(chances)
    elif guessed > 0.0:
        chances = np.clip((chances - guessed) / max(1.0 - guessed, 1e-9), 0.0, 1.0)
    value = float(chances.mean())
    tail = 50.0 * (1.0 - CONFIDENCE)
    low, high = np.percentile(chances, [tail, 100.0 - tail])
    means = {term: float(share.mean()) for term, share in shares.items()}
    return Naming(
        value,
        min(float(low), value),
        max(float(high), value),
        regions,
        right,
        dict(sorted(means.items(), key=lambda item: -item[1])),
        float(ciede2000(lab, reference).mean()),
        _lab(lab.mean(axis=0)),
        _lab(reference),
        mono,
        guessed,
    )


def _lab(values: FloatArray) -> Lab:
    lightness, a, b = (float(v) for v in values)
    return lightness, a, b


def colour_seen(naming: Naming) -> ColourSeen:
    """What a verdict says of a colour."""
    return ColourSeen(
        right_names=naming.right,
        named={k: round(v, 4) for k, v in naming.names.items() if v >= LEAST_TOLD},
        ciede2000=naming.difference,
        lab=naming.seen,
        reference_lab=naming.reference,
        monochrome=naming.mono,
    )
