"""A photograph of the site as ground, walls and backdrop of the scene.

What the photograph shows below the foot of walls and backdrop is laid on the ground as its matched
camera saw it; walls and backdrop stand upright over their feet. Seen from where it was taken all
fits together again; targets stand on its ground, and their shadows fall on it. Levels become
reflectances, so that the scene's own light shines on them, by day or night.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.errors import FileFormatError, InputError
from simulator.messages import Message
from simulator.scene.builder import Builder, named
from simulator.scene.geometry import CLEAR, Card, upright_card
from simulator.scene.materials import Material
from simulator.scene.model_photo import SitePhoto
from simulator.scene.model_things import Photograph
from simulator.scene.photo_match import PhotoCamera, match
from simulator.scene.targets.photograph import (
    level_at,
    luminance_of_white,
    read_photograph,
)
from simulator.units import FloatArray

COLOURS, FEWEST_COLOURS = 128, 16
"""Colours kept of the photograph, and the fewest that will do."""
MOST_TEXELS = 1400
"""Most texels along a side of a card."""
REACH = 20.0
"""How many heights of the lens away the backdrop stands, unless it is told."""
BAND = 1.8
"""Ground is laid in bands, each so many times as far away at its far rim as at its near one."""
LIFT_M = 0.002
"""How far over the ground its photograph lies [m]."""
SHAPE_OFF = 0.02
"""How far the file's shape may differ from `size_px`, relative."""
TALLEST_M = 300.0


def add_site_photo(b: Builder) -> None:
    """Ground, walls and backdrop of the scene's site photograph, if it has one.

    Raises
    ------
    FileFormatError
        If the file is no picture, or the scene has too many materials already.
    InputError
        If its camera cannot be matched or its levels not turned into reflectances.
    """
    photo = b.scene.site_photo
    if photo is None:
        return
    matched = match(photo)
    camera = matched.camera
    reserved = FEWEST_COLOURS * sum(isinstance(s, Photograph) for s in b.scene.surface)
    room = CLEAR - len(b.materials) - reserved
    if room < FEWEST_COLOURS:
        raise FileFormatError(
            "The scene leaves no room for the colours of the site photograph.",
            key="site_photo.file",
            given=f"{len(b.materials)} materials already",
            allowed=f"{CLEAR - 1} materials in all",
            fix="use fewer photographs or fewer different targets, skins, fabrics and paints",
        )
    path = Path(photo.file)
    picture = named(
        "site_photo.file", lambda: read_photograph(path, 1.0, colours=min(room, COLOURS))
    )
    _same_shape(photo, path, picture.indices.shape)
    white = named("site_photo.patch", lambda: _white(photo, path))
    reflectances = white * picture.reflectances
    brighter = float(np.mean(reflectances.max(axis=1)[_seen(picture.indices)] > 1.0))
    first = len(b.materials)
    b.materials += [
        Material(
            f"site photograph (colour {k + 1})",
            np.minimum(reflectance, 1.0),
            sheeting=None,
            status="assumed",
            origin="colour of a photograph, scaled by a known patch or illuminance",
        )
        for k, reflectance in enumerate(reflectances)
    ]
    seen = picture.indices != CLEAR
    indices = np.where(seen, picture.indices + np.uint8(first), np.uint8(CLEAR))
    b.cards += cards_of(photo, camera, indices)
    b.assumptions.append(
        Message(
            "assumption.site-photo",
            {
                "height_m": camera.height_m,
                "view_deg": camera.view_deg,
                "tilt_deg": float(np.degrees(camera.tilt_rad)),
                "misfit": matched.misfit,
                "lengths": len(photo.length),
                "white_reflectance": white,
                "brighter": brighter,
                "backdrop_m": _reach(photo, camera),
                "walls": len(photo.wall),
            },
        )
    )


