"""What a camera profile says of its lens and of the window before it."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field, model_validator

from simulator.fields import FileModel


class Lens(FileModel):
    """The lens as set. Lens files hold the range; the camera says how it is set."""

    renamed_keys: ClassVar[dict[str, str]] = {
        "aberration_um": "aberration_sigma_um",
        "corner_light": "relative_illumination_corner",
        "distortion": "distortion_coefficient",
    }

    use: str | None = None
    """Name of a lens file whose values fill what is not written here."""
    title: str = ""
    """What it is, in a line."""
    focal_length_mm: Annotated[float, Field(ge=0.5, le=2000.0)]
    """Focal length as set [mm]."""
    f_number: Annotated[float, Field(ge=0.7, le=64.0)]
    """F-number as set, with the iris open."""
    focus_m: Annotated[float, Field(ge=0.05, le=100_000.0)] | None = None
    """Distance that is in focus, along the lens axis, of a lens that is set for good [m]; without
    it the camera is focused on the task's target when it is mounted."""
    focal_min_mm: Annotated[float, Field(ge=0.5, le=2000.0)]
    """Shortest focal length [mm]."""
    focal_max_mm: Annotated[float, Field(ge=0.5, le=2000.0)]
    """Longest focal length [mm]."""
    f_number_wide: Annotated[float, Field(ge=0.7, le=64.0)]
    """Smallest f-number at the shortest focal length."""
    f_number_tele: Annotated[float, Field(ge=0.7, le=64.0)]
    """Smallest f-number at the longest focal length."""
    transmittance: Annotated[float, Field(gt=0.0, le=1.0)]
    """Transmittance in visible light."""
    transmittance_infrared: Annotated[float, Field(gt=0.0, le=1.0)]
    """Transmittance from 850 nm on."""
    aberration_sigma_um: Annotated[float, Field(ge=0.0, le=100.0)]
    """Standard deviation of the Gaussian aberration blur on the image [um]."""
    glare_index: Annotated[float, Field(ge=0.0, le=0.5)]
    """Veiling glare index of ISO 9358 as a fraction: black patch over extended bright field."""
    relative_illumination_corner: Annotated[float, Field(gt=0.0, le=1.0)] = 0.7
    """Relative illumination at the corner of the image circle from vignetting alone."""
    image_circle_mm: Annotated[float, Field(gt=0.0, le=200.0)]
    """Diameter of the image circle [mm]."""
    infrared_focus_shift_um: Annotated[float, Field(ge=-500.0, le=500.0)] = 0.0
    """Shift of the image plane at 850 nm from its place in visible light [um]."""

    distortion_coefficient: Annotated[float, Field(ge=-0.5, le=0.5)] = 0.0
    """Radial distortion at the edge of the image circle: image height over its rectilinear value,
    less one; negative is barrel. It grows with the square of the distance from the axis."""
    mount: Literal["c", "cs", "s", "fixed"] = "cs"
    """Lens mount: C (17.526 mm flange distance), CS (12.526 mm), S (M12 thread), or built in."""

    @model_validator(mode="after")
    def _range(self) -> Lens:
        if self.focal_min_mm > self.focal_max_mm:
            raise ValueError("focal_min_mm is larger than focal_max_mm")
        if not self.focal_min_mm <= self.focal_length_mm <= self.focal_max_mm:
            raise ValueError(
                f"focal_length_mm {self.focal_length_mm:g} is outside this lens"
                f" ({self.focal_min_mm:g} to {self.focal_max_mm:g} mm)"
            )
        fastest = self.smallest_f_number
        if self.f_number < fastest - 0.05:
            raise ValueError(
                f"f_number {self.f_number:g} is faster than this lens allows at"
                f" {self.focal_length_mm:g} mm (f/{fastest:.2f})"
            )
        return self

    @property
    def smallest_f_number(self) -> float:
        """Smallest f-number at the set focal length, linear between the ends of the range."""
        span = self.focal_max_mm - self.focal_min_mm
        share = 0.0 if span == 0.0 else (self.focal_length_mm - self.focal_min_mm) / span
        return self.f_number_wide + share * (self.f_number_tele - self.f_number_wide)


class Cover(FileModel):
    """Window or dome before the lens, and what lies on it."""

    renamed_keys: ClassVar[dict[str, str]] = {"dirt": "obstruction_fraction"}

    title: str = ""
    """What it is, in a line."""
    transmittance: Annotated[float, Field(gt=0.0, le=1.0)] = 1.0
    """Transmittance of the clean window, at all wavelengths."""
    glare_index: Annotated[float, Field(ge=0.0, le=0.5)] = 0.0
    """Veiling glare that the clean window adds, as a fraction like that of the lens."""
    obstruction_fraction: Annotated[float, Field(ge=0.0, le=0.9)] = 0.0
    """Share d of the window covered by opaque specks of dirt. Of the light, 1 - d gets through; of
    that the share d is diffracted by the specks into a wide halo (Babinet's principle; van de
    Hulst, "Light Scattering by Small Particles", 1957, from memory)."""

    @property
    def passed(self) -> float:
        """Share of the light that gets through, halo included."""
        return self.transmittance * (1.0 - self.obstruction_fraction)
