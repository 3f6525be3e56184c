"""What a camera at its station sees, and how its lens and cover draw it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from simulator.camera.blur import Blur
from simulator.camera.colour_matrix import solve_colour_matrix
from simulator.camera.lens import defocus_blur_m, lens_factor, magnification
from simulator.camera.model import CameraModel
from simulator.camera.response import (
    infrared_cut_filter,
    lens_transmittance,
    mean_wavelength_nm,
    quantum_efficiency,
)
from simulator.camera.stray_light import stray_share
from simulator.errors import GeometryError
from simulator.light.spectra import spectrum
from simulator.scene.geometry import View, thin_lens_image_distance
from simulator.scene.kernels.pack import PackedScene, PackedView, pack_scene, pack_view
from simulator.scene.model import Station
from simulator.scene.world import World
from simulator.units import FloatArray

Mode = Literal["day", "night"]
REFERENCE_LIGHT = "daylight"


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
class Optics:
    """World, station and camera together: view, response of the sensor, lens and cover."""

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

    @property
    def image_factor(self) -> float:
        """1 / (F^2 (1 + m)^2) of this lens as set."""
        lens = self.camera.lens
        m = magnification(lens.focal_length_mm * 1e-3, self.focus_m)
        return lens_factor(lens.f_number, m)

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
