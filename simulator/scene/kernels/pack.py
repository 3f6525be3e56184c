"""The world as plain arrays for the compiled kernels."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from simulator.light.beams import headlamp_intensity_cd
from simulator.light.sources import LightSource
from simulator.scene.geometry import CLEAR, Card, View
from simulator.scene.kernels.bodies import PackedBodies
from simulator.scene.kernels.light_map import PackedMap, no_map
from simulator.scene.kernels.pack_bodies import outline_box, pack_bodies
from simulator.scene.kernels.patterns import OF_MATERIAL, PATCHES, TILE
from simulator.scene.kernels.shadow_bounds import face_radius, shadow_bounds
from simulator.scene.materials import Material, sheeting
from simulator.scene.world import World
from simulator.units import FloatArray

KINDS = {"sky": 0, "bounce": 1, "sun": 2, "point": 3, "panel": 4}
SPHERES = 1000
"""Numbers of full-sphere tables start here, those of headlamp tables at 0."""
WEB_HALF_DEG = 45.0
WEB_STEP_DEG = 0.125
"""Step of a headlamp table: as fine as the softness of a cut-off."""
WEB_WIDE_DEG = 1.5
"""Step of a headlamp table between `WEB_HALF_DEG` and 90 degrees, where little changes."""
DISC_SAMPLES = 48
"""Places on a lamp's luminous face from which a partly hidden one is looked at."""
_FAR = 1.0e9


class PackedCards(NamedTuple):
    """Cards as arrays; n cards, the ground is number n."""

    plane: FloatArray  # (n, 3, 3) rows give u, v and the denominator from (x_px, y_px, 1)
    offset: FloatArray  # (n,) depth = offset / denominator
    box: FloatArray  # (n, 4) bounding box in a pinhole picture: x0, y0, x1, y1
    seen_box: FloatArray  # (n, 4) the same in the picture as the lens distorts it
    frame: FloatArray  # (n, 4, 3) corner, across, down, normal
    size: FloatArray  # (n, 2) width, height [m]
    texels: NDArray[np.uint8]
    texture: NDArray[np.int64]  # (n, 3) start, rows, columns
    full: NDArray[np.bool_]  # (n,) nothing of it is clear
    group: NDArray[np.int64]  # (n,) movement, 0 for what stands still
    glow: NDArray[np.int64]  # (n,) light whose luminance the card shows, -1 for none
    solid: NDArray[np.bool_]  # (n,) stands for a body and is not there itself
    rough: FloatArray  # (n + 1, 3) variation, grain and pattern; the ground last
    ground: int  # material of the ground
    tile: NDArray[np.float32]  # (TILE, TILE) smooth noise of unit standard deviation


class PackedScene(NamedTuple):
    """What stands in the scene, as a view sees it: flat cards and solid bodies."""

    cards: PackedCards
    bodies: PackedBodies | None

    @property
    def group(self) -> NDArray[np.int64]:
        """Movement of each card or body (n,), 0 for what stands still."""
        return self.cards.group

    @property
    def seen_box(self) -> FloatArray:
        """Box of each card or body in the picture (n, 4) [px]."""
        return self.cards.seen_box


