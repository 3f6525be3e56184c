"""The face proper within a head, and how much of its drawing a picture keeps.

What tells one face from another lies between brows and chin: an oval of the head, without hair,
cap, ears and neck. Where it runs over white or into black its drawing is gone, however large the
face, so that what is kept is judged apart from size and contrast. With q the light of the face and
p its picture, both less their local mean and as fine as `FINEST_CYCLES` cycles a face width, it is
the squared correlation

    k = cov(p, q)^2 / (var(p) var(q)),

1 where the picture follows the light in proportion, and the share of the variance of q that is left
where parts are blank. The chance to know the face has the odds (k / (1 - k))^`KEPT_STEEPNESS`, in
units of those at `HALF_KEPT`, where half of the faces are known: all of a drawing leaves no doubt,
none of it no chance. Both numbers are assumed: viewers know faces of which a good part is covered,
and less surely so (glasses, masks), but no published figure for faces run over white was found.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.judge.local_mean import detail, smooth
from simulator.judge.parts import BY_PARTS, faceless
from simulator.judge.silhouette import Silhouette
from simulator.judge.target import JudgedTarget
from simulator.scene.model_targets import Face, Person
from simulator.scene.targets.head import CARD_ABOVE_M, CARD_HEIGHT_M, CARD_WIDTH_M
from simulator.units import Image

OVAL_MIDDLE_M, OVAL_HALF_M = (0.0, 0.158), (0.062, 0.074)
"""Middle and half axes, across and down from the crown, of the oval from the brows to the chin of a
head 0.24 m high [m] (as our heads are drawn)."""
FINEST_CYCLES = 12.0
"""Fineness that is compared: faces are known by 8 to 12 cycles a face width (Nasanen 1999; Gold,
Bennett and Sekuler 1999; from memory)."""
HALF_KEPT = {"recognise": 0.25, "identify": 0.4}
KEPT_STEEPNESS = 2.0
LEAST_FACE_PX = 12
EVEN = 1e-4
"""A face whose detail has no more than this contrast is even: the last digits of its numbers."""


def face_area(target: JudgedTarget, silhouette: Silhouette) -> NDArray[np.bool_]:
    """Pixels (rows, columns) of the silhouette's window that show the oval of a head's card."""
    x0, y0, x1, y1 = silhouette.window_px
    across, down = CARD_WIDTH_M, CARD_HEIGHT_M
    card = np.array([[0, 0], [across, 0], [across, down], [0, down]], dtype=np.float32)
    to_card = cv2.getPerspectiveTransform(target.corners_px.astype(np.float32), card)
    columns, rows = np.meshgrid(np.arange(x0, x1) + 0.5, np.arange(y0, y1) + 0.5)
    places = np.stack([columns, rows, np.ones_like(rows)], axis=-1) @ to_card.T
    x = places[..., 0] / places[..., 2] - across / 2.0 - OVAL_MIDDLE_M[0]
    y = places[..., 1] / places[..., 2] - CARD_ABOVE_M - OVAL_MIDDLE_M[1]
    oval = (x / OVAL_HALF_M[0]) ** 2 + (y / OVAL_HALF_M[1]) ** 2 < 1.0
    return np.asarray(oval & silhouette.inside)


def known_by(target: JudgedTarget, silhouette: Silhouette, task: str) -> NDArray[np.bool_] | None:
    """Pixels (rows, columns) of the face by which a person is to be known; None for any other task
    and target, and where there is no face to see."""
    by_face = task in BY_PARTS and isinstance(target.entry, Face | Person)
    if by_face and not faceless(target):
        face = face_area(target, silhouette)
        # a head of few pixels has no oval
        if np.count_nonzero(face) >= LEAST_FACE_PX:
            return face
    return None


def kept_share(
    pictures: Image, light: Image, area: NDArray[np.bool_], critical: float, local: float
) -> float:
    """Share k of a face's drawing that pictures keep, 0 to 1.

    Parameters
    ----------
    pictures
        Luminance on the display (n, rows, columns), noisy repetitions, n >= 2, any unit.
    light
        Light of the face (rows, columns), any unit.
    area
        Pixels (rows, columns) of the face.
    critical
        Width of the face [px].
    local
        Standard deviation of the Gaussian that weighs the local mean [px].
    """
    if np.count_nonzero(area) < 2:
        return 0.0
    # the Gaussian that passes half of the contrast at the finest detail
    fine = critical / FINEST_CYCLES * np.sqrt(np.log(2.0) / 2.0) / np.pi

    def drawing(picture: Image) -> Image:
        soft = smooth(picture, float(fine)) if fine > 0.3 else picture
        return detail(soft, area, local)[area].astype(np.float64)

    one, other = (drawing(pictures[k::2].mean(axis=0)) for k in (0, 1))
    q = drawing((light / max(float(light[area].mean()), 1e-12)).astype(np.float32))
    # noise of one half is not that of the other
    power = float(np.cov(one, other)[0, 1])
    least = (EVEN * float(pictures[:, area].mean())) ** 2
    if power <= least or not np.any(q):
        # nothing but noise, or an even face
        return 0.0
    both = float(np.cov(0.5 * (one + other), q)[0, 1])
    return float(min(1.0, both**2 / (power * q.var(ddof=1))))


def kept_probability(kept: float, task: str) -> float:
    """Factor on the probability of a task where so much of a face's drawing is kept."""
    if kept >= 1.0:
        return 1.0
    half = HALF_KEPT[task]
    odds = (kept / (1.0 - kept) * (1.0 - half) / half) ** KEPT_STEEPNESS
    return float(odds / (1.0 + odds))
