"""What a scene file says of what stands about: street furniture, plants, parts of buildings."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, Strict, model_validator

from simulator.fields import Angle, Beside, FileModel, Fraction, MaterialName, Name, Point

Length = Annotated[float, Field(ge=0.0, le=200.0)]
Size = Annotated[float, Field(ge=0.002, le=200.0)]
"""A length of a body [m]."""
Wall = Literal["front", "back", "left", "right"]


class _Standing(FileModel):
    """What every body shares."""

    name: Name
    """Name by which keys and results call it."""
    position_m: Point
    """The point under its middle [m]."""
    facing_deg: Angle = 0.0
    """Where its front looks: 0 back at the camera, 90 to the camera's right [deg]."""


class Block(_Standing):
    """A box of one material: building, kerb, container, plinth, desk, or paint on the ground."""

    kind: Literal["block"]
    width_m: Size = 1.0
    """Width [m]."""
    depth_m: Size = 1.0
    """Depth, away from its front [m]."""
    height_m: Size = 1.0
    """Height; a few millimetres for paint on the ground [m]."""
    material: MaterialName = "concrete"
    """Name of a material, see `nightproof list`, or a CSV file beside the scene file."""
    variation: Fraction = 0.1
    """Relative standard deviation of the reflectance from place to place."""


class Post(_Standing):
    """A bollard or a lamp post."""

    kind: Literal["bollard", "lamp-post"]
    height_m: Size = 1.0
    """Height [m]."""
    diameter_m: Size = 0.14
    """Diameter at the foot [m]."""
    arm_m: Annotated[float, Field(ge=0.0, le=10.0)] = 0.0
    """How far the arm of a lamp post reaches out to its front [m]."""
    material: MaterialName = "steel-galvanised"
    """Material of the post."""


class Fence(_Standing):
    """A fence of upright bars between posts."""

    kind: Literal["fence"]
    width_m: Size = 10.0
    """Length [m]."""
    height_m: Size = 1.8
    """Height [m]."""
    gap_m: Size = 0.12
    """Distance from bar to bar [m]."""
    material: MaterialName = "steel-galvanised"
    """Material of bars and posts."""


class Plant(_Standing):
    """A tree with a crown, or a clipped hedge."""

    kind: Literal["tree", "hedge"]
    height_m: Size = 6.0
    """Height [m]."""
    width_m: Size = 4.0
    """Width of the crown, or length of the hedge [m]."""
    depth_m: Size = 0.8
    """Depth of a hedge [m]."""
    material: MaterialName = "leaves"
    """Material of the leaves."""


class Facade(_Standing):
    """A window or a door before a wall: frame, panes or panel, sill or step."""

    kind: Literal["window", "door", "shutter"]
    width_m: Size = 1.2
    """Width with the frame [m]."""
    height_m: Size = 1.4
    """Height with the frame [m]."""
    frame: MaterialName = "plastic-white"
    """Material of the frame."""
    material: MaterialName = "glass-window"
    """Material of panes, of a door's panel or of the slats of a shutter."""
    room_depth_m: Length = 2.5
    """Depth of the room that is seen through a window's panes, where a wall of the scene stands
    right behind it and the panes are of a glass that lets light through (`glass-pane`) [m]; 0 for
    none. All light in the room counts as come in through the panes: that of a lamp within it
    shows 18 % too weak."""


class Given(_Standing):
    """A triangle mesh from a file, its axes x right, y away, z up, in metres."""

    kind: Literal["mesh"]
    file: Annotated[str, Field(min_length=1), Beside("mesh")]
    """OBJ, PLY or glTF (glb), looked for beside the scene file."""
    scale: Annotated[float, Field(gt=0.0, le=1000.0)] = 1.0
    """How much larger it becomes: 0.001 for a file in millimetres."""
    material: MaterialName = "plastic-grey"
    """Material of whatever the file does not give the name of one of ours."""


Body = Annotated[Block | Post | Fence | Plant | Facade | Given, Field(discriminator="kind")]


class Gap(FileModel):
    """A door or window in a wall of a room, through which what lies outside is seen."""

    wall: Wall
    """Which wall, as one sees them who looks from the room's front to its back."""
    left_m: Length
    """From the left end of that wall, seen from inside [m]."""
    bottom_m: Length = 0.0
    """From the floor [m]."""
    width_m: Size
    """Width [m]."""
    height_m: Size
    """Height [m]."""


class Room(FileModel):
    """Floor, four walls and a ceiling in one entry, seen from inside."""

    name: Name
    """Name by which keys and results call it."""
    position_m: Point
    """Middle of the floor [m]."""
    width_m: Size
    """From the left wall to the right one [m]."""
    depth_m: Size
    """From the front to the back [m]."""
    height_m: Size = 2.8
    """From floor to ceiling [m]."""
    facing_deg: Angle = 0.0
    """Where its front looks: 0 back at the camera, 90 to the camera's right [deg]."""
    wall_material: MaterialName = "plaster-white"
    """Material of the walls."""
    ceiling_material: MaterialName = "plaster-white"
    """Material of the ceiling."""
    floor_material: MaterialName | None = None
    """Material of the floor; without it the ground is the floor."""
    variation: Fraction = 0.04
    """Relative standard deviation of the reflectance from place to place."""
    gap: Annotated[tuple[Gap, ...], Strict(False)] = ()
    """Doors and windows."""
    without: Annotated[tuple[Wall, ...], Strict(False)] = ()
    """Walls that are left out."""

    @model_validator(mode="after")
    def _gaps_inside(self) -> Self:
        for gap in self.gap:
            wide = self.width_m if gap.wall in ("front", "back") else self.depth_m
            if gap.left_m + gap.width_m > wide + 1e-6:
                raise ValueError(f"gap: left_m + width_m must not pass the wall's {wide:g} m")
            if gap.bottom_m + gap.height_m > self.height_m + 1e-6:
                raise ValueError(
                    f"gap: bottom_m + height_m must not pass the room's {self.height_m:g} m"
                )
        return self