class PackedLights(NamedTuple):
    """Lights as arrays; l lights, m materials."""

    kind: NDArray[np.int64]  # (l,)
    amount: FloatArray  # (l,) `LightSource.strength`, in the unit of the light's quantity
    position: FloatArray  # (l, 3)
    direction: FloatArray  # (l, 3)
    exponent: FloatArray  # (l,)
    web: NDArray[np.int64]  # (l,) index of the intensity table, -1 for the cosine power
    webs: FloatArray  # (w, v, h) intensity [cd] by vertical and horizontal angle
    spheres: NDArray[np.float32]  # (s, gamma, c) intensity tables over the sphere
    reference: FloatArray  # (l, 3) direction of C = 0
    gloss: FloatArray  # (m, 2) reflectance at normal incidence and roughness of a coat; 0 none
    extinction: float  # of the air [1/m]
    coefficient: NDArray[np.float32]  # (l, m, 3) rate per unit on a diffuse surface
    retro: NDArray[np.float32]  # (l, m, 3) the same for a mirror-white retroreflector
    sheeting: NDArray[np.int64]  # (m,) index of the sheeting table, -1 for none
    tables: NDArray[np.float32]  # (s, a, b) R_A
    housing: FloatArray  # (l,) bodies this near a point [m] do not shade it
    blockers: NDArray[np.bool_]  # (l, n + 1, n) may card b shade card a from light l
    shade_box: NDArray[np.float32]  # (l, n + 1, n, 4) where card b's shadow can lie on card a [m]
    radius: FloatArray  # (l,) of a point's luminous face [m]; of the sun's disc, its tangent
    disc: FloatArray  # (samples, 2) places on a unit disc
    light_map: PackedMap  # sky and bounced light


class PackedView(NamedTuple):
    """The view as arrays."""

    rays: FloatArray  # (3, 3)
    position: FloatArray  # (3,)
    focal_px: float
    centre: FloatArray  # (2,) principal point [px]
    corner_illumination: float
    circle_px: float  # radius of the image circle
    distortion: float  # radial distortion [1/px^2]


def pack_view(view: View, corner_illumination: float, circle_radius_px: float) -> PackedView:
    """The view with its vignetting: light falls to `corner_illumination` at the image circle."""
    return PackedView(
        np.ascontiguousarray(view.ray_matrix),
        view.position_m,
        view.focal_px,
        np.array([view.width_px / 2.0, view.height_px / 2.0]),
        corner_illumination,
        circle_radius_px,
        view.distortion,
    )


def pack_scene(world: World, view: View) -> PackedScene:
    """Cards and bodies seen from a view."""
    return PackedScene(pack_cards(world, view), pack_bodies(world.meshes, world.materials))


def pack_cards(world: World, view: View) -> PackedCards:
    """Cards seen from a view; those that stand for bodies have a place in the picture only."""
    rays = view.ray_matrix
    planes, offsets, boxes, frames, sizes, textures, texels = [], [], [], [], [], [], []
    start = 0
    for card in world.cards:
        normal = card.normal
        offset = float((card.corner_m - view.position_m) @ normal)
        back = view.position_m - card.corner_m
        den = normal @ rays
        across = ((back @ card.across) * den + offset * (card.across @ rays)) / card.width_m
        down = ((back @ card.down) * den + offset * (card.down @ rays)) / card.height_m
        planes.append(np.stack([across, down, den]))
        offsets.append(offset)
        boxes.append(_box(card, view))
        frames.append(np.stack([card.corner_m, card.across, card.down, normal]))
        sizes.append((card.width_m, card.height_m))
        textures.append((start, *card.texture.shape))
        texels.append(card.texture.ravel())
        start += card.texture.size
    n = len(world.cards)
    seen = [_seen_box(box, view) for box in boxes]
    for mesh in world.meshes:
        outline = outline_box(mesh, view)
        boxes[mesh.card] = (_FAR, _FAR, -_FAR, -_FAR)
        seen[mesh.card] = (
            (-_FAR, -_FAR, _FAR, _FAR) if outline is None else _seen_box(outline, view)
        )
    rough = [(c.variation, c.grain_m, _pattern(world, int(c.texture.flat[0]))) for c in world.cards]
    ground = _pattern(world, world.ground_material)
    rough.append((world.ground_variation, world.ground_grain_m, ground))
    return PackedCards(
        np.array(planes).reshape(n, 3, 3),
        np.array(offsets),
        np.array(boxes).reshape(n, 4),
        np.array(seen).reshape(n, 4),
        np.array(frames).reshape(n, 4, 3),
        np.array(sizes).reshape(n, 2),
        np.concatenate(texels) if texels else np.zeros(1, np.uint8),
        np.array(textures, dtype=np.int64).reshape(n, 3),
        np.array([not np.any(c.texture == CLEAR) for c in world.cards], dtype=np.bool_),
        np.array([c.group for c in world.cards], dtype=np.int64),
        np.array([c.glow for c in world.cards], dtype=np.int64),
        np.isin(np.arange(n), [mesh.card for mesh in world.meshes]),
        np.array(rough),
        world.ground_material,
        noise_tile(world.grain_shift),
    )


