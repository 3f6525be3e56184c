"""Backlight: openings that show a luminance, light the room, and stand behind a subject.

An opening of luminance L is a card that shows L, and a few point lights before it that give the
room the light of a Lambertian rectangle. All light adds up, so the luminance of a subject is
a + b L, and a wanted ratio r = L / (a + b L) is met by L = r a / (1 - r b); several openings make
a system of such equations.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise

import numpy as np

from simulator.errors import InputError
from simulator.light.photometry import illuminance_lux
from simulator.light.sources import LightSource
from simulator.light.spectrum_kinds import lamp_spectrum
from simulator.scene.builder import Builder, named
from simulator.scene.geometry import CLEAR, Card, upright_card
from simulator.scene.model_things import Opening
from simulator.scene.world import Backlight, OpeningLights, World
from simulator.units import FloatArray

LIFT_M = 0.002
"""How far the card stands before its place, so that a wall at the same place does not hide it."""
PARTS_BEFORE_M = 0.001
"""How far its point lights stand before the card; a wall around it gets next to none of them."""
PARTS_ACROSS = 3
MOST_PARTS_UP = 12
SUBJECT_CELLS = 12
"""Places along each side of a subject's card at which its light is taken."""


def rectangle_parts(width_m: float, height_m: float) -> tuple[FloatArray, FloatArray]:
    """Places and areas of the point lights that stand for a bright rectangle.

    Gauss-Legendre nodes: 3 across, and 1 + height/width, rounded up, at least 2 and at most 12,
    upwards. For rectangles up to ten times as high as wide the illuminance of Lambertian parts is
    within 3 % of the rectangle's for every place at least its width away that sees all of it.

    Returns
    -------
    Places (n, 2) from the middle, across and upwards [m], and areas (n,) [m2] that add up to the
    whole.
    """
    up = min(MOST_PARTS_UP, 1 + int(np.ceil(height_m / width_m - 1e-9)))
    x, share_x = np.polynomial.legendre.leggauss(PARTS_ACROSS)
    y, share_y = np.polynomial.legendre.leggauss(max(2, up))
    across, upwards = np.meshgrid(x * width_m / 2.0, y * height_m / 2.0)
    areas = np.outer(share_y, share_x) * (width_m * height_m / 4.0)
    return np.stack([across.ravel(), upwards.ravel()], axis=1), areas.ravel()


def add_opening(b: Builder, opening: Opening) -> OpeningLights:
    """Card and lights of an opening.

    It casts no shadow itself: light from beyond it passes, and the wall it stands in shades.

    Raises
    ------
    InputError
        If its spectrum does not exist or gives no visible light, or `against` is no target.
    """
    key = f"surface.{opening.name}"
    spec = named(f"{key}.spectrum", partial(lamp_spectrum, opening.spectrum))
    targets = [t.name for t in b.scene.target]
    if opening.against is not None and opening.against not in targets:
        raise InputError(
            "There is no such target.",
            key=f"{key}.against",
            given=opening.against,
            allowed=f"one of {', '.join(targets)}",
        )
    luminance = 1.0
    if opening.luminance_cd_m2 is not None:
        luminance = opening.luminance_cd_m2
    elif opening.illuminance_lux is not None:
        luminance = opening.illuminance_lux / np.pi
    x, y, z = opening.position_m
    card = upright_card(
        opening.name,
        np.array([x, y, z + opening.height_m / 2.0]),
        opening.width_m,
        opening.height_m,
        np.zeros((1, 1), np.uint8),
        facing_deg=opening.facing_deg,
        casts_shadow=False,
    )
    panel = len(b.lights)
    b.cards.append(replace(card, corner_m=card.corner_m + card.normal * LIFT_M, glow=panel))
    b.lights.append(
        LightSource(opening.name, "panel", spec, luminance_cd_m2=luminance, owner=opening.name)
    )
    middle = card.centre_m + card.normal * (LIFT_M + PARTS_BEFORE_M)
    places, areas = rectangle_parts(opening.width_m, opening.height_m)
    for k, ((across, up), area) in enumerate(zip(places, areas, strict=True)):
        b.lights.append(
            LightSource(
                f"{opening.name} (part {k + 1})",
                "point",
                spec,
                middle + card.across * across - card.down * up,
                card.normal,
                intensity_cd=luminance * float(area),
                exponent=1.0,
                owner=opening.name,
                diameter_m=2.0 * float(np.sqrt(area / np.pi)),
            )
        )
    parts = tuple(range(panel + 1, len(b.lights)))
    return OpeningLights(opening, float(luminance), panel, parts)


