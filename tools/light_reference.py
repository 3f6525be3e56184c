"""Scenes of light, traced by an independent path tracer (Mitsuba 3) and looked at by ours.

Everything is grey and matt, so that luminance is all there is: what differs is geometry, shadows,
and light that bounces. Lamps are Lambertian discs, the sky is even; all bounces count.

    python tools/light_reference.py

traces all of them with many paths and keeps pictures and illuminances in
tests/outside/light_reference.npz, some four minutes; needs the extra `render` (Mitsuba 3).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from simulator.light import spectrum
from simulator.light.sources import NATURAL, LightSource
from simulator.light.spectra import filtered
from simulator.scene.geometry import Card, View, upright_card
from simulator.scene.kernels.irradiance import incident, packed_for_light
from simulator.scene.kernels.pack import pack_lights, pack_scene, pack_view
from simulator.scene.kernels.radiance import Sampling, trace_layer
from simulator.scene.kernels.seen import seen_at
from simulator.scene.materials import Material
from simulator.scene.radiosity.bands import band_power
from simulator.scene.radiosity.field import light_field
from simulator.scene.radiosity.packed import pack_map
from simulator.scene.rays import RayCaster, lifted
from simulator.scene.world import World
from simulator.units import WAVELENGTH_NM

DAYLIGHT = spectrum("daylight")
STORED = Path(__file__).parents[1] / "tests" / "outside" / "light_reference.npz"
WIDTH, HEIGHT = 60, 40
"""Size of the stored pictures [px]."""
PATHS = (16_384, 4096, 4096, 16_384)
"""Paths a pixel of the stored pictures, more where little light comes."""
SPOT_PATHS = 65_536
SEED = 11
OUR_OFF_M = 0.002
SPOT_OFF_M, SPOT_DEG = 0.05, 20.0
"""How far before a place the camera stands that measures it [m], and how wide it looks [deg]."""
FACING, LEVEL = (0.0, -1.0, 0.0), (0.0, 0.0, 1.0)
FAR_M = 2000.0
"""Half the size of the path tracer's ground [m]."""


def grey(reflectance: float) -> Material:
    """A matt grey."""
    return Material(
        f"grey {reflectance:g}",
        np.full_like(WAVELENGTH_NM, reflectance),
        sheeting=None,
        status="computed",
        origin="definition",
    )


@dataclass
class Site:
    """A scene of cards, with a view of it.

    `ground` reflectance; `sky_lux` of level ground in the open; `lamps` (place, aim, intensity on
    the axis [cd], diameter [m]); `cards` with the number of a grey as texture.
    """

    name: str
    greys: tuple[float, ...]
    cards: list[Card]
    sky_lux: float
    lamps: list[tuple[tuple[float, ...], tuple[float, ...], float, float]]
    camera_m: tuple[float, float, float]
    aim_m: tuple[float, float, float]
    focal: float = 1.0
    """Focal length over the width of the picture."""
    spots: tuple[tuple[str, tuple[float, ...], tuple[float, ...]], ...] = ()
    """Places where the illuminance is asked for: name, place [m], normal."""

    def world(self) -> World:
        """The same as a world of ours; the ground has the first grey."""
        materials = [grey(1.0), *(grey(r) for r in self.greys)]
        lights = []
        if self.sky_lux > 0.0:
            bounce = filtered(DAYLIGHT, materials[1].reflectance, "off the ground")
            lights = [
                LightSource("sky", "sky", DAYLIGHT, illuminance_lux=self.sky_lux, owner=NATURAL),
                LightSource("ground", "bounce", bounce, illuminance_lux=self.sky_lux,
                            owner=NATURAL),
            ]  # fmt: skip
        for k, (place, aim, candela, diameter) in enumerate(self.lamps):
            axis = np.subtract(aim, place) / np.linalg.norm(np.subtract(aim, place))
            lights.append(
                LightSource(
                    f"lamp {k}", "point", DAYLIGHT, np.array(place), axis, intensity_cd=candela,
                    exponent=1.0, owner=f"lamp {k}", diameter_m=diameter,
                )
            )  # fmt: skip
        return World(self.cards, materials, lights, [], np.zeros((1, 3)), {}, 1, 0.0, 0.05)


