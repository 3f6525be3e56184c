from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from pydantic import ValidationError

from simulator.errors import FileFormatError
from simulator.scene.build import build_world
from simulator.scene.geometry import CLEAR
from simulator.scene.materials import material, material_names
from simulator.scene.model_targets import Parcel, Sign
from simulator.scene.targets import charts
from simulator.scene.targets.boards import label_layout, sign_card, sign_design, sign_layout
from simulator.scene.targets.face import HEAD_M, STYLES, look_of
from simulator.scene.targets.glyphs import SIGN_ALPHABET, glyph_mask
from simulator.units import WAVELENGTH_NM

PLACE = [1.0, 12.0, 1.5]
KINDS = {
    "vehicle-front": {},
    "vehicle-rear": {"tail_lamps": "brake"},
    "vehicle-side": {},
    "face": {"skin": "dark", "glasses": True, "headwear": "cap"},
    "person": {"pose": "walking", "bag": "leather-brown", "headwear": "hood"},
    "sign": {"text": "NO ENTRY"},
    "parcel": {},
    "grey-chart": {},
    "colour-chart": {},
    "star-chart": {},
    "edge-chart": {},
    "resolution-chart": {},
}


def target(kind: str, **more) -> dict:
    return {"kind": kind, "name": "thing", "position_m": PLACE, **KINDS[kind], **more}


def sign(**more) -> Sign:
    return Sign.model_validate(target("sign", **more))


@pytest.mark.invariant
@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_builds_and_is_found_by_its_name(make_scene, kind):
    world = build_world(make_scene(target=[target(kind)]))
    assert world.targets["plate"] == [world.plates["plate"]]
    cards = [world.cards[i] for i in world.targets["thing"]]
    assert cards and all(card.name.startswith("thing") for card in cards)
    for card in cards:
        used = np.unique(card.texture[card.texture != CLEAR])
        assert used.size and used.max() < len(world.materials)
        assert np.linalg.norm(card.across) == pytest.approx(1.0)
        assert card.normal @ card.across == pytest.approx(0.0, abs=1e-12)


@pytest.mark.invariant
@pytest.mark.parametrize("kind", [k for k in KINDS if k != "vehicle-side"])
def test_all_cards_of_a_target_move_together(make_scene, kind):
    world = build_world(
        make_scene(target=[target(kind, speed_kmh=5.0, heading_deg=90.0, facing_deg=20.0)])
    )
    groups = {world.cards[i].group for i in world.targets["thing"]}
    assert len(groups) == 1
    assert world.velocities[groups.pop()] == pytest.approx([5.0 / 3.6, 0.0, 0.0], abs=1e-9)


@pytest.mark.by_hand
@pytest.mark.parametrize(("nose", "facing", "towards"), [
    ("left", 0.0, [-1, 0, 0]), ("right", 0.0, [1, 0, 0]), ("left", 90.0, [0, -1, 0]),
])  # fmt: skip
def test_a_side_drives_the_way_its_nose_points(make_scene, nose, facing, towards):
    # facing 90 looks to +x; one who looks at it from there, towards -x, has -y on the left
    world = build_world(
        make_scene(target=[target("vehicle-side", nose=nose, facing_deg=facing, speed_kmh=36.0)])
    )
    group = world.cards[world.targets["thing"][0]].group
    assert world.velocities[group] == pytest.approx(10.0 * np.array(towards), abs=1e-9)
    side = world.cards[world.targets["thing"][0]]
    # the nose end is where the body is lower: the bonnet
    filled = (side.texture != CLEAR).sum(axis=0)
    end = len(filled) // 5
    ends = filled[:end].mean(), filled[-end:].mean()
    nose_end = side.across if nose == "right" else -side.across
    assert nose_end == pytest.approx(towards, abs=1e-9)
    assert (ends[0] < ends[1]) == (nose == "left")


@pytest.mark.by_hand
def test_face_is_life_size_and_where_it_was_put(make_scene):
    world = build_world(make_scene(target=[target("face", variant=1, headwear="none")]))
    card = world.cards[world.targets["thing"][0]]
    skin = {i for i, m in enumerate(world.materials) if m.name.startswith("skin-dark")}
    rows = np.flatnonzero(np.isin(card.texture, list(skin)).any(axis=1))
    texel = card.height_m / card.texture.shape[0]
    crown = card.corner_m[2] - rows[0] * texel
    assert look_of(1, "dark").style == "bald"  # so the first skin is the crown
    assert crown == pytest.approx(1.5 + HEAD_M / 2.0, abs=0.003)
    eyes = card.texture[round((0.05 + 0.12) / texel)]
    wide = np.count_nonzero(eyes != CLEAR) * texel
    assert 0.14 < wide < 0.19  # with ears
    assert card.centre_m[:2] == pytest.approx([1.0, 12.0])