def solve_backlights(world: World, station_m: FloatArray) -> None:
    """Find the luminance of every opening with a luminance ratio and tell every contrast.

    Changes the luminances of the openings' lights, `backlights` and `assumptions` of the world.

    Parameters
    ----------
    station_m
        Where the camera stands (3,) [m]; the side of a card that it sees is the subject.

    Raises
    ------
    InputError
        If a wanted ratio cannot be reached: no other light falls on the subject, or the opening's
        own light brightens the subject too much.
    """
    against = [o for o in world.openings if o.opening.against is not None]
    if not against:
        return
    by_light = np.stack([_subject_by_light(world, _against(o), station_m) for o in against])
    wanted = [k for k, o in enumerate(against) if o.opening.luminance_ratio is not None]
    if wanted:
        # b[i, j]: luminance of subject i for 1 cd/m2 of opening j
        b = np.array([[by_light[i, list(against[j].parts)].sum() for j in wanted] for i in wanted])
        a = by_light[wanted].sum(axis=1) - b.sum(axis=1)
        ratio = np.array([against[k].opening.luminance_ratio for k in wanted], dtype=np.float64)
        for k, luminance in zip(
            wanted, _luminances([against[k] for k in wanted], ratio, a, b), strict=True
        ):
            by_light[:, list(against[k].parts)] *= luminance
            _scale(world, against[k], luminance)
    for o, luminances in zip(against, by_light, strict=True):
        background = world.lights[o.panel].strength
        contrast = Backlight(o.opening.name, _against(o), background, float(luminances.sum()))
        world.backlights.append(contrast)
        world.assumptions.append(contrast.message())


def backlights_of(world: World, target: str, station_m: FloatArray) -> list[Backlight]:
    """Every opening of a world, whether a file asks for it or not, against one target.

    Parameters
    ----------
    target
        Name of the target.
    station_m
        As for `solve_backlights`.
    """
    if not world.openings:
        return []
    subject = next((b.subject_cd_m2 for b in world.backlights if b.against == target), None)
    if subject is None:
        subject = float(_subject_by_light(world, target, station_m).sum())
    return [
        Backlight(o.opening.name, target, world.lights[o.panel].strength, subject)
        for o in world.openings
    ]


def _against(o: OpeningLights) -> str:
    assert o.opening.against is not None
    return o.opening.against


def _luminances(
    openings: Sequence[OpeningLights], ratio: FloatArray, a: FloatArray, b: FloatArray
) -> FloatArray:
    """Luminances L with L = ratio (a + b L), all of them above zero."""
    for o, other in zip(openings, a, strict=True):
        if other <= 0.0:
            raise InputError(
                "The luminance ratio cannot be reached: nothing but the opening lights the target.",
                key=f"surface.{o.opening.name}.luminance_ratio",
                given=o.opening.luminance_ratio,
                fix="add another light, or give luminance_cd_m2",
            )
    gain = ratio[:, None] * b
    # light that comes back to the openings by way of the ratios must die away
    if float(np.abs(np.linalg.eigvals(gain)).max()) < 1.0:
        return np.asarray(np.linalg.solve(np.eye(len(openings)) - gain, ratio * a))
    worst = int(np.argmax(gain.sum(axis=1)))
    limit = 1.0 / float(b[worst].sum())
    raise InputError(
        "The luminance ratio cannot be reached: the opening's own light brightens the target.",
        key=f"surface.{openings[worst].opening.name}.luminance_ratio",
        given=openings[worst].opening.luminance_ratio,
        allowed=f"below {_short(limit)}, however bright the opening is",
        fix="ask for less, or set the opening behind the target",
    )


def _scale(world: World, o: OpeningLights, luminance: float) -> None:
    for k in (o.panel, *o.parts):
        world.lights[k] = world.lights[k].scaled(luminance)


def _subject_by_light(world: World, subject: str, station_m: FloatArray) -> FloatArray:
    """Mean luminance (lights,) [cd/m2] that every light gives a target."""
    # these need the World, which is made after this module
    from simulator.scene.kernels.irradiance import incident, packed_for_light  # noqa: PLC0415
    from simulator.scene.radiosity.field import light_field  # noqa: PLC0415

    cards, lights = packed_for_light(world)
    field = light_field(world)
    # luminance of every material under one unit of every light, E rho / pi
    matt = np.stack([illuminance_lux(world.reflectances() * p) for p in world.light_powers()])
    total, area = np.zeros(len(world.lights)), 0.0
    for index in world.targets[subject]:
        card = world.cards[index]
        points, areas = _cells(card, len(world.materials))
        seen = float(np.sign((station_m - card.centre_m) @ card.normal)) or 1.0
        light = incident(points, card.normal * seen, cards, lights, index, field=field)
        total += np.einsum("nl,lm,nm->l", light, matt, areas) / np.pi
        area += float(areas.sum())
    return total / area


def _cells(card: Card, materials: int) -> tuple[FloatArray, FloatArray]:
    """Middles (n, 3) [m] of the cells of a card, and the areas (n, materials) [m2] of each
    material there. What is clear has none."""
    rows, columns = card.texture.shape
    texel_m2 = card.width_m * card.height_m / (rows * columns)
    points, areas = [], []
    for top, low in pairwise(_cuts(rows)):
        for left, right in pairwise(_cuts(columns)):
            points.append(
                card.point_m(
                    (left + right) / 2.0 / columns * card.width_m,
                    (top + low) / 2.0 / rows * card.height_m,
                )
            )
            cell = card.texture[top:low, left:right].ravel()
            areas.append(np.bincount(cell, minlength=CLEAR + 1)[:materials] * texel_m2)
    return np.stack(points), np.stack(areas)


def _cuts(texels: int) -> list[int]:
    """Where to cut a row of texels into at most `SUBJECT_CELLS` even cells."""
    return [int(cut) for cut in np.linspace(0, texels, min(SUBJECT_CELLS, texels) + 1).round()]


def _short(value: float) -> str:
    """Three significant digits, without an exponent."""
    return f"{float(f'{value:.3g}'):.12g}"
