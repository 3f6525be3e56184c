"""Dirt on plates and paint: a mean of two surfaces by area."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.scene import build_world
from simulator.scene.materials import DIRT, material

PLATE = {"name": "it", "kind": "plate", "text": "T8Z4 R6V", "position_m": [0.0, 8.0, 0.5]}


def plate_of(world):
    """The plate's card, and the materials that it shows with their shares of its area."""
    card = next(card for card in world.cards if card.name == "it")
    shown, many = np.unique(card.texture, return_counts=True)
    return card, [world.materials[k] for k in shown], many / many.sum()


@pytest.mark.by_hand
def test_dirt_hides_its_share_of_a_plate(make_scene) -> None:
    """The mean reflectance over a plate is that of the clean one and of soil, by area."""
    soil = material(DIRT).reflectance
    means = []
    for share in (0.0, 0.3):
        _, shown, area = plate_of(build_world(make_scene(target=[{**PLATE, "dirt_share": share}])))
        means.append(sum(a * m.reflectance for a, m in zip(area, shown, strict=True)))
        assert sum(a * m.soiling for a, m in zip(area, shown, strict=True)) == pytest.approx(
            share, abs=0.01
        )
    # dirt lies in patches, characters do not: both together differ from the mean of each a little
    assert means[1] == pytest.approx(0.7 * means[0] + 0.3 * soil, abs=0.01)


@pytest.mark.by_hand
def test_what_is_sent_back_falls_with_the_clean_share(make_scene, make_in_scene) -> None:
    """Sheeting under opaque dirt returns light from the clean share alone."""
    back = []
    for share in (0.0, 0.4):
        scene = make_scene(target=[{**PLATE, "dirt_share": share}], lamp=[{
            "name": "own", "spectrum": "led-4000k", "intensity_cd": 50.0, "beam_deg": 30.0,
            "position_m": [0.0, 0.0, 2.0], "aim_m": [0.0, 8.0, 0.5],
        }])  # fmt: skip
        here = make_in_scene(scene)
        lights = here.lights("day")
        lamp = next(k for k, one in enumerate(here.world.lights) if one.owner == "own")
        _, _, area = plate_of(here.world)
        card = next(card for card in here.world.cards if card.name == "it")
        index = np.unique(card.texture)
        # of the ink nothing comes back; of the rest each level of dirt lets its share
        white = [k for k in index if here.world.materials[k].sheeting is not None]
        many = np.array([np.mean(card.texture == k) for k in white])
        back.append(float((many * lights.retro[lamp, white, 1]).sum() / many.sum()))
        assert area.sum() == pytest.approx(1.0)
    assert back[1] / back[0] == pytest.approx(0.6, abs=0.01)


@pytest.mark.invariant
def test_patches_belong_to_the_plate_and_not_to_its_text(make_scene) -> None:
    cards = [
        plate_of(build_world(make_scene(target=[{**PLATE, "text": t, "dirt_share": 0.3}])))
        for t in ("T8Z4 R6V", "K3P1 W5N")
    ]
    soiled = [
        np.array([m.soiling for m in build_world(make_scene(target=[{
            **PLATE, "text": t, "dirt_share": 0.3}])).materials])[card.texture]
        for t, (card, *_) in zip(("T8Z4 R6V", "K3P1 W5N"), cards, strict=True)
    ]  # fmt: skip
    assert np.array_equal(*soiled)


@pytest.mark.invariant
def test_a_dirty_car_is_duller_and_its_windows_are_clean(make_scene) -> None:
    car = {"name": "car", "kind": "vehicle-front", "style": "car", "position_m": [0, 12, 0],
           "paint": "car-red", "dirt_share": 0.4}  # fmt: skip
    world = build_world(make_scene(target=[car]))
    soiling = {m.name: m.soiling for m in world.materials}
    assert soiling[material("car-red").name] == 0.4
    assert soiling[material("glass-vehicle").name] == 0.0