@pytest.mark.invariant
def test_variants_differ_and_repeat():
    evaluator = [look_of(v, "light") for v in range(40)]
    assert evaluator == [look_of(v, "light") for v in range(40)]
    assert len(set(evaluator)) == 40
    assert {look.style for look in evaluator} == set(STYLES)
    eyes = [look.eye_x for look in evaluator]
    assert max(eyes) - min(eyes) > 0.004


@pytest.mark.invariant
def test_face_has_its_parts_in_order(make_scene):
    """Brows over eyes over nostrils over mouth, the two sides alike."""
    world = build_world(
        make_scene(target=[target("face", variant=7, skin="light", headwear="none",
                                  glasses=False)])
    )  # fmt: skip
    card = world.cards[world.targets["thing"][0]]

    def rows(start: str):
        wanted = [i for i, m in enumerate(world.materials) if m.name.startswith(start)]
        mask = np.isin(card.texture, wanted)
        half = mask.shape[1] // 2
        return np.flatnonzero(mask.any(axis=1)), mask[:, :half].sum(), mask[:, half:].sum()

    eyes, left, right = rows("eye-white")
    lips, lips_left, lips_right = rows("lips")
    assert eyes.max() < lips.min()
    assert left == pytest.approx(right, rel=0.1)
    assert lips_left == pytest.approx(lips_right, rel=0.1)


@pytest.mark.by_hand
@pytest.mark.parametrize("height", [1.75, 1.4])
def test_person_stands_on_the_ground_and_is_as_tall_as_said(make_scene, height):
    look = look_of(1, "dark")
    assert look.style == "bald"
    scene = make_scene(
        target=[target("person", position_m=[0.0, 12.0, 0.0], height_m=height, variant=1,
                       skin="dark", headwear="none", pose="standing", bag=None)]
    )  # fmt: skip
    world = build_world(scene)
    body, head = (world.cards[i] for i in world.targets["thing"])

    def ends(card):
        rows = np.flatnonzero((card.texture != CLEAR).any(axis=1))
        texel = card.height_m / card.texture.shape[0]
        return card.corner_m[2] - rows[0] * texel, card.corner_m[2] - (rows[-1] + 1) * texel

    assert ends(body)[1] == pytest.approx(0.0, abs=0.01)
    assert ends(head)[0] == pytest.approx(height, abs=0.005)
    of = {mesh.card: mesh.bounds_m for mesh in world.meshes}
    trunk, skull = (of[i] for i in world.targets["thing"])
    assert skull[0, 2] < trunk[1, 2]  # the neck stands in the collar


@pytest.mark.invariant
def test_shade_materials_are_the_same_spectrum_scaled(make_scene):
    world = build_world(make_scene(target=[target("face", skin="medium")]))
    base = material("skin-medium").reflectance
    shades = [m for m in world.materials if m.name.startswith("skin-medium")]
    assert len(shades) == 3
    for shade in shades:
        assert np.ptp(shade.reflectance / base) < 1e-9


@pytest.mark.invariant
def test_too_many_materials_are_refused(make_scene):
    fabrics = ["cotton-black", "cotton-navy", "cotton-red", "cotton-green", "cotton-blue",
               "wool-grey", "denim-blue", "polyester-black", "leather-brown"]  # fmt: skip
    skins = ["very-light", "light", "medium", "dark", "very-dark"]
    hairs = ["hair-black", "hair-brown", "hair-blond", "hair-grey"]
    people = [
        target("person", name=f"p{i}", upper=fabrics[i % 9], lower=fabrics[(i + 1) % 9],
               shoes=fabrics[(i + 2) % 9], skin=skins[i % 5], hair=hairs[i % 4])
        for i in range(9)
    ]  # fmt: skip
    assert len(build_world(make_scene(target=people)).materials) < CLEAR
    boards = [
        target("sign", name=f"s{a}{sheeting}", background=a, ink=b, sheeting=sheeting)
        for a, b in zip(material_names()[::2], material_names()[1::2], strict=False)
        for sheeting in ("none", "type-iii")
    ]
    with pytest.raises(FileFormatError, match="too many materials"):
        build_world(make_scene(target=people + boards))