def cards_with_texture(cards: PackedCards, world: World, card: int) -> PackedCards:
    """Packed cards of a world that differs by what is drawn on one of them; its size is the same.

    Raises
    ------
    ValueError
        If that texture has other rows or columns than the packed one.
    """
    drawn = world.cards[card].texture
    start, rows, columns = cards.texture[card]
    if drawn.shape != (rows, columns):
        raise ValueError("a texture of another size needs all cards packed anew")
    texels, full, rough = cards.texels.copy(), cards.full.copy(), cards.rough.copy()
    texels[start : start + drawn.size] = drawn.ravel()
    full[card] = not np.any(drawn == CLEAR)
    rough[card, 2] = _pattern(world, int(drawn.flat[0]))
    return cards._replace(texels=texels, full=full, rough=rough)


def _pattern(world: World, material: int) -> int:
    """Number of the pattern in which a material of the world varies."""
    if material >= len(world.materials):
        return PATCHES
    return OF_MATERIAL.get(world.materials[material].name, PATCHES)


@lru_cache(maxsize=4)
def noise_tile(shift: int = 0) -> NDArray[np.float32]:
    """Softened white noise on a torus, of unit standard deviation, moved on."""
    values = np.random.default_rng(20_240_101).standard_normal((TILE, TILE))
    soft = gaussian_filter(values, 1.1, mode="wrap")
    tile = ((soft - soft.mean()) / soft.std()).astype(np.float32)
    return np.roll(tile, 37 * shift, axis=(0, 1))


def _box(card: Card, view: View) -> tuple[float, float, float, float]:
    """Bounding box of a card in the picture; the whole plane if it crosses the lens plane."""
    xy, depth = view.project_undistorted(card.corners_m)
    if np.all(depth <= 1e-6):
        return (_FAR, _FAR, -_FAR, -_FAR)
    if np.any(depth <= 1e-6):
        return (-_FAR, -_FAR, _FAR, _FAR)
    (x0, y0), (x1, y1) = xy.min(axis=0), xy.max(axis=0)
    return (float(x0), float(y0), float(x1), float(y1))


def _seen_box(box: tuple[float, float, float, float], view: View) -> tuple[float, ...]:
    """Box around a box of the pinhole picture once the lens has distorted it."""
    if view.distortion == 0.0 or not -_FAR < box[0] < _FAR:
        return box
    x = np.linspace(box[0], box[2], 17)
    y = np.linspace(box[1], box[3], 17)
    rim = np.concatenate([
        np.stack(np.meshgrid(x, [box[1], box[3]]), axis=-1).reshape(-1, 2),
        np.stack(np.meshgrid([box[0], box[2]], y), axis=-1).reshape(-1, 2),
    ])  # fmt: skip
    places = view.distort(rim)
    if np.any(np.isnan(places)):
        return (-_FAR, -_FAR, _FAR, _FAR)
    (x0, y0), (x1, y1) = places.min(axis=0) - 1.0, places.max(axis=0) + 1.0
    return (float(x0), float(y0), float(x1), float(y1))


BEAMS: tuple[Literal["dipped", "main"], ...] = ("dipped", "main")


@lru_cache(maxsize=1)
def _beam_webs() -> FloatArray:
    """Webs of vehicles' beams, one after another; the same for every scene."""
    return np.stack([_web(beam) for beam in BEAMS])


