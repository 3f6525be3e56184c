"""How much of a face's drawing a picture keeps, and what that leaves of the chance to know it."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.judge.face_detail import HALF_KEPT, face_area, kept_probability, kept_share
from simulator.judge.local_mean import detail
from simulator.scene.targets.head import CARD_ABOVE_M, CARD_HEIGHT_M, CARD_WIDTH_M

SIZE = 96


@pytest.fixture(scope="module")
def drawn():
    """A face's light: soft random marks on an even ground (rows, columns), and its area."""
    import cv2

    rng = np.random.default_rng(3)
    marks = cv2.GaussianBlur(rng.standard_normal((SIZE, SIZE)).astype(np.float32), (0, 0), 4.0)
    y, x = np.mgrid[:SIZE, :SIZE]
    area = np.hypot(x - SIZE / 2, y - SIZE / 2) < 0.4 * SIZE
    return np.asarray(1.0 + 0.2 * marks / marks.std(), np.float32), area


def share(pictures, light, area):
    return kept_share(np.stack([*pictures]).astype(np.float32), light, area, SIZE, SIZE / 4)


@pytest.mark.invariant
def test_a_picture_in_proportion_keeps_all_at_any_brightness_and_contrast(drawn):
    light, area = drawn
    for picture in (light, 0.01 * light, 0.4 + 0.05 * light):
        assert share([picture] * 2, light, area) == pytest.approx(1.0, abs=0.01)


@pytest.mark.invariant
def test_noise_does_not_count_as_loss(drawn):
    light, area = drawn
    rng = np.random.default_rng(5)
    noisy = [light + 0.1 * rng.standard_normal(light.shape) for _ in range(12)]
    assert share(noisy, light, area) == pytest.approx(1.0, abs=0.03)


@pytest.mark.by_hand
def test_blank_parts_take_their_share_of_the_drawing(drawn):
    # with the right half blank, what is left of the variance is that of the left half
    light, area = drawn
    blank = light.copy()
    blank[:, SIZE // 2 :] = light.mean()
    power = detail(light, area, SIZE / 4) ** 2 * area
    left = power[:, : SIZE // 2].sum() / power.sum()
    assert 0.3 < left < 0.7
    assert share([blank] * 2, light, area) == pytest.approx(left, abs=0.05)
    white = np.minimum(light, np.float32(np.quantile(light[area], 0.1)))
    assert share([white] * 2, light, area) < 0.5


@pytest.mark.invariant
def test_an_even_picture_keeps_nothing(drawn):
    light, area = drawn
    even = np.full_like(light, 0.7)
    assert share([even] * 2, light, area) == 0.0


@pytest.mark.by_hand
@pytest.mark.parametrize("task", ["recognise", "identify"])
def test_half_of_the_faces_at_the_half_point(task):
    half = HALF_KEPT[task]
    assert kept_probability(half, task) == pytest.approx(0.5)
    assert kept_probability(1.0, task) == 1.0
    assert kept_probability(0.0, task) == 0.0
    # twice the odds of what is kept over what is lost, four times the odds of the chance
    kept = 2 * half / (1 - half) / (1 + 2 * half / (1 - half))
    assert kept_probability(kept, task) == pytest.approx(0.8)


@pytest.mark.invariant
def test_the_oval_lies_between_brows_and_chin():
    """In a head's card seen straight on at 1000 px/m, the oval is found where heads are drawn."""
    from types import SimpleNamespace

    wide, high = round(1000 * CARD_WIDTH_M), round(1000 * CARD_HEIGHT_M)
    corners = np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]])
    silhouette = SimpleNamespace(window_px=(0, 0, wide, high), inside=np.ones((high, wide), bool))
    area = face_area(SimpleNamespace(corners_px=corners), silhouette)
    rows, columns = np.nonzero(area)
    crown = 1000 * CARD_ABOVE_M
    assert 70 < rows.min() - crown < 100 and 225 < rows.max() - crown < 240
    assert columns.min() + columns.max() == pytest.approx(wide - 1, abs=1)
    assert np.ptp(columns) + 1 == pytest.approx(124, abs=2)
