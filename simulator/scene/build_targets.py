"""People, signs, parcels and charts: from the scene file to cards."""

from __future__ import annotations

import numpy as np

from simulator.scene.builder import Builder
from simulator.scene.geometry import Card, upright_card
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
from simulator.scene.targets import boards, charts, face, person

DARK_INK = "ink-carbon"
"""Opaque print: what lies under it does not retroreflect."""
PARCEL_SHADE = 0.7


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
    drawn = face.DrawnHead(
        look, _face_materials(b, t, look), t.glasses, t.headwear, back=False, collar=True
    )
    b.heads[t.name] = drawn
    texture = face.head_texture(drawn)
    # the card reaches further below the middle of the head than above it
    lower = (face.CARD_BELOW_M - face.CARD_ABOVE_M) / 2.0
    card = upright_card(
        t.name,
        np.asarray(t.position_m),
        face.CARD_WIDTH_M,
        face.CARD_HEIGHT_M,
        texture,
        facing_deg=t.facing_deg,
        tilt_deg=t.tilt_deg,
        group=group,
    )
    moved = Card(**{**vars(card), "corner_m": card.corner_m + card.down * lower})
    b.add(t.name, [moved])


def add_person(b: Builder, t: Person) -> None:
    key = f"target.{t.name}"
    look = face.look_of(t.variant, t.skin)
    cloth = person.ClothMaterials(
        upper=b.shades(t.upper, f"{key}.upper", face.CLOTH_SHADES),
        lower=b.shades(t.lower, f"{key}.lower", face.CLOTH_SHADES),
        shoes=b.shades(t.shoes, f"{key}.shoes", face.CLOTH_SHADES),
        bag=None if t.bag is None else b.shades(t.bag, f"{key}.bag", face.CLOTH_SHADES),
    )
    drawn = face.DrawnHead(
        look,
        _face_materials(b, t, look),
        t.glasses,
        t.headwear,
        back=t.seen_from == "back",
        collar=False,
    )
    b.heads[t.name] = drawn
    b.add(
        t.name,
        person.person_cards(
            t.name,
            np.asarray(t.position_m),
            t.facing_deg,
            t.height_m,
            drawn,
            cloth,
            b.group(t.speed_kmh, t.heading_deg),
            pose=t.pose,
        ),
    )


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
