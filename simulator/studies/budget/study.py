"""A light budget: one pixel of the target, from what lights it to the level on the display."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from simulator.camera.auto_exposure import State
from simulator.camera.colour_path import LUMA, MONO
from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.camera.sensor_readout import (
    Readout,
    dark_electrons_per_s,
    full_well_e,
    read_noise_e,
    without_dark_level,
)
from simulator.camera.stray_light import add_glare
from simulator.camera.tone import encode_tone, tone_of
from simulator.judge.trials import quick_stray_light
from simulator.scene.air import add_air
from simulator.scene.load import Scene
from simulator.studies.budget.chain import CHANNELS, Chain, chain_of, optics_at
from simulator.studies.budget.falling import ask, exposed_lights, falling
from simulator.studies.budget.place import Place, even_place
from simulator.studies.session import Session, open_session
from simulator.units import FloatArray

PICTURES = 8
"""Delivered pictures of whose level the mean is told."""
GLOW_CELL_PX = 2.0
MOST_ROOM_PX, NEAR_PX = 200_000, 96
"""Of a target with more pixels around it, only what lies so near the pixel is rendered: sharpening,
noise reduction and the lens reach less far (chosen by us)."""


class Noise(NamedTuple):
    """One term of the noise of a pixel.

    `name` identifies it; `electrons` its standard deviation [e-]; `temporal` whether it differs
    from picture to picture.
    """

    name: str
    electrons: float
    temporal: bool


@dataclass(frozen=True)
class Added:
    """Light in the pixel that the target did not send there, (3,) by channel [e-].

    Attributes
    ----------
    air
        Light that the air before the target scatters into the lens, and of lamps in it.
    stray
        Light from elsewhere in the picture that lens and cover scatter.
    neighbours
        What blur and movement bring from beside the pixel, less what they take; blooming too.
    """

    air: FloatArray
    stray: FloatArray
    neighbours: FloatArray


@dataclass(frozen=True)
class Level:
    """From electrons to the display.

    Attributes
    ----------
    channel
        Channel of the pixel that is followed.
    dark_electrons
        Mean dark signal of the exposure [e-].
    dn_per_e, black_dn, white_dn
        System gain K, black and white [DN, DN/e-].
    digital_number
        Mean digital number [DN].
    full_well_e
        Saturation capacity [e-].
    share_of_white
        Balanced linear level of the picture there, 1 is white.
    display_level
        8-bit level that the tone curve makes of it; None with a tone map, whose curve follows the
        whole picture.
    delivered_level
        8-bit luma in delivered pictures, their mean.
    """

    channel: str
    dark_electrons: float
    dn_per_e: float
    black_dn: float
    white_dn: float
    digital_number: float
    full_well_e: float
    share_of_white: float
    display_level: float | None
    delivered_level: float


@dataclass(frozen=True)
class LightBudget:
    """The light budget of a scene's target.

    Attributes
    ----------
    scene, camera, seed
        What was looked at.
    place
        The pixel that is followed.
    material
        Name of its material.
    state
        What the camera settled on.
    chains
        Every light, directly and bounced, the strongest first.
    added
        Light that did not come from the target.
    rendered
        Electrons of the same pixel in the rendered picture, (3,) by channel [e-].
    noise
        Terms of the noise, temporal ones first.
    level
        Digital number and display.
    """

    scene: Scene
    camera: Camera
    seed: int
    place: Place
    material: str
    state: State
    chains: tuple[Chain, ...]
    added: Added
    rendered: FloatArray
    noise: tuple[Noise, ...]
    level: Level

    @property
    def channel(self) -> int:
        """Number of the channel that is told: 0 red, 1 green, 2 blue."""
        return CHANNELS.index(self.level.channel)

    @property
    def electrons(self) -> FloatArray:
        """Electrons (3,) by channel that the factors give, with the light of air and lens: what
        `rendered` is to be, but for blur and movement."""
        return self.from_target + self.added.air + self.added.stray

    @property
    def from_target(self) -> FloatArray:
        """Electrons (3,) by channel that the product of the factors gives, of all lights."""
        return np.sum([chain.electrons for chain in self.chains], axis=0) + np.zeros(3)

    @property
    def signal(self) -> float:
        """Mean electrons of light in the pixel [e-]."""
        return float(self.rendered[self.channel])

    @property
    def temporal_noise(self) -> float:
        """Standard deviation from picture to picture [e-]."""
        return math.sqrt(sum(one.electrons**2 for one in self.noise if one.temporal))

    @property
    def snr_db(self) -> float:
        """Signal over temporal noise, 20 log10; minus infinity without a signal [dB]."""
        return (
            20.0 * math.log10(self.signal / self.temporal_noise) if self.signal > 0 else -math.inf
        )


def light_budget(scene: Scene, camera: Camera, *, seed: int = 0) -> LightBudget:
    """Follow the light of the target's steadiest pixel through the camera.

    Parameters
    ----------
    scene, camera
        What stands there, and what looks at it.
    seed
        Steers the noise of the delivered pictures; nothing else is random.

    Raises
    ------
    InputError
        For a target that cannot be seen, or a scene without light.
    """
    return budget_of(open_session(scene, camera, seed=seed))


def budget_of(session: Session) -> LightBudget:
    """The light budget of a session's target."""
    in_scene, state = session.in_scene, session.state
    place = even_place(in_scene, session.part, state.exposure.shutter_s)
    x0, y0, x1, y1 = session.target.box_px
    if (x1 - x0) * (y1 - y0) > MOST_ROOM_PX:
        session = session.near(place.pixel, NEAR_PX)
    optics = optics_at(in_scene, state, place)
    asked = ask(in_scene, state, place, optics.fall_off)
    grain = asked.grain()
    chains = [chain_of(asked, state, optics, one, grain) for one in falling(asked)]
    chains.sort(key=lambda chain: -float(chain.electrons.sum()))
    air, stray = _air(in_scene, state, place), _stray(in_scene, state, place)
    electrons = np.sum([chain.electrons for chain in chains], axis=0) + air + stray
    rendered = _rendered(session, place)
    channel = "green"  # every second pixel is green
    return LightBudget(
        session.scene, session.camera, session.seed, place,
        in_scene.world.materials[place.material].name, state, tuple(chains),
        Added(air, stray, rendered - electrons), rendered,
        noise_terms(float(rendered[CHANNELS.index(channel)]), in_scene, state),
        _level(session, place, rendered, channel),
    )  # fmt: skip