def card(
    name: str,
    centre_m: tuple[float, float, float],
    width_m: float,
    height_m: float,
    number: int,
    facing_deg: float = 0.0,
    tilt_deg: float = 0.0,
) -> Card:
    """An upright card of one grey, by its middle."""
    texture = np.full((1, 1), number, np.uint8)
    return upright_card(
        name, np.array(centre_m), width_m, height_m, texture,
        facing_deg=facing_deg, tilt_deg=tilt_deg,
    )  # fmt: skip


def ours(site: Site, width: int, height: int, split: int = 2) -> np.ndarray:
    """Luminance (height, width) [cd/m2] as our renderer has it, split x split samples a pixel."""
    world = site.world()
    view = View.aimed(
        np.array(site.camera_m), np.array(site.aim_m), width, height, site.focal * width
    )
    reflectance = np.array([m.reflectance[0] for m in world.materials])
    unit = np.ones(len(world.lights))
    unit[[i for i, li in enumerate(world.lights) if li.kind == "bounce"]] = reflectance[1]
    # luminance of a material under a unit of each light: E rho / pi
    coefficient = (unit[:, None] * reflectance / np.pi)[..., None].repeat(3, axis=2)
    field = light_field(world)
    power = band_power(np.stack([world.lights[i].spectrum.power for i in field.slots.light]))
    share = power / power.sum(axis=1, keepdims=True)
    by_band = share[:, :, None, None] * coefficient[field.slots.light][:, None]
    none = np.zeros(coefficient.shape, np.float32)
    lights = pack_lights(
        world, coefficient.astype(np.float32), none,
        light_map=pack_map(field, world, by_band.astype(np.float32)),
    )  # fmt: skip
    sampling = Sampling(0.0, 0.0, 1.0 / split, height * split, width * split)
    layer = trace_layer(
        sampling, pack_scene(world, view), lights, pack_view(view, 1.0, 1e6), mode=0, fine=3
    )
    x = (np.arange(width * split) + 0.5) / split - width / 2.0
    y = (np.arange(height * split) + 0.5) / split - height / 2.0
    cos2 = view.focal_px**2 / (view.focal_px**2 + x[None, :] ** 2 + y[:, None] ** 2)
    luminance = layer.rate[..., 1] / cos2**2
    return luminance.reshape(height, split, width, split).mean(axis=(1, 3))


def our_lux(site: Site) -> np.ndarray:
    """Illuminance (spots,) [lx] at the named places as our renderer has it."""
    world = site.world()
    scene, lights = packed_for_light(world)
    points = np.array([place for _, place, _ in site.spots])
    normals = np.array([normal for _, _, normal in site.spots])
    units = incident(points + OUR_OFF_M * normals, normals, scene, lights, None,
                     light_field(world))  # fmt: skip
    # bounced natural light is told before the ground's reflectance
    bounce = np.array([light.kind == "bounce" for light in world.lights])
    return units @ np.where(bounce, site.greys[0], 1.0)


