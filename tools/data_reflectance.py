"""Every reflectance table: joined anchors, sign colours that are solved for, chart patches."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import colour
import numpy as np
from colour.colorimetry import SDS_LEFS_PHOTOPIC
from data_materials import MATERIALS, Anchored
from data_nature import NATURE
from data_signs import (
    PATCH_COLOURED,
    PATCH_FOLD_NM,
    PATCH_LEVEL,
    PATCH_NEUTRAL,
    PATCH_ORIGIN,
    SIGN_COLOURS,
    SIGN_ORIGIN,
    SIGN_WHITE,
)
from data_things import THINGS
from numpy.typing import NDArray
from scipy.optimize import brentq

Array = NDArray[np.float64]
Join = Callable[[Any, Array], Array]
Header = dict[str, str]

ANCHORED: dict[str, Anchored] = MATERIALS | NATURE | THINGS
FIRST_NEUTRAL = 19
"""Number of the first neutral patch of the chart."""


def reflectances(join: Join, grid: Array, library: str) -> Iterator[tuple[str, Header, Array]]:
    """Name, header entries and reflectance on the grid of every material."""
    for name, entry in ANCHORED.items():
        head = {"title": entry.title, "origin": entry.origin, "status": entry.status}
        anchors = "; ".join(f"{x:g} nm {y:g}" for x, y in entry.anchors)
        head["anchors"] = f"{anchors} (PCHIP between)"
        if entry.sheeting is not None:
            head["sheeting"] = entry.sheeting
        if entry.gloss is not None:
            head["gloss_index"], head["gloss_roughness"] = (f"{g:g}" for g in entry.gloss)
        if entry.transmittance is not None:
            head["transmittance"] = f"{entry.transmittance:g}"
        yield name, head, join(entry.anchors, grid)
    yield from _signs(join, grid)
    yield from _regions(grid, library)


def _signs(join: Join, grid: Array) -> Iterator[tuple[str, Header, Array]]:
    v = SDS_LEFS_PHOTOPIC["CIE 1924 Photopic Standard Observer"]
    weight = np.interp(grid, v.wavelengths, v.values, right=0.0)
    white = join(MATERIALS[SIGN_WHITE].anchors, grid)

    def mean(values: Array) -> float:
        return float((values * weight).sum() / weight.sum())

    title = "Sign sheeting, {}, diffuse part"
    yield (
        "sign-white",
        {
            "title": title.format("white"),
            "origin": "as plate-white",
            "status": "assumed",
            "sheeting": "type-iii",
        },
        white,
    )
    for name, (ratio, anchors) in SIGN_COLOURS.items():
        layer = join(anchors, grid)
        power = brentq(lambda k, s=layer, r=ratio: mean(white * s**k) / mean(white) - r, 0.05, 20.0)
        yield (
            f"sign-{name}",
            {
                "title": title.format(name),
                "origin": SIGN_ORIGIN.format(ratio=ratio, colour=name) + f"; k = {power:.4g}",
                "status": "assumed (shape), solved for a published ratio",
                "sheeting": f"type-iii-{name}",
                "sheeting_colour": name,
                "sheeting_ratio": f"{ratio:g}",
            },
            white * layer**power,
        )


def _regions(grid: Array, library: str) -> Iterator[tuple[str, Header, Array]]:
    for number, (name, sd) in enumerate(colour.SDS_COLOURCHECKERS["cc_ohta"].items(), 1):
        known = np.interp(grid, sd.wavelengths, sd.values)
        last = float(sd.values[-1])
        neutral = number >= FIRST_NEUTRAL
        if not neutral:
            rise = 1.0 - np.exp(-np.clip(grid - 780.0, 0.0, None) / PATCH_FOLD_NM)
            known = known + max(PATCH_LEVEL - last, 0.0) * rise
        origin = PATCH_ORIGIN.format(colour=library)
        yield (
            f"chart24-{number:02d}",
            {
                "title": f"24-patch chart, patch {number}: {name}",
                "origin": origin + (PATCH_NEUTRAL if neutral else PATCH_COLOURED),
                "status": "measured to 780 nm, assumed beyond",
            },
            known,
        )
