"""A viewing test: own viewers read random plates, and the person of the verdicts is fitted to them.

Plates at rest are pictured through the whole camera in steps of four kinds of trouble: noise, a
lens out of focus, few pixels, fog. A viewer types what stands there. Each character that is right
or wrong tells of two numbers of the person (`readers/template_reader`): the efficiency in noise,
and the noise in proportion to contrast, which says how soft a letter he reads. Their likelihood is
taken on a grid, with the person's share of each character read in `REPEATS` pictures of the same
plate, on a prior that lets both be anything likely:

    ln efficiency ~ N(ln 0.3, 1),   ln contrast noise ~ N(ln 0.65, 0.5)

The same number of plates and seed make the same plates, so that answers alone are kept.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.load import Camera
from simulator.judge.readers import PERSON, TemplateReader
from simulator.judge.readers.reader import laid_beside, true_symbols
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.readers.viewer import ReadingTable, ViewerModel, viewer
from simulator.judge.repeats import TextPictures, text_pictures
from simulator.judge.target import JudgedText
from simulator.judge.texts import random_texts
from simulator.plain import whole_number
from simulator.scene.load import Scene
from simulator.studies.session import open_session
from simulator.units import FloatArray

PLATES = 32
"""Plates that a viewer is shown unless said otherwise."""
REPEATS = 16
"""Pictures of each plate that the person is asked about."""
CAMERA = "fixed-2mp-lowlight"
DESIGNS = ("dark-on-white-520x110", "dark-on-yellow-520x110", "light-on-blue-440x140")
LAPSE = 0.01
"""Share of characters that anybody mistypes (assumed)."""
EFFICIENCIES = np.geomspace(0.03, 1.0, 7)
CONTRAST_NOISES = np.geomspace(0.3, 1.5, 5)
FINE = 41
"""Points a side of the grid on which the likelihood is summed."""
SPREADS = (1.0, 0.5)
"""Standard deviations of the logarithms in the prior (assumed)."""
ENLARGED = 4
"""Times that a picture is enlarged for the viewer, who may enlarge it further."""

Say = Callable[[str, float], None]


class TrialPlate(NamedTuple):
    """A plate of the test: its trouble in words, its pictures (the first is shown), its text."""

    trouble: str
    pictured: TextPictures

    @property
    def shown(self) -> NDArray[np.uint8]:
        """The picture that a viewer is given, enlarged."""
        picture = self.pictured.pictures[0]
        size = (picture.shape[1] * ENLARGED, picture.shape[0] * ENLARGED)
        return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_CUBIC))

    @property
    def text(self) -> str:
        """What stands there."""
        return self.pictured.text


@dataclass(frozen=True)
class FittedViewer:
    """What a test gave.

    Attributes
    ----------
    efficiency, contrast_noise
        Numbers of the viewers, each with its standard deviation.
    plates, plates_read
        How many plates were answered, and read whole.
    expected
        How many the person of the verdicts would have read.
    """

    efficiency: tuple[float, float]
    contrast_noise: tuple[float, float]
    plates: int
    plates_read: int
    expected: float

    def model(self, title: str) -> ViewerModel:
        """The viewers, for a viewer file."""
        reading = ReadingTable(efficiency=self.efficiency[0], contrast_noise=self.contrast_noise[0])
        return ViewerModel(title=title, plates_read=self.plates, reading=reading)


def trial_plates(count: int = PLATES, *, seed: int = 0, say: Say | None = None) -> list[TrialPlate]:
    """Plates for a viewing test.

    Parameters
    ----------
    count
        How many, at least 4.
    seed
        The same count and seed give the same plates.
    say
        Told about progress.

    Returns
    -------
    list of TrialPlate
        In random order.

    Raises
    ------
    InputError
        For fewer than 4 plates.

    References
    ----------
    Chosen by us.

    Examples
    --------
    >>> len(trial_plates(4, seed=1))
    4
    """
    count = whole_number(count, "plates", 4)
    rng = np.random.default_rng([seed, 7177])
    camera = Camera.load(CAMERA).set(
        {"sensor.width_px": 640, "sensor.height_px": 360, "exposure.metering": "centre"}
    )
    out = []
    for n in range(count):
        kind = TROUBLES[n % len(TROUBLES)]
        strength = (n // len(TROUBLES) + rng.random()) / -(-count // len(TROUBLES))
        conditions, tables, sets = kind(float(strength))
        scene = _scene(DESIGNS[int(rng.integers(len(DESIGNS)))], tables)
        out.append(
            TrialPlate(conditions, _pictured(scene, camera.set(sets), int(rng.integers(1 << 30))))
        )
        if say is not None:
            say("making the plates", (n + 1) / count)
    return [out[n] for n in rng.permutation(count)]


def _scene(design: str, tables: dict[str, Any]) -> Scene:
    distance = tables.pop("distance_m", 18.0)
    return Scene.from_dict(
        {
            "title": "Viewing test",
            "question": "What does the plate say?",
            "natural_light": {"illuminance_lux": tables.pop("lux", 2000.0)},
            "station": {"height_m": 1.0, "aim_m": [0.0, distance, 1.0],
                        "focus_m": tables.pop("focus_m", distance)},
            "target": [{"name": "plate", "kind": "plate", "text": "K2W8 R4D", "design": design,
                        "position_m": [0.0, distance, 1.0]}],
            "task": {"target": "plate"},
            **tables,
        },
        name="trial",
    )  # fmt: skip


def _between(low: float, high: float, strength: float) -> float:
    return float(low * (high / low) ** strength)


def _noise(strength: float) -> tuple[str, dict[str, Any], dict[str, Any]]:
    lux = _between(1.0, 0.2, strength)
    return f"noise, {lux:.2g} lx", {"lux": lux}, {"day_night.mode": "day"}


def _defocus(strength: float) -> tuple[str, dict[str, Any], dict[str, Any]]:
    focus = _between(4.2, 2.9, strength)
    return f"out of focus, set to {focus:.2g} m", {"focus_m": focus}, {}


def _few_pixels(strength: float) -> tuple[str, dict[str, Any], dict[str, Any]]:
    distance = _between(33.0, 50.0, strength)
    return f"few pixels, {distance:.0f} m", {"distance_m": distance}, {}


def _fog(strength: float) -> tuple[str, dict[str, Any], dict[str, Any]]:
    visibility = _between(90.0, 50.0, strength)
    air = {"visibility_m": visibility, "kind": "fog"}
    return f"fog, visibility {visibility:.0f} m", {"air": air}, {}


TROUBLES = (_noise, _defocus, _noise, _few_pixels, _noise, _fog)
"""In turn; noise, which most verdicts hang on, most often."""


def _pictured(scene: Scene, camera: Camera, seed: int) -> TextPictures:
    session = open_session(scene, camera, seed=seed % 100_000)
    target = session.target
    assert isinstance(target, JudgedText)
    text = random_texts(target, 1, seed)
    (pictured,) = text_pictures(
        session.in_scene, session.state, target, REPEATS, texts=text, seed=seed % 100_000
    )
    return pictured


def right_characters(plate: TrialPlate, answer: str) -> NDArray[np.bool_]:
    """Which characters (n,) of a plate an answer has right; spaces and small letters do not count,
    nor what distinguishes look-alikes (O and 0, I and 1)."""
    shapes, truth = design_shapes(plate.pictured.target.design), true_symbols(plate.pictured.target)
    known = {c: int(s) for c, s in zip(shapes.alphabet, shapes.symbols, strict=True)}
    read = [known[c] for c in answer.upper() if c in known]
    return np.array(laid_beside(read, truth.tolist())) == truth


def fit_viewer(
    plates: Sequence[TrialPlate], answers: Sequence[str], *, say: Say | None = None
) -> FittedViewer:
    """Fit the person to what viewers answered.

    Parameters
    ----------
    plates
        What they were shown.
    answers
        What they typed, one for each plate; empty where they could not tell.
    say
        Told about progress.

    Returns
    -------
    FittedViewer
        Means and standard deviations over the likelihood with the prior.

    References
    ----------
    Chosen by us.

    Examples
    --------
    >>> plates = trial_plates(4, seed=1)
    >>> fit_viewer(plates, [plate.text for plate in plates]).plates_read
    4
    """
    right = [right_characters(p, a) for p, a in zip(plates, answers, strict=True)]
    grid = np.empty((len(EFFICIENCIES), len(CONTRAST_NOISES)))
    for i, efficiency in enumerate(EFFICIENCIES):
        for k, noise in enumerate(CONTRAST_NOISES):
            reader = _keen(float(efficiency), float(noise))
            grid[i, k] = sum(
                _likelihood(_shares(plate, reader), hit)
                for plate, hit in zip(plates, right, strict=True)
            )
        if say is not None:
            say("fitting", (i + 1) / len(EFFICIENCIES))
    expected = sum(float(np.prod(_shares(plate, PERSON))) for plate in plates)
    return FittedViewer(
        *_moments(grid), len(plates), sum(bool(hit.all()) for hit in right), expected
    )


def _keen(efficiency: float, contrast_noise: float) -> TemplateReader:
    reading = ReadingTable(efficiency=efficiency, contrast_noise=contrast_noise)
    return viewer(ViewerModel(title="tried", reading=reading), PERSON)


def _shares(plate: TrialPlate, reader: TemplateReader) -> FloatArray:
    """Share of the pictures in which each character (n,) is read, never quite none or all."""
    one = plate.pictured
    read = reader.read(one.pictures, one.target, one.origin_px, seed=11)
    share = (read.sum(axis=0) + 0.1) / (len(read) + 0.2)
    return np.asarray(LAPSE / 2.0 + (1.0 - LAPSE) * share)


def _likelihood(shares: FloatArray, right: NDArray[np.bool_]) -> float:
    return float(np.log(np.where(right, shares, 1.0 - shares)).sum())


def _moments(grid: FloatArray) -> tuple[tuple[float, float], tuple[float, float]]:
    """Mean and standard deviation of both numbers, of a log likelihood on the grid."""
    from scipy.interpolate import RectBivariateSpline  # noqa: PLC0415

    x, y = np.log(EFFICIENCIES), np.log(CONTRAST_NOISES)
    fine_x, fine_y = (np.linspace(v[0], v[-1], FINE) for v in (x, y))
    surface = RectBivariateSpline(x, y, grid, kx=2, ky=2, s=len(x) * len(y) * 0.3)(fine_x, fine_y)
    middle = np.log([PERSON.efficiency, PERSON.contrast_noise])
    surface = surface - 0.5 * ((fine_x[:, None] - middle[0]) / SPREADS[0]) ** 2
    surface = surface - 0.5 * ((fine_y[None, :] - middle[1]) / SPREADS[1]) ** 2
    weight = np.exp(surface - surface.max())
    weight /= weight.sum()
    out = []
    for axis, values in ((1, fine_x), (0, fine_y)):
        share = weight.sum(axis=axis)
        mean = float((share * values).sum())
        spread = float(np.sqrt((share * (values - mean) ** 2).sum()))
        out.append((float(np.exp(mean)), float(np.exp(mean) * spread)))
    return out[0], out[1]