def edges(site: Site, width: int, height: int, split: int = 3) -> np.ndarray:
    """Pixels (height, width) on or beside a rim of things, or a shadow edge of a lamp.

    Told by geometry alone, whatever the light is: of all places of a pixel and its neighbours some
    show another surface, or some see all of a lamp's face and others do not.
    """
    world = site.world()
    view = View.aimed(
        np.array(site.camera_m), np.array(site.aim_m), width, height, site.focal * width
    )
    x = (np.arange(width * split) + 0.5) / split
    y = (np.arange(height * split) + 0.5) / split
    seen = seen_at(x, y, pack_scene(world, view), pack_view(view, 1.0, 1e6), False, grid=True)
    cards = np.array([one.normal for one in site.cards] + [[0.0, 0.0, 1.0]] * 2)
    rays = (
        np.stack(
            [
                *np.meshgrid(x - width / 2.0, y - height / 2.0),
                np.full(seen.card.shape, view.focal_px),
            ],
            axis=-1,
        )
        / view.focal_px
    )
    ways = rays @ view.axes
    points = np.array(site.camera_m) + ways * np.where(seen.card < 0, 0.0, seen.depth)[..., None]
    normals = cards[seen.card]
    normals = np.where((normals * ways).sum(axis=2, keepdims=True) > 0.0, -normals, normals)
    kinds = [seen.card.astype(np.int64)]
    caster = RayCaster.of(world)
    start = lifted(points.reshape(-1, 3), normals.reshape(-1, 3))
    for place, towards, _, diameter in site.lamps:
        axis = np.subtract(towards, place) / np.linalg.norm(np.subtract(towards, place))
        side = np.cross(axis, [1.0, 0.0, 0.0] if abs(axis[0]) < 0.9 else [0.0, 1.0, 0.0])
        side *= 0.5 * diameter / np.linalg.norm(side)
        up = np.cross(axis, side)
        hidden = np.zeros(len(start), np.int64)
        for turn in np.arange(8) * np.pi / 4.0:
            end = np.array(place) + np.cos(turn) * side + np.sin(turn) * up
            hidden += caster.blocked(start, end)
        kinds.append(hidden.reshape(seen.card.shape))
    out = np.zeros((height, width), np.bool_)
    wide = np.ones((2 * split + 1, 2 * split + 1), np.uint8)
    for kind in kinds:
        even = kind.astype(np.float32)
        apart = cv2.dilate(even, wide) != cv2.erode(even, wide)
        out |= apart.reshape(height, split, width, split).any(axis=(1, 3))
    return out


def reference(site: Site, width: int, height: int, samples: int, seed: int = 0) -> np.ndarray:
    """Luminance (height, width) [cd/m2] by the path tracer."""
    import mitsuba as mi  # noqa: PLC0415 - a test extra

    mi.set_variant("scalar_rgb")
    scene = _traced(site)
    scene["sensor"] = {
        "type": "perspective",
        "fov": float(np.degrees(2.0 * np.arctan(0.5 / site.focal))),
        "fov_axis": "x",
        "to_world": mi.ScalarTransform4f().look_at(
            list(site.camera_m), list(site.aim_m), [0.0, 0.0, 1.0]
        ),
        **_film(width, height, samples, seed),
    }
    return np.array(mi.render(mi.load_dict(scene))).reshape(height, width)


def reference_lux(site: Site, samples: int, seed: int = 0) -> np.ndarray:
    """Illuminance (spots,) [lx] at the named places by the path tracer: pi L / rho of what a camera
    close before them sees."""
    import mitsuba as mi  # noqa: PLC0415 - a test extra

    mi.set_variant("scalar_rgb")
    values = []
    for _, place, normal in site.spots:
        scene = _traced(site)
        lens = np.array(place) + SPOT_OFF_M * np.array(normal)
        off = [0.0, 0.0, 1.0] if abs(normal[2]) < 0.9 else [0.0, 1.0, 0.0]
        scene["sensor"] = {
            "type": "perspective",
            "fov": SPOT_DEG,
            "near_clip": 0.1 * SPOT_OFF_M,
            "to_world": mi.ScalarTransform4f().look_at(lens.tolist(), list(place), off),
            **_film(1, 1, samples, seed),
        }
        seen = float(np.array(mi.render(mi.load_dict(scene))).ravel()[0])
        values.append(np.pi * seen / _grey_at(site, np.array(place)))
    return np.array(values)


def _grey_at(site: Site, place: np.ndarray) -> float:
    """Reflectance of the card on which a place lies, or of the ground."""
    for one in site.cards:
        off = place - one.corner_m
        u, v = off @ one.across / one.width_m, off @ one.down / one.height_m
        if abs(off @ one.normal) < 1e-6 and 0.0 <= u <= 1.0 and 0.0 <= v <= 1.0:
            return site.greys[int(one.texture[0, 0]) - 1]
    return site.greys[0]