def _air(in_scene: CameraInScene, state: State, place: Place) -> FloatArray:
    """Electrons (3,) of the air before the target, stray light's share taken off."""
    air = in_scene.air(state.mode)
    if air is None:
        return np.zeros(3)
    shape = (place.sampling.rows, place.sampling.columns)
    rate = np.zeros((*shape, 3), np.float32)
    depth = in_scene.view.project(place.point_m[None])[1]
    add_air(
        rate, np.full(shape, depth[0], np.float32), place.sampling, air, in_scene.packed_view,
        exposed_lights(in_scene, state), GLOW_CELL_PX,
    )  # fmt: skip
    kept = state.exposure.shutter_s * (1.0 - in_scene.stray_share)
    return np.asarray(rate[1, 1], dtype=np.float64) * kept


def _stray(in_scene: CameraInScene, state: State, place: Place) -> FloatArray:
    """Electrons (3,) of light that lens and cover scatter onto the pixel."""
    sensor = in_scene.camera.sensor
    there = add_glare(
        np.zeros((1, 1, 3), np.float32), quick_stray_light(in_scene, state), in_scene.stray_share,
        place.pixel, (sensor.width_px, sensor.height_px),
    )  # fmt: skip
    return np.asarray(there[0, 0], dtype=np.float64) * state.exposure.shutter_s


def _rendered(session: Session, place: Place) -> FloatArray:
    """Electrons (3,) of the pixel in the rendered picture."""
    light = session.electrons()
    x0, y0 = light.box_px[:2]
    return np.asarray(light.electrons[place.pixel[1] - y0, place.pixel[0] - x0], dtype=np.float64)


def noise_terms(signal_e: float, in_scene: CameraInScene, state: State) -> tuple[Noise, ...]:
    """Terms of a pixel's noise, after the linear model of EMVA 1288.

    The temporal ones add up, squared, to `noise_electrons`; PRNU, DSNU and column offsets stay from
    picture to picture.
    """
    sensor, chain = in_scene.camera.sensor, state.chain
    dark = dark_electrons_per_s(sensor) * state.exposure.shutter_s
    return (
        Noise("shot", math.sqrt(max(signal_e, 0.0)), True),
        Noise("dark-shot", math.sqrt(dark), True),
        Noise("read", read_noise_e(sensor, chain), True),
        Noise("row", float(sensor.row_noise_e), True),
        Noise("quantisation", 1.0 / (math.sqrt(12.0) * chain.dn_per_e), True),
        Noise("prnu", float(sensor.prnu) * max(signal_e, 0.0), False),
        Noise("dsnu", float(sensor.dsnu_e), False),
        Noise("column", float(sensor.column_noise_e), False),
    )


def _level(session: Session, place: Place, electrons: FloatArray, channel: str) -> Level:
    in_scene, state = session.in_scene, session.state
    sensor, chain = in_scene.camera.sensor, state.chain
    dark = dark_electrons_per_s(sensor) * state.exposure.shutter_s
    well = full_well_e(sensor, chain)
    held = np.minimum(electrons + dark, well)
    numbers = np.clip(held * chain.dn_per_e + chain.black_dn, 0.0, math.ceil(chain.white_dn))
    share = _share_of_white(numbers, without_dark_level(sensor, chain, state.exposure.shutter_s))
    linear = np.minimum(state.colour.balance * share, 1.0)
    display = None
    if state.colour.mono:
        level = float(linear @ MONO)
        encoded = encode_tone(np.asarray(level), tone_of(in_scene.camera.processing))
    else:
        colour = state.colour.matrix @ linear
        level = float(colour @ LUMA)
        encoded = encode_tone(colour, tone_of(in_scene.camera.processing)) @ np.array(LUMA)
    if state.tones is None:
        lifted = 255.0 * (float(encoded) + in_scene.camera.processing.black_level)
        display = float(np.clip(lifted, 0.0, 255.0))
    number = float(numbers[CHANNELS.index(channel)])
    return Level(
        channel, dark, chain.dn_per_e, chain.black_dn, chain.white_dn, number, well, level, display,
        _delivered(session, place),
    )  # fmt: skip


def _share_of_white(numbers: FloatArray, chain: Readout) -> FloatArray:
    """Linear level (3,) of digital numbers, black and dark signal taken off, 1 is white."""
    return np.asarray((numbers - chain.black_dn) / (chain.white_dn - chain.black_dn))


def _delivered(session: Session, place: Place) -> float:
    """Mean 8-bit luma of the pixel in delivered pictures."""
    pictures = session.pictures(PICTURES)
    x0, y0 = pictures.box_px[:2]
    levels = pictures.frames[:, place.pixel[1] - y0, place.pixel[0] - x0].astype(np.float64)
    return float((levels @ np.array(LUMA)).mean())
