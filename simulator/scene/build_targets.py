"""People, signs, parcels and charts: from the scene file to cards."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simulator.scene.bodies.head import BEHIND_M, head_card, head_of
from simulator.scene.bodies.person import USUAL_HEIGHT_M, Cloth, person_body
from simulator.scene.builder import Builder
from simulator.scene.geometry import facing_normal, upright_card
from simulator.scene.model_targets import (
    ColourChart,
    EdgeChart,
    Face,
    GreyChart,
    Parcel,
    Person,
    ResolutionChart,
    Sign,
    StarChart,
)
from simulator.scene.targets import boards, charts, face

DARK_INK = "ink-carbon"
"""Opaque print: what lies under it does not retroreflect."""
PARCEL_SHADE = 0.7
NECK_BACK_M = 0.036
"""How far a neck stands behind the middle of the feet [m]."""


def _face_materials(b: Builder, t: Face | Person, look: face.Look) -> face.FaceMaterials:
    key = f"target.{t.name}"
    dark = t.skin in ("dark", "very-dark")
    return face.FaceMaterials(
        skin=b.shades(f"skin-{t.skin}", f"{key}.skin", face.SKIN_SHADES),
        hair=b.shades(t.hair or look.hair, f"{key}.hair", face.HAIR_SHADES),
        lips=b.shades("lips-dark" if dark else "lips", key, face.LIP_SHADES),
        cloth=b.shades(
            t.headwear_material if isinstance(t, Face) or t.headwear != "none" else t.upper,
            f"{key}.headwear_material",
            face.CLOTH_SHADES,
        ),
        white=b.material("eye-white", key, factor=0.8),
        iris=b.material(look.iris, key),
        dark=b.material("hair-black", key, factor=0.5),
    )


def add_face(b: Builder, t: Face) -> None:
    look = face.look_of(t.variant, t.skin)
    group = b.group(t.speed_kmh, t.heading_deg)
    # the card reaches further below the middle of the head than above it
    lower = (face.CARD_BELOW_M - face.CARD_ABOVE_M) / 2.0
    lean = np.radians(t.tilt_deg)
    down = -np.array([0.0, 0.0, np.cos(lean)]) + np.sin(lean) * -facing_normal(t.facing_deg)
    centre = np.asarray(t.position_m) + lower * down
    drawn = face.DrawnHead(
        look,
        _face_materials(b, t, look),
        t.glasses,
        t.headwear,
        back=False,
        collar=True,
        centre_m=(float(centre[0]), float(centre[1]), float(centre[2])),
        facing_deg=t.facing_deg,
        tilt_deg=t.tilt_deg,
    )
    b.heads[t.name] = drawn
    b.add_with_card(t.name, head_of(drawn), head_card(t.name, drawn, group))


def add_person(b: Builder, t: Person) -> None:
    key = f"target.{t.name}"
    look = face.look_of(t.variant, t.skin)
    back = t.seen_from == "back"
    group = b.group(t.speed_kmh, t.heading_deg)
    normal, scale = facing_normal(t.facing_deg), t.height_m / USUAL_HEIGHT_M
    foot = np.asarray(t.position_m, float)
    middle = t.height_m + scale * (face.CARD_ABOVE_M - face.CARD_HEIGHT_M / 2.0)
    # the head's middle stands over the neck
    ahead = scale * (BEHIND_M - NECK_BACK_M) * (-1.0 if back else 1.0)
    centre = foot + ahead * normal + np.array([0.0, 0.0, middle])
    drawn = face.DrawnHead(
        look,
        _face_materials(b, t, look),
        t.glasses,
        t.headwear,
        back=back,
        collar=False,
        centre_m=(float(centre[0]), float(centre[1]), float(centre[2])),
        facing_deg=t.facing_deg,
        scale=scale,
    )
    b.heads[t.name] = drawn
    cloth = Cloth(
        skin=int(drawn.materials.skin[-1]),
        upper=b.material(t.upper, f"{key}.upper"),
        lower=b.material(t.lower, f"{key}.lower"),
        shoes=b.material(t.shoes, f"{key}.shoes"),
        bag=None if t.bag is None else b.material(t.bag, f"{key}.bag"),
        dark=b.material("rubber", key),
    )
    facing = t.facing_deg + (180.0 if back else 0.0)
    body = person_body(cloth, t.pose).placed(foot, facing, scale)
    b.add_body(t.name, replace(body, name=f"{t.name} body"), t.facing_deg, group=group)
    b.add_with_card(t.name, head_of(drawn), head_card(f"{t.name} head", drawn, group))


def add_sign(b: Builder, t: Sign) -> None:
    key = f"target.{t.name}"

    def board(material: str, part: str) -> int:
        layer = None if material == DARK_INK or t.sheeting == "none" else t.sheeting
        return b.material(material, f"{key}.{part}", layer)

    group = b.group(t.speed_kmh, t.heading_deg)
    background, ink = board(t.background, "background"), board(t.ink, "ink")
    b.add(t.name, [boards.sign_card(t, background, ink, group)])


def add_parcel(b: Builder, t: Parcel) -> None:
    key = f"target.{t.name}"
    b.add(
        t.name,
        boards.parcel_cards(
            t,
            b.material(t.material, f"{key}.material"),
            b.material(t.material, f"{key}.material", factor=PARCEL_SHADE),
            b.material("tape-brown", key),
            b.material("paper-white", key),
            b.material(t.label_ink, f"{key}.label_ink"),
            b.group(t.speed_kmh, t.heading_deg),
        ),
    )


Chart = GreyChart | ColourChart | StarChart | EdgeChart | ResolutionChart


def add_chart(b: Builder, t: Chart) -> None:
    key = f"target.{t.name}"
    if isinstance(t, GreyChart):
        steps = np.array([b.material(name, key) for name in charts.GREY_STEPS], dtype=np.uint8)
        texture = charts.grey_texture(steps, b.material("grey-18", key))
        aspect = charts.GREY_ASPECT
    elif isinstance(t, ColourChart):
        regions = np.array([b.material(name, key) for name in charts.PATCHES], dtype=np.uint8)
        texture = charts.colour_texture(regions, b.material("black-4", key))
        aspect = charts.COLOUR_ASPECT
    else:
        light, dark = b.material(t.light, f"{key}.light"), b.material(t.dark, f"{key}.dark")
        aspect = charts.SQUARE_ASPECT
        if isinstance(t, StarChart):
            texture = charts.star_texture(t.cycles, light, dark, b.material("grey-18", key))
        elif isinstance(t, EdgeChart):
            texture = charts.edge_texture(t.edge_deg, light, dark)
        else:
            texture = charts.resolution_texture(light, dark)
            aspect = charts.RESOLUTION_ASPECT
    card = upright_card(
        t.name,
        np.asarray(t.position_m),
        t.width_m,
        t.width_m / aspect,
        texture,
        facing_deg=t.facing_deg,
        tilt_deg=t.tilt_deg,
        group=b.group(t.speed_kmh, t.heading_deg),
    )
    b.add(t.name, [card])