def _film(width: int, height: int, samples: int, seed: int) -> dict[str, Any]:
    return {
        "film": {
            "type": "hdrfilm", "width": width, "height": height, "pixel_format": "luminance",
            "rfilter": {"type": "box"},
        },
        "sampler": {"type": "multijitter", "sample_count": samples, "seed": seed},
    }  # fmt: skip


def _traced(site: Site) -> dict[str, Any]:
    """A scene as the path tracer takes it, without a camera; lamps' faces are not shown."""
    import mitsuba as mi  # noqa: PLC0415 - a test extra

    scene: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 40, "rr_depth": 40, "hide_emitters": True},
        "ground": {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f().scale([FAR_M, FAR_M, 1.0]),
            "bsdf": _matt(site.greys[0]),
        },
    }
    if site.sky_lux > 0.0:
        scene["sky"] = {
            "type": "constant", "radiance": {"type": "rgb", "value": site.sky_lux / np.pi},
        }  # fmt: skip
    for k, one in enumerate(site.cards):
        number = int(one.texture[0, 0]) - 1
        scene[f"card {k}"] = {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f(_placed(one)),
            "bsdf": {"type": "twosided", "bsdf": _matt(site.greys[number])},
        }
    for k, (place, towards, candela, diameter) in enumerate(site.lamps):
        radius = diameter / 2.0
        axis = np.subtract(towards, place) / np.linalg.norm(np.subtract(towards, place))
        off = np.array([1.0, 0.0, 0.0]) if abs(axis[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
        look = mi.ScalarTransform4f().look_at(list(place), list(towards), off.tolist())
        radiance = candela / (np.pi * radius**2)
        scene[f"lamp {k}"] = {
            "type": "disk",
            "to_world": look @ mi.ScalarTransform4f().scale([radius, radius, 1.0]),
            "emitter": {"type": "area", "radiance": {"type": "rgb", "value": radiance}},
            "bsdf": {"type": "null"},
        }
    return scene


def _matt(reflectance: float) -> dict[str, Any]:
    return {"type": "diffuse", "reflectance": {"type": "rgb", "value": reflectance}}


def _placed(one: Card) -> np.ndarray:
    """Matrix that takes the square from -1 to 1 to a card."""
    out = np.eye(4)
    out[:3, 0] = one.across * one.width_m / 2.0
    out[:3, 1] = -one.down * one.height_m / 2.0
    out[:3, 2] = one.normal
    out[:3, 3] = one.centre_m
    return out


def sites() -> list[Site]:
    """Four scenes: lamps in a bay behind a van, a card before a wall, a walled yard, a room."""
    bay = [
        card("wall", (0.0, 12.0, 2.5), 16.0, 5.0, 2),
        card("side", (-5.0, 9.0, 2.5), 6.0, 5.0, 2, facing_deg=90.0),
        *_box("van", (0.3, 7.0), 2.0, 4.0, 2.3, 3),
    ]
    yard = [
        card("back", (0.0, 14.0, 1.75), 12.0, 3.5, 2),
        card("left", (-6.0, 9.0, 1.75), 10.0, 3.5, 2, facing_deg=90.0),
        card("right", (6.0, 9.0, 1.75), 10.0, 3.5, 3, facing_deg=-90.0),
        card("crate", (1.0, 9.0, 0.5), 1.0, 1.0, 3, facing_deg=20.0),
    ]
    room = [
        card("back", (0.0, 9.0, 1.5), 5.0, 3.0, 2),
        card("left", (-2.5, 7.0, 1.5), 4.0, 3.0, 2, facing_deg=90.0),
        card("right", (2.5, 7.0, 1.5), 4.0, 3.0, 2, facing_deg=-90.0),
        card("ceiling", (0.0, 7.0, 3.0), 5.0, 4.0, 2, tilt_deg=-90.0),
        card("front left", (-1.5, 5.0, 1.5), 2.0, 3.0, 2),
        card("front right", (1.5, 5.0, 1.5), 2.0, 3.0, 2),
        card("over the door", (0.0, 5.0, 2.6), 1.0, 0.8, 2),
        card("person", (0.1, 6.3, 0.85), 0.5, 1.7, 3),
    ]
    return [
        Site("bay with lamps", (0.18, 0.45, 0.6), bay, 0.0,
             [((-2.0, 11.0, 4.2), (-2.0, 9.0, 0.0), 900.0, 0.3),
              ((2.5, 11.0, 4.2), (2.5, 9.0, 0.0), 900.0, 0.3)],
             (-0.5, -4.0, 2.2), (0.0, 8.0, 1.4),
             spots=(("plate on the dark front of the van", (0.3, 5.0, 0.6), FACING),
                    ("open ground before the van", (-3.0, 3.0, 0.0), LEVEL),
                    ("wall under the lamps", (1.5, 12.0, 1.5), FACING))),
        Site("card before a wall", (0.2, 0.6, 0.5),
             [card("wall", (0.0, 8.0, 1.5), 6.0, 3.0, 2),
              card("card", (0.2, 7.2, 1.2), 0.8, 0.8, 3, facing_deg=10.0)], 100.0,
             [((-1.0, 3.0, 3.2), (0.0, 7.5, 1.2), 2000.0, 0.4)],
             (0.8, 1.5, 1.6), (0.0, 8.0, 1.2),
             spots=(("wall behind the card", (0.9, 8.0, 0.5), FACING),)),
        Site("walled yard", (0.3, 0.5, 0.7), yard, 1000.0, [],
             (0.5, -3.0, 2.5), (0.0, 9.0, 1.0),
             spots=(("back wall, breast high", (-2.0, 14.0, 1.3), FACING),
                    ("ground in the corner", (-5.0, 13.0, 0.0), LEVEL),
                    ("ground in the middle", (-1.5, 9.0, 0.0), LEVEL))),
        Site("room with a door", (0.25, 0.7, 0.4), room, 1000.0,
             [((-1.2, 7.5, 2.9), (-1.2, 7.5, 0.0), 80.0, 0.3)],
             (0.0, 1.0, 1.5), (0.0, 7.0, 1.2),
             spots=(("face of the person", (0.1, 6.3, 1.6), FACING),
                    ("floor behind the person", (0.1, 7.5, 0.0), LEVEL),
                    ("back wall", (-0.8, 9.0, 1.5), FACING))),
    ]  # fmt: skip


def _box(
    name: str, middle: tuple[float, float], width: float, length: float, height: float, number: int
) -> list[Card]:
    """A box of cards that stands on the ground, clear of it by a wheel."""
    x, y = middle
    z, foot = (height + 0.3) / 2.0, height - 0.3
    return [
        card(f"{name} front", (x, y - length / 2.0, z), width, foot, number),
        card(f"{name} rear", (x, y + length / 2.0, z), width, foot, number, 180.0),
        card(f"{name} left", (x - width / 2.0, y, z), length, foot, number, -90.0),
        card(f"{name} right", (x + width / 2.0, y, z), length, foot, number, 90.0),
        card(f"{name} roof", (x, y, height), width, length, number, tilt_deg=90.0),
        card(f"{name} floor", (x, y, 0.3), width, length, number, tilt_deg=-90.0),
    ]


def main() -> None:
    """Traces all scenes and keeps what was found."""
    kept: dict[str, np.ndarray] = {}
    for k, (site, paths) in enumerate(zip(sites(), PATHS, strict=True)):
        picture = reference(site, WIDTH, HEIGHT, paths, SEED)
        kept[f"luminance_{k}"] = picture.astype(np.float32)
        kept[f"lux_{k}"] = reference_lux(site, SPOT_PATHS, SEED)
        print(site.name, kept[f"lux_{k}"])
    np.savez_compressed(STORED, allow_pickle=False, **kept)


if __name__ == "__main__":
    main()
