"""A camera set up before a world: everything that does not change from exposure to exposure."""

from __future__ import annotations

import math
import weakref
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from simulator.camera.blur import Blur
from simulator.camera.bounds import check_blur, check_memory
from simulator.camera.colour_matrix import solve_colour_matrix
from simulator.camera.lens import defocus_blur_m, lens_factor, magnification
from simulator.camera.model import CameraModel, Exposure
from simulator.camera.response import (
    coefficients,
    infrared_cut_filter,
    lens_transmittance,
    mean_wavelength_nm,
    quantum_efficiency,
)
from simulator.camera.stray_light import stray_share
from simulator.errors import GeometryError, NoLightError
from simulator.light.flicker import mean_over_exposure
from simulator.light.photometry import luminous_efficiency
from simulator.light.spectra import spectrum
from simulator.scene.air import Air, air_at
from simulator.scene.geometry import Card, View, thin_lens_image_distance
from simulator.scene.kernels.irradiance import incident
from simulator.scene.kernels.light_map import PackedMap
from simulator.scene.kernels.pack import (
    PackedLights,
    PackedScene,
    PackedView,
    cards_with_texture,
    pack_cards,
    pack_lights,
    pack_scene,
    pack_view,
)
from simulator.scene.model import Station
from simulator.scene.radiosity.bands import band_masks
from simulator.scene.radiosity.field import LightField, light_field
from simulator.scene.radiosity.other_body import with_other_body
from simulator.scene.radiosity.packed import pack_map
from simulator.scene.world import World
from simulator.units import FloatArray

Mode = Literal["day", "night"]
REFERENCE_LIGHT = "daylight"
DAY_WAVELENGTH_NM = 550.0
"""Wavelength of the air's extinction by day, and where no light reaches the target."""
MOST_MOMENTS = 16
"""Moments kept of a scene in which things move: more than a camera remembers frames."""
BLURS = ("glare_index", "aberration_sigma_um")
"""Of a lens what acts after the light."""
MOST_KIN = 8
"""Other worlds, or sensors, that are kept with a camera for all its settings."""
MOST_DRAWN = 16
"""Textures kept of the cards on which something else is drawn."""


@dataclass(frozen=True)
class Switches:
    """Parts of the physics that may be switched off or scaled, to ask what they cost."""

    diffraction: bool = True
    defocus: bool = True
    motion: bool = True
    light_scale: float = 1.0
    """All light stronger by this factor."""
    temporal_noise: bool = True
    """Whether photons come at random and electronics make noise; what is fixed to pixels stays."""
    sensor_piece: int = 0
    """Which sensor of its kind: each has a fixed pattern of its own."""


