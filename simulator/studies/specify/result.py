"""A specification as a typed result: ways, their parts, their proof, and direct answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies import trade
from simulator.studies.lighting.lamp_classes import LampClass
from simulator.studies.specify.design import Design
from simulator.studies.specify.families import Failed, Family, Solved
from simulator.studies.specify.hours import Looked
from simulator.studies.specify.overview import Overview
from simulator.studies.specify.proof import Proof

Role = Literal["cheapest", "least visible", "most reserve", "rest visible"]
ROLES: tuple[Role, ...] = ("cheapest", "least visible", "most reserve", "rest visible")

PartKind = Literal["camera", "lens", "lamp", "mount", "overview"]


@dataclass(frozen=True)
class Part:
    """One line of a parts list."""

    kind: PartKind
    key: str
    """Name under which a price is given."""
    quantity: int = 1
    price: float | None = None


@dataclass(frozen=True)
class Way:
    """One way to do the task."""

    roles: tuple[Role, ...]
    solved: Solved
    proof: Proof
    parts: tuple[Part, ...]
    overview: Overview | None = None
    """The second camera for what the first shows black, where the way has one."""

    @property
    def design(self) -> Design:
        """What is bought, set and mounted."""
        return self.solved.design

    @property
    def family(self) -> Family:
        """Its kind."""
        return self.solved.family

    @property
    def price(self) -> float | None:
        """Sum of the user's prices; None unless each part has one."""
        prices = [part.price for part in self.parts]
        return None if None in prices else float(sum(p or 0.0 for p in prices))


@dataclass(frozen=True)
class LensAnswer:
    """Which focal lengths work, by looks along the marks of a varifocal lens."""

    chosen_mm: float
    tried: tuple[tuple[float, float], ...]
    """Focal length [mm] and probability, rising."""
    least_mm: float | None
    most_mm: float | None
    """Ends of the run that works around the chosen one."""


@dataclass(frozen=True)
class WideRangeAnswer:
    """Whether a wide dynamic range is needed."""

    needed: bool
    without: float
    with_it: float | None
    """Probabilities by a quick look; None where the camera has none."""
    backlight: bool
    """Whether the picture shows an opening that is much brighter than the target."""
    on: bool
    """Whether the design has it on."""
    backlight_times_without: float | None
    backlight_times_with: float | None
    """Backlight, over that of the scene, up to which the task succeeds; None if not sought."""


@dataclass(frozen=True)
class Ask:
    """What is wanted of the study."""

    reserve: float = trade.RESERVE
    gain_cap_db: float | None = None
    budget: float | None = None
    prices: Mapping[str, float] | None = None
    seed: int = 0
    workers: int | None = None
    thorough: bool = True
    """Whether tolerances are drawn and every reserve is sought; else the reserve in light alone."""
    hours: tuple[Looked, ...] = ()
    """Hours of a year that were looked at, the worst first: the scene stands at that one."""


@dataclass(frozen=True)
class Specification:
    """Everything that was found."""

    scene: Scene
    cameras: tuple[Camera, ...]
    ask: Ask
    ways: tuple[Way, ...]
    failed: tuple[Failed, ...]
    lens: LensAnswer | None
    wide_range: WideRangeAnswer | None

    @property
    def reached(self) -> bool:
        """Whether some way reaches the target probability."""
        return bool(self.ways)


def lamp_key(lamp: LampClass) -> str:
    """Name of a lamp class, as prices go by it."""
    return f"{lamp.kind_name}-{lamp.power_w:g}w-{lamp.beam_deg:g}deg"


def parts_of(
    design: Design, prices: Mapping[str, float], overview: Overview | None = None
) -> tuple[Part, ...]:
    """Parts list of a design with the user's prices, its second camera last."""

    def part(kind: PartKind, *keys: str) -> Part:
        price = next((prices[key] for key in keys if key in prices), None)
        if kind in ("camera", "overview") and price is None:
            price = design.camera.model.price
        return Part(kind, keys[0], 1, price)

    out = [part("camera", design.camera.name)]
    if "lens.use" in design.lens:
        out.append(part("lens", str(design.lens["lens.use"])))
    if design.lamp is not None:
        lamp = design.lamp.lamp
        out.append(part("lamp", lamp_key(lamp), lamp.kind_name))
    if design.mount is not None:
        out.append(part("mount", "mount"))
    if overview is not None:
        out.append(part("overview", design.camera.name))
    return tuple(out)