def pack_lights(
    world: World,
    coefficient: NDArray[np.float32],
    retro: NDArray[np.float32],
    extinction_per_m: float = 0.0,
    light_map: PackedMap | None = None,
) -> PackedLights:
    """Lights with their coefficient tables (L, M, 3), in electrons per second and unit of light.

    Without a light map, sky and ground light every place as those of an open horizon.
    """
    lights = world.lights
    zero = np.zeros(3)
    names = sorted({m.sheeting for m in world.materials if m.sheeting is not None})
    tables = [sheeting(name).dense_table() for name in names]
    spheres = [light.web for light in lights if light.web is not None]
    return PackedLights(
        np.array([KINDS[light.kind] for light in lights], dtype=np.int64),
        np.array([light.strength for light in lights], dtype=np.float64),
        np.array([zero if li.position_m is None else li.position_m for li in lights]),
        np.array([zero if li.direction is None else li.direction for li in lights]),
        np.array([light.exponent for light in lights], dtype=np.float64),
        _web_numbers(lights, list(BEAMS)),
        _beam_webs(),
        np.stack(spheres).astype(np.float32) if spheres else np.zeros((1, 2, 2), np.float32),
        np.array([zero if li.reference is None else li.reference for li in lights]),
        np.array([_coat(m) for m in world.materials], dtype=np.float64),
        extinction_per_m,
        np.ascontiguousarray(coefficient, dtype=np.float32),
        np.ascontiguousarray(retro, dtype=np.float32),
        np.array(
            [-1 if m.sheeting is None else names.index(m.sheeting) for m in world.materials],
            dtype=np.int64,
        ),
        np.stack(tables).astype(np.float32) if tables else np.zeros((1, 2, 2), np.float32),
        np.array([light.housing_m for light in lights], dtype=np.float64),
        *shadow_bounds(world),
        np.array([face_radius(light) for light in lights], dtype=np.float64),
        _disc(DISC_SAMPLES),
        no_map() if light_map is None else light_map,
    )


@lru_cache
def _disc(many: int) -> FloatArray:
    """Places (many, 2) spread evenly over a unit disc: a spiral of the golden angle."""
    k = np.arange(many)
    radius, angle = np.sqrt((k + 0.5) / many), k * np.pi * (3.0 - np.sqrt(5.0))
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)


@lru_cache
def _web(beam: Literal["dipped", "main"]) -> FloatArray:
    """Intensity table (vertical, horizontal) of a headlamp [cd]."""
    near = np.arange(-WEB_HALF_DEG, WEB_HALF_DEG + WEB_STEP_DEG / 2, WEB_STEP_DEG)
    far = np.arange(WEB_HALF_DEG + WEB_WIDE_DEG, 90.0 + WEB_WIDE_DEG / 2, WEB_WIDE_DEG)
    angle = np.concatenate([-far[::-1], near, far])
    h, v = np.meshgrid(angle, angle)
    return np.asarray(headlamp_intensity_cd(h, v, beam), dtype=np.float64)


def _web_numbers(lights: list[LightSource], beams: list[str]) -> NDArray[np.int64]:
    """Number of each light's intensity table: headlamps from 0, spheres from `SPHERES`."""
    numbers, sphere = [], SPHERES
    for light in lights:
        if light.web is not None:
            numbers.append(sphere)
            sphere += 1
        else:
            numbers.append(beams.index(light.beam) if light.beam in beams else -1)
    return np.array(numbers, dtype=np.int64)


def _coat(material: Material) -> tuple[float, float]:
    """Reflectance at normal incidence, ((n - 1)/(n + 1))^2, and roughness; zeros without a coat."""
    if material.gloss is None:
        return 0.0, 0.0
    n = material.gloss.index
    return ((n - 1.0) / (n + 1.0)) ** 2, max(material.gloss.roughness, 0.01)