@dataclass(frozen=True)
class CameraInScene:
    """World, station and camera together.

    Attributes
    ----------
    world
        Cards, materials and lights of the scene.
    station
        Where the camera stands and looks.
    camera
        What the camera profile says.
    switches
        Parts of the physics that are switched off or scaled.
    row_zero_m
        Point (3,) whose row of a rolling shutter is exposed at the moment of a frame [m]; without
        it the middle row is.

    Examples
    --------
    >>> from simulator.camera import Camera, place_camera
    >>> from simulator.scene import Scene, build_world
    >>> scene = Scene.load("depot-gate-infrared").model
    >>> camera = Camera.load("fixed-2mp-lowlight").model
    >>> in_scene = place_camera(build_world(scene), scene.station, camera)
    >>> round(1e6 * in_scene.pitch_m, 2), in_scene.response("night").shape
    (2.9, (3, 721))
    """

    world: World
    station: Station
    camera: CameraModel
    switches: Switches = Switches()
    row_zero_m: tuple[float, float, float] | None = None

    @property
    def pitch_m(self) -> float:
        """Pixel pitch [m]."""
        return self.camera.sensor.pixel_pitch_um * 1e-6

    @property
    def focus_m(self) -> float:
        """Distance in focus along the axis [m]; that of the aim point where no file says one."""
        aim_m = max(0.05, math.dist(self.station.position_m, self.station.aim_m))
        return self.camera.lens.focus_m or aim_m

    @cached_property
    def view(self) -> View:
        """The pinhole view of this camera.

        Raises
        ------
        GeometryError
            If the camera looks straight down or up, or focuses within its focal length.
        """
        lens, sensor = self.camera.lens, self.camera.sensor
        try:
            v = thin_lens_image_distance(lens.focal_length_mm * 1e-3, self.focus_m)
            return View.aimed(
                np.asarray(self.station.position_m),
                np.asarray(self.station.aim_m),
                sensor.width_px,
                sensor.height_px,
                v / self.pitch_m,
                lens.distortion_coefficient
                / (lens.image_circle_mm * 1e-3 / 2.0 / self.pitch_m) ** 2,
            )
        except ValueError as error:
            raise GeometryError(
                f"The camera cannot look that way: {error}.",
                key="station.aim_m",
                given=list(self.station.aim_m),
                fix="move the aim point in front of the camera, or the focus farther away",
            ) from None

    @cached_property
    def packed_view(self) -> PackedView:
        """The view for the kernels, with vignetting."""
        lens = self.camera.lens
        radius = lens.image_circle_mm * 1e-3 / 2.0 / self.pitch_m
        return pack_view(self.view, lens.relative_illumination_corner, radius)

    @cached_property
    def packed_scene(self) -> PackedScene:
        """Cards and bodies for the kernels."""
        return pack_scene(self.world, self.view)

    def response(self, mode: Mode) -> FloatArray:
        """Quantum efficiency times lens and filter (3, 721)."""
        lens = self.camera.lens
        qe = quantum_efficiency(self.camera.sensor.quantum_efficiency)
        through = lens_transmittance(lens.transmittance, lens.transmittance_infrared)
        through = through * self.camera.cover.passed
        if mode == "day":
            through = through * infrared_cut_filter()
        return qe * through

    @property
    def glare_index(self) -> float:
        """Veiling glare index of lens and cover together, as a fraction.

        What each of them leaves in the picture is multiplied.
        """
        cover = self.camera.cover
        left = (1.0 - self.camera.lens.glare_index) * (1.0 - cover.glare_index)
        return 1.0 - left * (1.0 - cover.obstruction_fraction)

    @property
    def stray_share(self) -> float:
        """Share of the light that lens and cover scatter over the picture.

        Glare indices as `stray_light.stray_share` takes them; what dirt keeps from going straight
        is scattered as a whole.
        """
        cover, sensor = self.camera.cover, self.camera.sensor
        lens, window = (
            stray_share(index, sensor.width_px, sensor.height_px)
            for index in (self.camera.lens.glare_index, cover.glare_index)
        )
        return 1.0 - (1.0 - lens) * (1.0 - window) * (1.0 - cover.obstruction_fraction)

    def lights(self, mode: Mode) -> PackedLights:
        """The lights with their coefficients in a mode, kept after the first call."""
        cache: dict[Mode, PackedLights] = self.__dict__.setdefault("_lights", {})
        if mode not in cache:
            written = self.written
            cache[mode] = (
                self._pack_lights(mode) if written is None else self._relit_lights(written, mode)
            )
        return cache[mode]

    def _relit_lights(self, written: CameraInScene, mode: Mode) -> PackedLights:
        """The lights of the same world at other strengths, without packing them again."""
        amount = np.array([light.strength for light in self.world.lights], dtype=np.float64)
        lights = written.lights(mode)._replace(amount=amount)
        return lights if self.world.air is None else self._with_air(mode, lights)

    def flicker(self, shutter_s: float, time_s: float = 0.0) -> FloatArray | None:
        """Factor on every light (L,) of an exposure with its middle at a moment; None if all are 1.

        The whole picture is exposed at once, as by a global shutter; for the bands of a rolling one
        see `rolling`. Metering looks at the mean light. Factors are rounded to 1e-9, so that
        moments of the same phase share what was traced.
        """
        found = self.world.lights
        factors = mean_over_exposure(
            np.array([light.flicker_depth for light in found]),
            np.array([light.flicker_hz for light in found]) / 2.0,
            np.array([light.flicker_phase_deg for light in found]),
            time_s - shutter_s / 2.0,
            shutter_s,
        ).round(9)
        return None if np.all(factors == 1.0) else np.asarray(factors)

    def air(self, mode: Mode) -> Air | None:
        """The air at the wavelength that stands for a mode; None if it is clear."""
        if self.world.air is None:
            return None
        return Air(self.lights(mode).extinction)

    def mean_wavelength_nm(self, mode: Mode) -> float:
        """Wavelength that stands for a mode in the blur of the whole picture [nm]."""
        cache: dict[Mode, float] = self.__dict__.setdefault("_wavelength", {})
        if mode not in cache:
            cache[mode] = self._air_wavelength_nm(mode, self.lights(mode))
        return cache[mode]

    def _air_wavelength_nm(self, mode: Mode, lights: PackedLights) -> float:
        """Green by day; by night the mean of the light that falls on the first target."""
        cards = [i for found in self.world.targets.values() for i in found]
        if mode == "day" or not cards:
            return DAY_WAVELENGTH_NM
        card = self.world.cards[cards[0]]
        amounts = incident(card.centre_m, card.normal, self.packed_scene, lights, cards[0])[0]
        power = amounts @ self.world.light_powers()
        try:
            found = mean_wavelength_nm(power, np.ones_like(power), self.response(mode).sum(axis=0))
        except NoLightError:
            return DAY_WAVELENGTH_NM
        return float(found)

    @property
    def image_factor(self) -> float:
        """1 / (F^2 (1 + m)^2) of this lens as set."""
        lens = self.camera.lens
        m = magnification(lens.focal_length_mm * 1e-3, self.focus_m)
        return lens_factor(lens.f_number, m)

    def _pack_lights(self, mode: Mode) -> PackedLights:
        moved_from = self.__dict__.get("_moved_from")
        rested: CameraInScene | None = None if moved_from is None else moved_from()
        if rested is not None:  # of the same colours, and the light field is kept
            known = rested.lights(mode)
            lights = pack_lights(
                self.world, known.coefficient, known.retro, light_map=known.light_map
            )
            return lights if self.world.air is None else self._with_air(mode, lights)
        powers, reflectances = self.world.light_powers(), self.world.reflectances()
        response = self.response(mode)
        area = self.pitch_m**2
        diffuse = coefficients(powers, reflectances, response, area) * self.image_factor
        weight = luminous_efficiency()
        mean = (reflectances @ weight) / weight.sum()
        tint = reflectances / np.maximum(mean, 1e-6)[:, None]
        sent_back = [0.0 if m.sheeting is None else 1.0 - m.soiling for m in self.world.materials]
        tint *= np.array(sent_back)[:, None]
        retro = coefficients(powers, tint, response, area) * self.image_factor
        lights = pack_lights(
            self.world,
            diffuse.astype(np.float32),
            retro.astype(np.float32),
            light_map=self._light_map(reflectances, response, area),
        )
        return lights if self.world.air is None else self._with_air(mode, lights)

    @cached_property
    def light_field(self) -> LightField:
        """Sky and bounced light of the world; moved on by a time, it keeps that of the moment
        judged."""
        return light_field(self.world)

    def _light_map(
        self, reflectances: FloatArray, response: FloatArray, area_m2: float
    ) -> PackedMap:
        """The light field for the kernels, in electrons of this camera."""
        field = self.light_field
        power = np.stack([self.world.lights[i].spectrum.power for i in field.slots.light])
        by_band = [
            coefficients(power * mask, reflectances, response, area_m2) for mask in band_masks()
        ]
        per_band = np.stack(by_band, axis=1) * self.image_factor
        return pack_map(field, self.world, per_band.astype(np.float32))

    def _with_air(self, mode: Mode, lights: PackedLights) -> PackedLights:
        assert self.world.air is not None
        # light that the lamp's own air takes on its way to the target is left out here
        clear = lights._replace(extinction=0.0)
        air = air_at(self.world.air, self._air_wavelength_nm(mode, clear))
        return lights._replace(extinction=air.extinction_per_m)

    @property
    def written(self) -> CameraInScene | None:
        """The same before the lights as written, where this one is `relit`."""
        found: CameraInScene | None = self.__dict__.get("_written")
        return found

    def relit(self, world: World) -> CameraInScene:
        """The same before a world that differs from this one by the amounts of its lights alone.

        What does not depend on them is shared: the view, packed cards, and the lights'
        coefficients.
        """
        _ = self.packed_scene, self.packed_view, self.light_field  # made once for all
        other = self._shared(replace(self, world=world), "packed_scene")
        other.__dict__["_written"] = self
        return other

    def _shared(self, other: CameraInScene, *more: str) -> CameraInScene:
        """Another one that keeps what this one has found and what holds for both."""
        names = ("view", "packed_view", "daylight_colour", "light_field", *more)
        other.__dict__.update({key: self.__dict__[key] for key in names if key in self.__dict__})
        return other

    def with_texture(
        self, card: int, name: str, draw: Callable[[], NDArray[np.uint8]]
    ) -> CameraInScene:
        """The same with something else drawn on a card, of the same materials.

        Parameters
        ----------
        card
            Index of the card.
        name
            Names what is drawn; it is drawn once and kept.
        draw
            Gives the texture (rows, columns) of indices of materials.
        """
        if "_set_from" in self.__dict__:
            drawn: CameraInScene = self.__dict__["_set_from"].with_texture(card, name, draw)
            return drawn._as_set(self)
        cache: dict[tuple[int, str], CameraInScene] = self.__dict__.setdefault("_drawn", {})
        if (card, name) not in cache:
            if len(cache) >= MOST_DRAWN:
                del cache[next(iter(cache))]
            cache[card, name] = self._drawn_on(card, name, draw)
        return cache[card, name]

    def _drawn_on(
        self, card: int, name: str, draw: Callable[[], NDArray[np.uint8]]
    ) -> CameraInScene:
        if self.written is not None:
            there = self.written.with_texture(card, name, draw)
            return there.relit(replace(there.world, lights=self.world.lights))
        cards = list(self.world.cards)
        cards[card] = replace(cards[card], texture=draw())
        self.__dict__.setdefault("_lights", {})
        other = self._shared(replace(self, world=replace(self.world, cards=cards)), "_lights")
        known = self.packed_scene
        if cards[card].texture.shape == self.world.cards[card].texture.shape:
            packed = cards_with_texture(known.cards, other.world, card)
        else:
            packed = pack_cards(other.world, other.view)
        other.__dict__["packed_scene"] = PackedScene(packed, known.bodies)
        # weak, for this one keeps the other: a ring would hold both until all is searched for rings
        other.__dict__["_drawn_from"] = (weakref.ref(self), card, name)
        return other

    def before_other(self, world: World) -> CameraInScene:
        """The same camera before another world.

        Where only materials differ, or where the ground's grain lies, or the shape of one body,
        the light that all else throws is kept: one thing in another colour or shape hardly
        changes what the scene throws on it.
        """
        if world is self.world:
            return self
        other, own = replace(self, world=world), self.world
        if world.cards is own.cards and world.meshes is own.meshes:
            _ = self.light_field
            return self._shared(other)
        body = _other_body(own, world)
        if body is not None:
            other.__dict__["light_field"] = with_other_body(self.light_field, world, body)
        return other

    def with_exposure(self, exposure: Exposure) -> CameraInScene:
        """The same camera with other settings of its exposure: no light depends on them."""
        return self.with_settings(self.camera.model_copy(update={"exposure": exposure}))

    def with_settings(self, camera: CameraModel) -> CameraInScene:
        """The same place with other values of the camera.

        What neither its light nor its view depends on is shared: exposure, processing, stream, what
        the sensor adds, and what lens and cover blur and scatter.
        """
        return self._set(camera=camera)

    def with_switches(self, **values: Any) -> CameraInScene:
        """The same with parts of the physics switched otherwise (`Switches`)."""
        return self._set(switches=replace(self.switches, **values))

    def at_rest(self) -> CameraInScene:
        """The same before a world in which all stands still; light and view are shared."""
        if not np.any(self.world.velocities):
            return self

        def rested(self: CameraInScene) -> CameraInScene:
            world = replace(self.world, velocities=np.zeros_like(self.world.velocities))
            return self._lit_as_this(replace(self, world=world))

        return self.kin("at rest", rested)

    def kin(self, key: Hashable, make: Callable[[CameraInScene], CameraInScene]) -> CameraInScene:
        """The same before another world, with this one's settings; made once for all settings.

        Parameters
        ----------
        key
            Names the other world.
        make
            Gives it from this one, or from one with other settings.
        """
        return self._first_kin(key, make)._as_set(self)

    def _first_kin(
        self, key: Hashable, make: Callable[[CameraInScene], CameraInScene]
    ) -> CameraInScene:
        """The first that was made of a name; all settings keep the same few."""
        first: CameraInScene = self.__dict__.get("_set_from", self)
        kept: dict[Hashable, CameraInScene] = first.__dict__.setdefault("_kin", {})
        if key not in kept:
            if len(kept) >= MOST_KIN:
                del kept[next(iter(kept))]
            kept[key] = make(first)
        return kept[key]

    def _lit_as_this(self, other: CameraInScene) -> CameraInScene:
        """Another one on whose sensor the same light falls, and which shares it."""
        for name in ("_lights", "_small"):
            self.__dict__.setdefault(name, {})
        return self._shared(other, "packed_scene", "_lights", "_small")

    def _as_set(self, other: CameraInScene) -> CameraInScene:
        """This one with the settings of another one."""
        return self._set(camera=other.camera, switches=other.switches, row_zero_m=other.row_zero_m)

    def _set(self, **values: Any) -> CameraInScene:
        other = replace(self, **values)
        light = _light_on(other.camera)
        if light != _light_on(self.camera):
            first = self._first_kin(("camera", light), lambda _: other)
            return other if first is other else first._as_set(other)
        self._lit_as_this(other)
        if self.written is not None:
            other.__dict__["_written"] = self.written._set(**values)
        other.__dict__["_set_from"] = self.__dict__.get("_set_from", self)
        return other

    def at(self, time_s: float) -> CameraInScene:
        """The same with everything moved on by a time [s], kept after the first call."""
        if time_s == 0.0 or not np.any(self.world.velocities):
            return self
        cache: dict[float, CameraInScene] = self.__dict__.setdefault("_at", {})
        if time_s not in cache:
            if len(cache) >= MOST_MOMENTS:
                del cache[next(iter(cache))]
            cache[time_s] = self._moved(time_s)
        return cache[time_s]

    def _moved(self, time_s: float) -> CameraInScene:
        if "_set_from" in self.__dict__:  # so that all settings share what moves and its light
            there: CameraInScene = self.__dict__["_set_from"].at(time_s)
            return there._as_set(self)
        if self.written is not None:
            then = self.written.at(time_s)
            lights = [
                replace(own, position_m=light.position_m)
                for light, own in zip(then.world.lights, self.world.lights, strict=True)
            ]
            return then.relit(replace(then.world, lights=lights))
        drawn = self._drawn_there(time_s)
        if drawn is not None:
            return drawn
        move = self.world.velocities * time_s
        w = self.world
        cards = [_moved_card(c, move[c.group]) for c in w.cards]
        lights = [
            light
            if light.position_m is None
            else replace(light, position_m=light.position_m + move[light.group])
            for light in w.lights
        ]
        emitters = [replace(e, position_m=e.position_m + move[e.group]) for e in w.emitters]
        meshes = tuple(mesh.moved(move[mesh.group]) for mesh in w.meshes)
        moved = replace(w, cards=cards, lights=lights, emitters=emitters, meshes=meshes)
        _ = self.light_field  # things that move keep the light of the moment judged
        other = self._shared(replace(self, world=moved))
        other.__dict__["_moved_from"] = weakref.ref(self)  # which keeps it: no ring
        return other

    def _drawn_there(self, time_s: float) -> CameraInScene | None:
        """The one that this was drawn on, moved on and drawn on as this one is, so that all that is
        drawn shares lights and bodies; None where nobody keeps it, or there is none."""
        made_from, card, name = self.__dict__.get("_drawn_from", (None, 0, ""))
        plain: CameraInScene | None = None if made_from is None else made_from()
        if plain is None:
            return None
        texture = self.world.cards[card].texture
        return plain.at(time_s).with_texture(card, name, lambda: texture)

    def smear_px(self, shutter_s: float, point_m: FloatArray | None = None) -> FloatArray:
        """Movement on the picture during an exposure (groups, 2) [px].

        Taken at `point_m` for every group, or at the middle of the first card of the group.
        """
        out = np.zeros((len(self.world.velocities), 2))
        if not self.switches.motion:
            return out
        for g in range(1, len(out)):
            card = next(c for c in self.world.cards if c.group == g)
            point = card.centre_m if point_m is None else point_m
            out[g] = self.view.flow(point, self.world.velocities[g]) * shutter_s
        return out

    def blur_at(self, depth_m: FloatArray | float, wavelength_nm: float) -> Blur:
        """Blur of lens and defocus for one depth [m]."""
        lens = self.camera.lens
        blur = 0.0
        if self.switches.defocus:
            blur = float(self.defocus_px(np.asarray(depth_m), wavelength_nm)) * self.pitch_m
        return Blur(
            self.pitch_m,
            lens.f_number,
            wavelength_nm * 1e-9,
            lens.aberration_sigma_um * 1e-6,
            blur,
            self.switches.diffraction,
        )

    def defocus_px(self, depth_m: FloatArray, wavelength_nm: float) -> FloatArray:
        """Diameter of the defocus disc by depth [px].

        The lens is focused in visible light; the infrared shift grows linearly from nothing at
        650 nm to the lens file's value at 850 nm.
        """
        lens = self.camera.lens
        share = float(np.clip((wavelength_nm - 650.0) / 200.0, 0.0, 1.5))
        blur = defocus_blur_m(
            lens.focal_length_mm * 1e-3,
            lens.f_number,
            self.focus_m,
            depth_m,
            lens.infrared_focus_shift_um * 1e-6 * share,
        )
        return np.asarray(blur / self.pitch_m)

    def wavelength_nm(self, mode: Mode, light: int, material: int) -> float:
        """Electron-weighted mean wavelength of a light on a material [nm]."""
        return float(
            mean_wavelength_nm(
                self.world.lights[light].spectrum.power,
                self.world.materials[material].reflectance,
                self.response(mode).sum(axis=0),
            )
        )

    @cached_property
    def daylight_colour(self) -> tuple[FloatArray, FloatArray]:
        """White balance (3,) and colour matrix (3, 3) solved in daylight."""
        balance, matrix = solve_colour_matrix(self.response("day"), spectrum(REFERENCE_LIGHT).power)
        return balance, matrix


