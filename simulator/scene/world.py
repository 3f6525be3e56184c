"""A scene ready to be traced: cards, materials and lights in world coordinates."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from simulator.light.sources import Emitter, LightSource
from simulator.messages import Message, Value
from simulator.scene.geometry import Card
from simulator.scene.materials import Material
from simulator.scene.mesh import Mesh
from simulator.scene.model_air import AirModel
from simulator.scene.model_things import Opening
from simulator.scene.targets.head import DrawnHead
from simulator.units import FloatArray, ratio_to_db, ratio_to_stops


@dataclass(frozen=True)
class Backlight:
    """An opening against a subject.

    Attributes
    ----------
    name, against
        Names of the opening and of the target before it.
    background_cd_m2
        Luminance of the opening [cd/m2].
    subject_cd_m2
        Mean luminance of the target's cards as matt surfaces [cd/m2]: what retroreflective
        sheeting, gloss and the air add is left out.

    Examples
    --------
    >>> doorway = Backlight("door", "person", background_cd_m2=3200.0, subject_cd_m2=50.0)
    >>> doorway.ratio, doorway.stops, round(doorway.decibel, 1)
    (64.0, 6.0, 36.1)
    """

    name: str
    against: str
    background_cd_m2: float
    subject_cd_m2: float

    @property
    def ratio(self) -> float:
        """Background over subject; infinite for a subject without light."""
        if self.subject_cd_m2 <= 0.0:
            return float("inf")
        return self.background_cd_m2 / self.subject_cd_m2

    @property
    def stops(self) -> float:
        """The ratio in stops, log2."""
        return ratio_to_stops(self.ratio)

    @property
    def decibel(self) -> float:
        """The ratio in decibels, 20 log10 (the convention of sensor dynamic range, EMVA 1288)."""
        return ratio_to_db(self.ratio)

    def message(self) -> Message:
        """What is said of it; without ratio where no visible light reaches the subject."""
        values: dict[str, Value] = {
            "opening": self.name,
            "against": self.against,
            "background_cd_m2": self.background_cd_m2,
        }
        if self.subject_cd_m2 <= 0.0:
            return Message("assumption.backlight-of-unlit", values)
        return Message(
            "assumption.backlight",
            {
                **values,
                "subject_cd_m2": self.subject_cd_m2,
                "ratio": self.ratio,
                "stops": self.stops,
                "decibel": self.decibel,
            },
        )


@dataclass(frozen=True)
class OpeningLights:
    """An opening and the indices of its lights: the panel that is seen and the parts that light.

    Its lights have `luminance_cd_m2`; with a luminance ratio to be reached that is 1 at first.
    """

    opening: Opening
    luminance_cd_m2: float
    panel: int
    parts: tuple[int, ...]


@dataclass(frozen=True)
class World:
    """A scene ready to be traced.

    Attributes
    ----------
    cards
        Flat things that are seen and cast shadows.
    materials
        Their surfaces; the first is a perfect diffuser (reflectance one), for luminous surfaces.
    lights
        Sky, sun, moon, lamps and illuminators.
    emitters
        Bright faces of lamps that are seen themselves.
    velocities
        Of the groups that move together (groups, 3) [m/s]; group 0 stands still.
    plates
        Index of the card of each plate, by name.
    ground_material, ground_variation, ground_grain_m
        Index of the ground's material, relative standard deviation of its reflectance, and the size
        of the patches [m].
    targets
        Indices of the cards of each target, by name.
    assumptions
        What was assumed because the file does not say it.
    air
        Haze, fog or rain; None for clear air.
    backlights
        Contrast of every opening that names a target to stand against.
    heads
        How the head of each person or face is drawn, by name.
    grain_shift
        Another place of the grain of surfaces, by number.
    openings
        Which lights belong to which opening.
    meshes
        Solid bodies; each names the card that stands for it, which is itself not seen.

    Examples
    --------
    >>> from simulator.scene import Scene, build_world
    >>> world = build_world(Scene.load("depot-gate-infrared").model)
    >>> world.light_powers().shape == (len(world.lights), 721)
    True
    """

    cards: list[Card]
    materials: list[Material]
    lights: list[LightSource]
    emitters: list[Emitter]
    velocities: FloatArray
    plates: dict[str, int]
    ground_material: int
    ground_variation: float
    ground_grain_m: float
    targets: dict[str, list[int]] = field(default_factory=dict)
    assumptions: list[Message] = field(default_factory=list)
    air: AirModel | None = None
    backlights: list[Backlight] = field(default_factory=list)
    heads: dict[str, DrawnHead] = field(default_factory=dict)
    grain_shift: int = 0
    openings: tuple[OpeningLights, ...] = ()
    meshes: tuple[Mesh, ...] = ()

    def light_powers(self) -> FloatArray:
        """Spectral power of one unit of each light (L, 721) [W m^-2 nm^-1]."""
        return np.stack([light.spectrum.power for light in self.lights])

    def reflectances(self) -> FloatArray:
        """Spectral reflectance of each material (M, 721)."""
        return np.stack([m.reflectance for m in self.materials])
