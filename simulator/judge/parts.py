"""What of a target a task looks at, and how large that is in the picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simulator.camera.in_scene import CameraInScene
from simulator.judge.silhouette import Silhouette
from simulator.judge.target import JudgedTarget, card_grid, opaque_corners_m, polygon_area
from simulator.scene.model_targets import Face, Person

BY_PARTS = ("recognise", "identify")
"""Tasks that an outline alone does not serve where the target is a person."""
FACE_WIDTH_M = 0.16
OPAQUE_GRID = 64


def judged_part(in_scene: CameraInScene, target: JudgedTarget, task: str) -> JudgedTarget:
    """What of a target a task looks at: a person is known by the head, all else as a whole."""
    if task not in BY_PARTS or not isinstance(target.entry, Person):
        return target
    head = target.indices[-1]
    card = in_scene.world.cards[head]
    low = np.floor(in_scene.view.project(opaque_corners_m(card))[0].min(axis=0)).astype(int)
    high = np.ceil(in_scene.view.project(opaque_corners_m(card))[0].max(axis=0)).astype(int)
    low = np.clip(low, 0, [in_scene.view.width_px, in_scene.view.height_px])
    high = np.clip(high, 0, [in_scene.view.width_px, in_scene.view.height_px])
    return replace(
        target,
        card=card,
        card_index=head,
        indices=(head,),
        corners_px=in_scene.view.project(card.corners_m)[0],
        box_px=(int(low[0]), int(low[1]), int(high[0]), int(high[1])),
        depth_m=float(in_scene.view.project(card.centre_m)[1]),
        distance_m=float(np.linalg.norm(in_scene.view.position_m - card.centre_m)),
    )


def critical_px(in_scene: CameraInScene, target: JudgedTarget, silhouette: Silhouette) -> float:
    """Critical dimension of a target in the picture [px], foreshortening included.

    Faces and heads of persons: a width of 0.16 m. Whole persons: the square root of height times
    width of the figure. Others: the square root of the card's area. What is hidden or cut off
    counts as missing area.
    """
    card = target.card
    person = isinstance(target.entry, Person)
    if isinstance(target.entry, Face) or (person and len(target.indices) == 1):
        half = card.across * FACE_WIDTH_M / 2.0
        ends = in_scene.view.project(np.stack([card.centre_m - half, card.centre_m + half]))[0]
        whole = float(np.linalg.norm(ends[1] - ends[0]))
    elif person:
        points = np.concatenate(
            [card_grid(in_scene.world.cards[i], OPAQUE_GRID) for i in target.indices]
        )
        wide, high = np.ptp(in_scene.view.project(points)[0], axis=0)
        whole = float(np.sqrt(wide * high))
    else:
        whole = float(np.sqrt(polygon_area(target.corners_px)))
    return whole * float(np.sqrt(min(1.0, silhouette.area_px / opaque_px(in_scene, target))))


def opaque_px(in_scene: CameraInScene, target: JudgedTarget) -> float:
    """Area that the opaque parts of the target's cards would cover unhidden [px^2]."""
    total = 0.0
    for i in target.indices:
        card = in_scene.world.cards[i]
        if float((in_scene.view.position_m - card.centre_m) @ card.normal) > 0.0:
            share = len(card_grid(card, OPAQUE_GRID)) / OPAQUE_GRID**2
            total += share * polygon_area(in_scene.view.project(card.corners_m)[0])
    return max(total, 1e-9)


def faceless(target: JudgedTarget) -> bool:
    """Whether a target is a person seen from behind."""
    return isinstance(target.entry, Person) and target.entry.seen_from == "back"