@pytest.mark.by_hand
def test_sign_layout():
    # characters 100 mm high, 62 wide, gap 16, space 55: "AB C" is 3 x 62 + 2 x 16 + 55 - 16 = 257,
    # margins 2 x (70 + 12): 421 mm wide; one row: 100 + 164 = 264 mm high
    board = sign(text="ab c", character_height_m=0.1)
    d = sign_design(board)
    assert (d.width_mm, d.height_mm) == pytest.approx((421.0, 264.0))
    cells = sign_layout(board)
    assert [c.character for c in cells] == list("ABC")
    assert [c.left_m * 1000 for c in cells] == pytest.approx([82.0, 160.0, 277.0])
    assert cells[0].top_m * 1000 == pytest.approx(82.0)
    # two rows: 100 + 55 + 100 apart by 155
    two = sign_layout(sign(text="A\nB"))
    assert (two[1].top_m - two[0].top_m) * 1000 == pytest.approx(155.0)


@pytest.mark.invariant
def test_ink_of_a_sign_is_where_its_cells_are():
    board = sign(text="DOCK 7/EXIT", border=False)
    texture = sign_card(board, 3, 7, 0).texture.copy()
    texel = sign_design(board).width_mm / texture.shape[1]
    for cell in sign_layout(board):
        top, left = cell.top_m * 1000 / texel, cell.left_m * 1000 / texel
        area = np.s_[
            int(top) : int(top + cell.height_m * 1000 / texel) + 2,
            int(left) : int(left + cell.width_m * 1000 / texel) + 2,
        ]
        assert np.any(texture[area] == 7)
        texture[area] = 3
    assert np.all(texture == 3)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("keys", "message"),
    [
        ({"text": "A€B"}, "no drawing"),
        ({"text": " / "}, "no drawing"),
        ({"text": "LONG TEXT", "width_m": 0.2}, "does not fit on the board"),
        ({"text": "A/B/C/D", "height_m": 0.2}, "does not fit on the board"),
    ],
)
def test_signs_that_cannot_be_drawn(keys, message):
    with pytest.raises(FileFormatError, match=message) as caught:
        sign_layout(sign(**keys))
    assert caught.value.key == "target.thing.text"


@pytest.mark.invariant
@pytest.mark.parametrize("character", SIGN_ALPHABET)
def test_every_sign_character_has_ink_inside_its_cell(character):
    mask = glyph_mask(character, 100.0, 62.0, 14.0, 1.75)
    assert 0.0 < mask.mean() < 0.75


@pytest.mark.invariant
def test_sheeting_of_a_sign_takes_the_colour_of_its_layer(make_scene):
    keys = {"background": "sign-blue", "ink": "sign-white", "sheeting": "type-xi"}
    world = build_world(make_scene(target=[target("sign", **keys)]))
    used = world.cards[world.targets["thing"][0]].texture
    layers = {world.materials[i].sheeting for i in np.unique(used)}
    assert layers == {"type-xi-blue", "type-xi"}
    plain = build_world(make_scene(target=[target("sign")]))
    used = plain.cards[plain.targets["thing"][0]].texture
    assert {plain.materials[i].sheeting for i in np.unique(used)} == {None}


@pytest.mark.invariant
def test_parcel_faces_meet_and_label_must_fit(make_scene):
    world = build_world(make_scene(target=[target("parcel", facing_deg=30.0)]))
    front, top, left, right = (world.cards[i] for i in world.targets["thing"])
    assert top.normal == pytest.approx([0.0, 0.0, 1.0], abs=1e-12)
    assert top.corners_m[2:] == pytest.approx(front.corners_m[1::-1])
    assert left.normal == pytest.approx(-front.across)
    assert right.normal == pytest.approx(front.across)
    assert front.corners_m[2:, 2] == pytest.approx([1.5, 1.5])
    box = Parcel.model_validate(target("parcel", character_height_m=0.1))
    with pytest.raises(FileFormatError, match="label does not fit"):
        label_layout(box)
    inside = label_layout(Parcel.model_validate(target("parcel")))
    assert min(c.left_m for c in inside) > 0.0


@pytest.mark.by_hand
def test_rear_lamps_are_red_and_as_bright_as_said(make_scene):
    off = build_world(make_scene(target=[target("vehicle-rear", tail_lamps="off")]))
    on = build_world(make_scene(target=[target("vehicle-rear", tail_lamps="tail")]))
    lamps = [x for x in on.lights if x.name.startswith("thing")]
    assert len(lamps) == len(on.emitters) - len(off.emitters) == 2
    for lamp in lamps:
        assert 4.0 <= lamp.intensity_cd <= 17.0
        assert lamp.spectrum.basis == "lux"
        assert WAVELENGTH_NM[lamp.spectrum.power.argmax()] == 630.0
        assert lamp.direction == pytest.approx([0.0, -1.0, 0.0])


