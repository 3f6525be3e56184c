"""What a scene file says of people, signs, parcels and test charts; all drawn by us."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from simulator.fields import Angle, FileModel, MaterialName, Name, Point, Speed

Tilt = Annotated[float, Field(ge=-60.0, le=60.0)]
"""How far a thing leans back, its face turning upwards [deg]."""
Variant = Annotated[int, Field(ge=0, le=9999)]
"""Number that picks one of many invented looks; the same number is always the same look."""
SkinTone = Literal["very-light", "light", "medium", "dark", "very-dark"]
Length = Annotated[float, Field(gt=0.0, le=20.0)]
"""A length [m]."""


class Moving(FileModel):
    """What every target that can move shares."""

    name: Name
    """Name by which keys and results call it."""
    position_m: Point
    """Where it stands [m]."""
    facing_deg: Angle = 0.0
    """Where its front looks: 0 back at the camera, 90 to the camera's right [deg]."""
    speed_kmh: Speed = 0.0
    """Speed [km/h]."""
    heading_deg: Angle = 0.0
    """Where it moves: 0 towards the camera, 90 to the camera's right [deg]."""


class Face(Moving):
    """A head at life size on a piece of neck, seen from the front; nobody in particular.

    The card is flat: the relief of the face is drawn into it as for light from above and ahead.
    """

    kind: Literal["face"]
    position_m: Point
    """Middle of the head, half way from chin to crown [m]."""
    tilt_deg: Tilt = 0.0
    """How far the head leans back [deg]."""
    skin: SkinTone = "light"
    """Tone of the skin."""
    hair: MaterialName | None = None
    """Material of the hair; without it the variant decides."""
    variant: Variant = 0
    """Number that picks one of many invented looks."""
    glasses: bool = False
    """Whether it wears glasses."""
    headwear: Literal["none", "cap", "hood"] = "none"
    """What it wears on the head."""
    headwear_material: MaterialName = "cotton-navy"
    """Material of that."""


class Person(Moving):
    """A whole person, nobody in particular."""

    kind: Literal["person"]
    position_m: Point
    """The ground between the feet [m]."""
    pose: Literal["standing", "walking"] = "standing"
    """Standing, or in the middle of a step."""
    seen_from: Literal["front", "back"] = "front"
    """Which side is seen."""
    height_m: Annotated[float, Field(ge=0.8, le=2.2)] = 1.75
    """From the ground to the crown [m]."""
    skin: SkinTone = "light"
    """Tone of the skin."""
    hair: MaterialName | None = None
    """Material of the hair; without it the variant decides."""
    variant: Variant = 0
    """Number that picks one of many invented looks."""
    glasses: bool = False
    """Whether it wears glasses."""
    headwear: Literal["none", "cap", "hood"] = "none"
    """What it wears on the head."""
    headwear_material: MaterialName = "cotton-navy"
    """Material of that."""
    upper: MaterialName = "cotton-blue"
    """Material of jacket or shirt."""
    lower: MaterialName = "denim-blue"
    """Material of the trousers."""
    shoes: MaterialName = "leather-black"
    """Material of the shoes."""
    bag: MaterialName | None = None
    """Material of a bag carried in one hand."""


class Sign(Moving):
    """A board with text in our own capitals; its size follows the text unless given."""

    kind: Literal["sign"]
    position_m: Point
    """Centre of the board [m]."""
    tilt_deg: Tilt = 0.0
    """How far the board leans back [deg]."""
    text: Annotated[str, Field(min_length=1, max_length=200)]
    """Text; a line break or "/" begins a new line; small letters are drawn as capitals."""
    character_height_m: Annotated[float, Field(ge=0.003, le=3.0)] = 0.1
    """Height of the capitals [m]."""
    width_m: Length | None = None
    """Width of the board; without it the text decides."""
    height_m: Length | None = None
    """Height of the board [m]; without it the text decides."""
    background: MaterialName = "sign-white"
    """Material of the board."""
    ink: MaterialName = "ink-carbon"
    """Material of text and border."""
    sheeting: str | None = None
    """Retroreflective sheeting of whatever is not ink-carbon; without it the sign is plain."""
    border: bool = True
    """Whether a line runs around the text."""


class Parcel(Moving):
    """A cardboard box with tape and a label."""

    kind: Literal["parcel"]
    position_m: Point
    """Middle of the lower front edge [m]."""
    width_m: Annotated[float, Field(ge=0.05, le=3.0)] = 0.4
    """Width [m]."""
    height_m: Annotated[float, Field(ge=0.05, le=3.0)] = 0.3
    """Height [m]."""
    depth_m: Annotated[float, Field(ge=0.02, le=3.0)] = 0.3
    """Depth, away from the front [m]."""
    material: MaterialName = "cardboard"
    """Material of the box."""
    label: Annotated[str, Field(max_length=200)] = "DEPOT 4/BAY 17/NO 3809"
    """Text of the label, "/" between lines; empty for none."""
    character_height_m: Annotated[float, Field(ge=0.002, le=0.3)] = 0.012
    """Height of the capitals on the label [m]."""
    label_ink: MaterialName = "ink-carbon"
    """Material of that text."""


class Chart(Moving):
    """What every test chart shares."""

    position_m: Point
    """Centre of the chart [m]."""
    tilt_deg: Tilt = 0.0
    """How far the chart leans back [deg]."""
    width_m: Annotated[float, Field(ge=0.05, le=10.0)] = 1.2
    """Width [m]."""


class GreyChart(Chart):
    """Twelve grey steps, each about 1.36 times the one before, on middle grey."""

    kind: Literal["grey-chart"]


class ColourChart(Chart):
    """24 patches in six columns and four rows on black."""

    kind: Literal["colour-chart"]


class _TwoTone(Chart):
    light: MaterialName = "grey-66"
    """Material of what is light."""
    dark: MaterialName = "grey-04"
    """Material of what is dark."""


class StarChart(_TwoTone):
    """A star of sectors, square, with a grey disc in the middle."""

    kind: Literal["star-chart"]
    cycles: Annotated[int, Field(ge=4, le=288)] = 72
    """Light and dark pairs around the star."""


class EdgeChart(_TwoTone):
    """A dark square turned by a few degrees on a light ground."""

    kind: Literal["edge-chart"]
    edge_deg: Annotated[float, Field(ge=0.0, le=45.0)] = 5.0
    """How far the edges turn from upright and level [deg]."""


class ResolutionChart(_TwoTone):
    """Groups of bars and wedges, numbered in TV lines per height of the chart (4 to 3)."""

    kind: Literal["resolution-chart"]