def _seen(indices: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return indices[indices != CLEAR]


def _white(photo: SitePhoto, path: Path) -> float:
    """Reflectance that the photograph's white stands for."""
    if photo.patch is None:
        assert photo.illuminance_lux is not None
        return float(np.pi * luminance_of_white(path) / photo.illuminance_lux)
    level = level_at(path, photo.patch.at_px, photo.patch.size_px, photo.size_px)
    if photo.patch.reflectance is not None:
        return photo.patch.reflectance / level
    assert photo.patch.luminance_cd_m2 is not None
    assert photo.illuminance_lux is not None
    return float(np.pi * photo.patch.luminance_cd_m2 / photo.illuminance_lux / level)


def _same_shape(photo: SitePhoto, path: Path, shape: tuple[int, ...]) -> None:
    given, actual = photo.size_px[0] / photo.size_px[1], shape[1] / shape[0]
    if abs(given / actual - 1.0) > SHAPE_OFF:
        raise InputError(
            "The photograph has another shape than the scene says.",
            file=path,
            key="site_photo.size_px",
            given=f"{photo.size_px[0]} x {photo.size_px[1]}",
            allowed=f"{actual:.3g} times as wide as high, as the file is",
            fix="give the width and height of the upright picture in pixels",
        )


def _reach(photo: SitePhoto, camera: PhotoCamera) -> float:
    return REACH * camera.height_m if photo.ground_to_m is None else photo.ground_to_m


def cards_of(photo: SitePhoto, camera: PhotoCamera, indices: NDArray[np.uint8]) -> list[Card]:
    """Ground in bands, walls and the backdrop as cards, drawn with indices (rows, columns)."""
    width, high = photo.size_px
    reach = _reach(photo, camera)
    bottom = camera.ground_at(np.array([[0.0, high], [width / 2.0, high], [width, high]]))
    near = float(max(0.3, np.min(bottom[:, 1]))) if np.all(np.isfinite(bottom)) else 0.3
    if near >= reach:
        raise InputError(
            "The ground of the site photograph ends before it begins.",
            key="site_photo.ground_to_m",
            given=f"{reach:g} m; the lower rim of the picture shows ground {near:.3g} m away",
            fix="give a larger ground_to_m, or check the camera's figures",
        )
    cards = []
    far = near
    while far < reach:
        begin, far = far, min(reach, far * BAND)
        half = _half_width(camera, far)
        # what a pixel shows at the near rim, across and along
        across, along = begin / camera.focal_px, begin**2 / (camera.focal_px * camera.height_m)
        rows, columns = _texels(far - begin, along), _texels(2.0 * half, across)
        corner = np.array([-half, far, LIFT_M])
        rim = (np.array([1.0, 0.0, 0.0]), np.array([0.0, -1.0, 0.0]), 2.0 * half, far - begin)
        texture = _drawn(camera, indices, corner, *rim, rows, columns)
        if np.any(texture != CLEAR):
            name = f"photographed ground from {begin:.3g} m"
            cards.append(Card(name, corner, *rim, texture, casts_shadow=False))
    cards += [_wall(photo, k, camera, indices) for k in range(len(photo.wall))]
    cards += _backdrop(camera, indices, reach)
    return cards


def _half_width(camera: PhotoCamera, far_m: float) -> float:
    """Half of what the picture shows across on the ground at a distance [m], and a little more."""
    depth = far_m * np.cos(camera.tilt_rad) + camera.height_m * np.sin(camera.tilt_rad)
    half = 0.5 * camera.size_px[0] * (1.0 + abs(np.tan(camera.roll_rad)))
    return float(1.05 * half / camera.focal_px * depth)


def _texels(length_m: float, size_m: float) -> int:
    return int(np.clip(np.ceil(length_m / size_m), 2, MOST_TEXELS))


def _drawn(
    camera: PhotoCamera,
    indices: NDArray[np.uint8],
    corner: FloatArray,
    across: FloatArray,
    down: FloatArray,
    width_m: float,
    height_m: float,
    rows: int,
    columns: int,
) -> NDArray[np.uint8]:
    """Texture (rows, columns) of a card as the photograph shows it; clear where it does not."""
    u = (np.arange(columns) + 0.5) / columns * width_m
    v = (np.arange(rows) + 0.5) / rows * height_m
    points = corner + u[None, :, None] * across + v[:, None, None] * down
    place = camera.project(points.reshape(-1, 3)) * (indices.shape[1] / camera.size_px[0])
    ok = np.all(np.isfinite(place), axis=1)
    place = np.floor(np.where(ok[:, None], place, -1.0)).astype(np.int64)
    ok &= np.all((place >= 0) & (place < np.array(indices.shape[::-1])), axis=1)
    out = np.full(len(place), CLEAR, np.uint8)
    out[ok] = indices[place[ok, 1], place[ok, 0]]
    return out.reshape(rows, columns)


def _wall(photo: SitePhoto, number: int, camera: PhotoCamera, indices: NDArray[np.uint8]) -> Card:
    wall = photo.wall[number]
    feet = camera.ground_at(np.array([wall.from_px, wall.to_px]))
    if not np.all(np.isfinite(feet)):
        raise InputError(
            "A wall of the site photograph does not stand on the ground.",
            key=f"site_photo.wall.{wall.name}",
            given=f"{wall.from_px} to {wall.to_px}",
            fix="pick its foot, below the horizon",
        )
    along = feet[1] - feet[0]
    length = float(np.linalg.norm(along))
    normal = np.array([along[1], -along[0]]) / max(length, LIFT_M)
    facing = float(np.degrees(np.arctan2(normal[0], -normal[1])))
    centre = feet.mean(axis=0) + np.array([0.0, 0.0, wall.height_m / 2.0])
    blank = np.zeros((1, 1), np.uint8)
    card = upright_card(wall.name, centre, length, wall.height_m, blank, facing_deg=facing)
    size = float(np.linalg.norm(feet[:, :2], axis=1).min()) / camera.focal_px
    texture = _drawn(
        camera, indices, card.corner_m, card.across, card.down, length, wall.height_m,
        _texels(wall.height_m, size), _texels(length, size),
    )  # fmt: skip
    return upright_card(wall.name, centre, length, wall.height_m, texture, facing_deg=facing)


def _backdrop(camera: PhotoCamera, indices: NDArray[np.uint8], reach_m: float) -> list[Card]:
    """What stands behind the ground, upright at its end; none where the picture ends before."""
    width = camera.size_px[0]
    top = camera.rays(np.array([[0.0, 0.0], [width, 0.0]]))
    level = np.hypot(top[:, 0], top[:, 1])
    high = camera.height_m + reach_m * float(np.max(top[:, 2] / np.maximum(level, 1e-9))) * 1.3
    high = min(high, TALLEST_M)
    if high <= LIFT_M:
        return []
    half = _half_width(camera, reach_m) + 0.1 * reach_m
    corner = np.array([-half, reach_m, high])
    rim = (np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, -1.0]), 2.0 * half, high)
    size = reach_m / camera.focal_px
    texture = _drawn(camera, indices, corner, *rim, _texels(high, size), _texels(2.0 * half, size))
    if not np.any(texture != CLEAR):
        return []
    return [Card("photographed backdrop", corner, *rim, texture, casts_shadow=False)]