@pytest.mark.invariant
def test_a_rear_carries_its_plate(make_scene):
    rear = {"kind": "vehicle-rear", "name": "rear", "carries": "plate"}
    world = build_world(make_scene(plate={"speed_kmh": 9.0, "heading_deg": 180.0}, target=[rear]))
    body = world.cards[world.targets["rear"][0]]
    plate = world.cards[world.plates["plate"]]
    assert body.group == plate.group > 0
    assert (plate.centre_m - body.corner_m) @ body.normal == pytest.approx(0.02)
    with pytest.raises(ValidationError, match="is not a plate"):
        make_scene(target=[{**rear, "carries": "other"}])
    with pytest.raises(ValidationError, match="exactly one"):
        make_scene(target=[{**rear, "position_m": PLACE}])


@pytest.mark.by_hand
def test_star_has_its_cycles():
    # along a circle of half the radius the texture changes 2 x 36 times
    texture = charts.star_texture(36, 1, 2, 3, size=1200)
    angle = np.linspace(0.0, 2.0 * np.pi, 20_000, endpoint=False)
    x = (600 + 300 * np.cos(angle)).astype(int)
    y = (600 + 300 * np.sin(angle)).astype(int)
    changes = np.count_nonzero(np.diff(texture[y, x], append=texture[y[0], x[0]]))
    # a circle on a raster may step back over an edge: count the middle of sectors instead
    middle = 2.0 * np.pi * (np.arange(72) + 0.5) / 72
    values = texture[(600 + 300 * np.sin(middle)).astype(int),
                     (600 + 300 * np.cos(middle)).astype(int)]  # fmt: skip
    assert changes >= 72
    assert set(values[::2]) == {1} and set(values[1::2]) == {2}


@pytest.mark.by_hand
def test_edge_chart_is_turned_as_said():
    texture = charts.edge_texture(5.0, 0, 1, size=2000)
    assert texture.mean() == pytest.approx(0.25, abs=1e-3)
    # the left edge moves by tan 5 degrees a row, 200 rows each way from the middle
    first = [np.flatnonzero(texture[row])[0] for row in (800, 1200)]
    assert (first[0] - first[1]) / 400 == pytest.approx(-np.tan(np.radians(5.0)) * -1, abs=0.01)


@pytest.mark.by_hand
def test_bars_of_the_resolution_chart_are_as_wide_as_their_number_says():
    texture = charts.resolution_texture(0, 1)
    assert texture.shape == (3000, 4000)
    for i, lines in enumerate(charts.BAR_LINES):
        column, row = divmod(i, 5)
        line = texture[160 + row * 560 + 340, 140 + column * 1130 :]
        ink = np.flatnonzero(np.diff(line[:400].astype(int)))
        widths = np.diff(ink)[: 2 * 3]
        assert np.all(widths == 3000 // lines), lines


def grey_boxes():
    """Places (x0, y0, x1, y1) of the upper row's steps as shares of width and height."""
    edges = np.linspace(20, 580, len(charts.GREY_STEPS) + 1) / 600.0
    return [(float(a), 0.1, float(b), 0.48) for a, b in pairwise(edges)]


def colour_boxes():
    """Places (x0, y0, x1, y1) of the patches as shares of width and height, row by row."""
    return [
        ((c + 0.06) / 6.0, (r + 0.06) / 4.0, (c + 0.94) / 6.0, (r + 0.94) / 4.0)
        for r in range(4)
        for c in range(6)
    ]


@pytest.mark.invariant
def test_boxes_of_charts_lie_on_their_patches():
    grey = charts.grey_texture(np.arange(1, 13, dtype=np.uint8), 99)
    colour = charts.colour_texture(np.arange(1, 25, dtype=np.uint8), 99)
    for texture, boxes in ((grey, grey_boxes()), (colour, colour_boxes())):
        rows, columns = texture.shape
        for number, (x0, y0, x1, y1) in enumerate(boxes, 1):
            area = texture[
                round(y0 * rows) + 1 : round(y1 * rows) - 1,
                round(x0 * columns) + 1 : round(x1 * columns) - 1,
            ]
            assert np.all(area == number)


@pytest.mark.invariant
def test_grey_steps_rise_evenly():
    levels = np.array([material(name).reflectance[170] for name in charts.GREY_STEPS])
    ratio = levels[1:] / levels[:-1]
    assert np.all((ratio > 1.2) & (ratio < 1.55))