def _light_on(camera: CameraModel) -> tuple[Hashable, ...]:
    """What of a camera the light on its sensor depends on: all but stray light and blur."""
    lens = {key: value for key, value in camera.lens if key not in BLURS}
    sensor = camera.sensor
    return (
        *lens.values(), camera.cover.passed, sensor.width_px, sensor.height_px,
        sensor.pixel_pitch_um, sensor.quantum_efficiency,
    )  # fmt: skip


def _other_body(one: World, other: World) -> int | None:
    """Number of the body in which two worlds differ, with its card; None if it is not just one."""
    if len(one.meshes) != len(other.meshes) or len(one.cards) != len(other.cards):
        return None
    bodies = [
        k for k, (a, b) in enumerate(zip(one.meshes, other.meshes, strict=True)) if a is not b
    ]
    cards = [k for k, (a, b) in enumerate(zip(one.cards, other.cards, strict=True)) if a is not b]
    if len(bodies) != 1 or not set(cards) <= {other.meshes[bodies[0]].card}:
        return None
    return bodies[0]


def _moved_card(card: Card, move: FloatArray) -> Card:
    return replace(card, corner_m=card.corner_m + move) if np.any(move) else card


def place_camera(world: World, station: Station, camera: CameraModel) -> CameraInScene:
    """A camera mounted at a station: focused as station or profile say, else on the aim point.

    Parameters
    ----------
    world
        The scene as `simulator.scene.build_world` gives it.
    station
        Where the camera stands and looks.
    camera
        What the camera profile says.

    Returns
    -------
    CameraInScene
        View, lights and response of the camera, each computed on first use.

    Raises
    ------
    InputError
        For a picture that does not fit into the memory, or a focus that leaves nothing to be seen.

    References
    ----------
    None of its own: it puts the parts together.

    Examples
    --------
    >>> from simulator.camera import Camera
    >>> from simulator.scene import Scene, build_world
    >>> scene = Scene.load("depot-gate-infrared").model
    >>> camera = Camera.load("fixed-2mp-lowlight").model
    >>> in_scene = place_camera(build_world(scene), scene.station, camera)
    >>> in_scene.view.width_px, in_scene.view.height_px
    (1920, 1080)
    """
    if station.focus_m is not None:
        lens = camera.lens.model_copy(update={"focus_m": station.focus_m})
        camera = camera.model_copy(update={"lens": lens})
    check_memory(camera)
    check_blur(camera)
    return CameraInScene(world, station, camera)
