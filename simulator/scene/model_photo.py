"""What a scene file says of a photograph of the site that fills the frame."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, Strict, model_validator

from simulator.fields import Beside, Entries, FileModel, Name

Pixel = Annotated[
    tuple[
        Annotated[float, Field(ge=-20_000.0, le=40_000.0)],
        Annotated[float, Field(ge=-20_000.0, le=40_000.0)],
    ],
    Strict(False),
]
"""A place in the photograph [px]: to the right and down from its upper left corner."""


class KnownLength(FileModel):
    """A length of the site that is known, with its ends in the photograph."""

    name: Name
    """Name by which keys call it."""
    from_px: Pixel
    """One end, on the ground: right and down from the upper left corner [px]."""
    to_px: Pixel
    """The other end, on the ground too; of an upright length its top [px]."""
    length_m: Annotated[float, Field(gt=0.0, le=1000.0)]
    """The length [m]."""
    upright: bool = False
    """Whether it stands upright on its first end (a door, a post, a person), or lies on the
    ground."""


class KnownPatch(FileModel):
    """An even part of the photograph of which the reflectance or the luminance is known."""

    at_px: Pixel
    """Its middle [px]."""
    size_px: Annotated[float, Field(ge=1.0, le=2000.0)] = 15.0
    """Side of the square over which levels are averaged [px]."""
    reflectance: Annotated[float, Field(ge=0.005, le=1.0)] | None = None
    """Its reflectance, under the light that falls on the ground."""
    luminance_cd_m2: Annotated[float, Field(gt=0.0, le=1e6)] | None = None
    """Its luminance when the photograph was taken [cd/m²]; needs `illuminance_lux` beside it."""

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.reflectance is None) == (self.luminance_cd_m2 is None):
            raise ValueError("give exactly one of reflectance and luminance_cd_m2")
        return self


class PhotoWall(FileModel):
    """A wall in the photograph: upright over the line of its foot, so that it hides, stops light
    and is lit as a wall."""

    name: Name
    """Name by which keys and results call it."""
    from_px: Pixel
    """Left end of its foot on the ground [px]."""
    to_px: Pixel
    """Right end of its foot [px]."""
    height_m: Annotated[float, Field(ge=0.1, le=300.0)]
    """Height [m]."""


class SitePhoto(FileModel):
    """A photograph of the site that fills the frame: its ground is the scene's ground.

    The camera that took it is matched from what is given: height, angle of view and tilt, a
    horizon, and known lengths. It stands above the origin and looks along y; without a `station`
    the camera that is planned takes its place.
    """

    file: Annotated[str, Field(min_length=1), Beside("photograph")]
    """PNG, JPEG or TIFF, looked for beside the scene file; where it is transparent, the scene's own
    sky is seen."""
    size_px: Annotated[
        tuple[Annotated[int, Field(ge=16, le=40_000)], Annotated[int, Field(ge=16, le=40_000)]],
        Strict(False),
    ]
    """Width and height of the picture as it stands upright [px]; places are told in these."""
    height_m: Annotated[float, Field(ge=0.3, le=200.0)] | None = None
    """Height of the lens that took it above the ground [m]; without it it is matched."""
    view_deg: Annotated[float, Field(ge=5.0, le=140.0)] | None = None
    """Its angle of view across the picture [deg]; without it it is matched."""
    tilt_deg: Annotated[float, Field(ge=-30.0, le=80.0)] | None = None
    """How far it looked down [deg]; without it it is matched."""
    horizon_px: Annotated[tuple[Pixel, Pixel], Strict(False)] | None = None
    """Two places of the horizon, left and right [px]; they may lie above the picture."""
    length: Annotated[Entries[KnownLength], Field(max_length=20)] = ()
    """Known lengths; two of them with a horizon are enough, one of them along the view."""
    patch: KnownPatch | None = None
    """A part of known reflectance or luminance, which turns levels into reflectances."""
    illuminance_lux: Annotated[float, Field(gt=0.0, le=2e5)] | None = None
    """Illuminance on the ground when it was taken [lx]. Without a patch the exposure told in the
    file (EXIF) turns levels into luminance."""
    ground_to_m: Annotated[float, Field(ge=1.0, le=1000.0)] | None = None
    """How far from the camera the ground reaches [m]; what the photograph shows above that stands
    as an upright backdrop there. Without it 20 times the height of the lens."""
    wall: Annotated[Entries[PhotoWall], Field(max_length=20)] = ()
    """Walls that stand nearer than that."""

    @model_validator(mode="after")
    def _levels(self) -> Self:
        if self.patch is None and self.illuminance_lux is None:
            raise ValueError("give patch, or illuminance_lux: levels alone tell no reflectance")
        luminance = None if self.patch is None else self.patch.luminance_cd_m2
        if luminance is not None and self.illuminance_lux is None:
            raise ValueError("patch.luminance_cd_m2 needs illuminance_lux")
        for entries in (self.length, self.wall):
            names = [entry.name for entry in entries]
            if len(set(names)) < len(names):
                raise ValueError("a name of a length or wall is used more than once")
        return self
