"""Classes of lamps as dealers offer them: watts, degrees, light, and what is left of it.

A class is a row of `data/lamps/classes.csv`. Its light on the axis follows from its power and beam,

    I0 = P k (m + 1) / (2 pi),

with k light out over power in and m the exponent of the beam (`light.beams`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from simulator import data
from simulator.light.beams import beam_exponent
from simulator.studies import trade
from simulator.studies.lighting.lamps import KINDS, KindName, LampKind

_KIND_OF_PEAK: dict[float, KindName] = {850.0: "infrared-850", 940.0: "infrared-940", 0.0: "white"}


@dataclass(frozen=True)
class LampClass:
    """One kind of lamp on sale."""

    kind_name: KindName
    power_w: float
    """Electrical power [W]."""
    beam_deg: float
    """Full angle between the directions of half the peak intensity [deg]."""
    output_per_watt: float
    """Light that leaves it over electrical power [W/W], white [lm/W]."""
    tolerance: float
    """By how much one lamp differs from the class, as a share."""
    light_left: float
    """Share of the light left at the end of its stated life."""
    emitter_width_m: float
    least_setting: float
    """Least setting of its dimmer, as a share of the full light."""

    @property
    def kind(self) -> LampKind:
        """Its kind: colour and units."""
        return KINDS[self.kind_name]

    @property
    def intensity(self) -> float:
        """Light on the axis when new [W/sr], white [cd]."""
        flux = self.power_w * self.output_per_watt
        return flux * (beam_exponent(self.beam_deg) + 1.0) / (2.0 * math.pi)

    @property
    def luminous_flux_lm(self) -> float | None:
        """Light of a white lamp [lm]; None of an infrared one."""
        return None if self.kind.infrared else self.power_w * self.output_per_watt

    @property
    def least_guaranteed(self) -> float:
        """Share of the class's light that the weakest lamp still gives at the end of its life."""
        return (1.0 - self.tolerance) * self.light_left

    def entry(
        self,
        name: str,
        aim_m: Sequence[float],
        *,
        setting: float = 1.0,
        beside_m: Sequence[float] | None = None,
        at_m: Sequence[float] | None = None,
    ) -> dict[str, Any]:
        """An illuminator of the class as a scene file says it, tolerance included.

        Parameters
        ----------
        aim_m
            World point on its axis (3,) [m].
        setting
            Setting of its dimmer, as a share of the full light.
        beside_m, at_m
            Place from the lens (right, forward, up), or in the world (3,) [m]; give one.
        """
        light = {
            "value": round(self.intensity, 2),
            "tolerance": round(self.tolerance * self.intensity, 2),
            "source": "assumed",
        }
        assert (at_m is None) != (beside_m is None)
        place = {"beside_camera_m": beside_m} if at_m is None else {"position_m": at_m}
        return {
            "name": name,
            **self.kind.colour,
            self.kind.key: light,
            "beam_deg": self.beam_deg,
            "emitter_width_m": self.emitter_width_m,
            "electrical_power_w": self.power_w,
            "dimming": round(setting, 3),
            **{key: [round(float(x), 3) for x in point or ()] for key, point in place.items()},
            "aim_m": [round(float(x), 3) for x in aim_m],
        }


@lru_cache
def lamp_classes(kind: KindName | None = None) -> tuple[LampClass, ...]:
    """Every class, or those of one kind, by power and then by beam."""
    columns = data.read_table("lamps", "classes").columns
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    every = [LampClass(_KIND_OF_PEAK[row[0]], *row[1:]) for row in rows]
    chosen = [one for one in every if kind in (None, one.kind_name)]
    return tuple(sorted(chosen, key=lambda one: (one.kind_name, one.power_w, one.beam_deg)))


@dataclass(frozen=True)
class ChosenLamp:
    """A class and the setting of its dimmer."""

    lamp: LampClass
    setting: float = 1.0

    @property
    def intensity(self) -> float:
        """Light on the axis as set, when new [W/sr or cd]."""
        return self.lamp.intensity * self.setting

    @property
    def least_guaranteed(self) -> float:
        """Light on the axis that is sure to the end of its life [W/sr or cd]."""
        return self.intensity * self.lamp.least_guaranteed


SETTINGS = (1.0, 0.8, 0.6, 0.4, 0.3, 0.2)
"""Steps of a dimmer that are named (chosen by us)."""


def buyable(
    kind: KindName, least: float, beam_deg: float, most: float = math.inf
) -> list[ChosenLamp]:
    """Lamps whose beam covers an angle and whose light is sure to reach a value, smallest first.

    Parameters
    ----------
    kind
        Colour of the light.
    least
        Light on the axis that must be left at the end of the life of the weakest lamp [W/sr or cd].
    beam_deg
        Angle that half the intensity must cover at least [deg].
    most
        Light on the axis of the strongest new lamp that does no harm [W/sr or cd].

    Returns
    -------
    Lamps at the largest setting that stays below `most`; empty if no class serves.
    """
    classes = []
    for lamp in lamp_classes(kind):
        if lamp.beam_deg < beam_deg:
            continue
        for setting in SETTINGS:
            if setting < lamp.least_setting:
                continue
            chosen = ChosenLamp(lamp, setting)
            strongest = chosen.intensity * (1.0 + lamp.tolerance)
            if strongest <= most and chosen.least_guaranteed >= least:
                classes.append(chosen)
                break
    return sorted(classes, key=lambda one: (one.lamp.power_w, -one.setting, one.lamp.beam_deg))


def smallest(kind: KindName, beam_deg: float) -> ChosenLamp:
    """The weakest light on sale of a kind that covers an angle: least power at its least setting.

    Where no beam is as wide, the widest one of the kind.
    """
    wide = [one for one in lamp_classes(kind) if one.beam_deg >= beam_deg]
    lamp = min(wide or lamp_classes(kind), key=lambda one: one.intensity * one.least_setting)
    return ChosenLamp(lamp, lamp.least_setting)


def class_for(
    kind: KindName,
    least: float | None,
    most: float | None,
    beam_deg: float,
    reserve: float = trade.RESERVE,
) -> tuple[ChosenLamp, bool] | None:
    """The smallest lamp on sale with a reserve over the least light that works.

    Parameters
    ----------
    least, most
        Least and most light on the axis that work [W/sr or cd]; None where none does.
    beam_deg
        Angle that half the intensity should cover [deg]; the widest class where none is as wide.
    reserve
        How many times the least its light must be at the end of the life of the weakest lamp.

    Returns
    -------
    The lamp, and whether the light needed is below the smallest class, whose dimmed light is then
    named; None if no class suits.
    """
    if least is None or most is None:
        return None
    beams = sorted({one.beam_deg for one in lamp_classes(kind)})
    beam = next((one for one in beams if one >= beam_deg), beams[-1])
    weakest = smallest(kind, beam)
    if weakest.least_guaranteed >= reserve * least and weakest.intensity <= most:
        return weakest, weakest.least_guaranteed > reserve * least
    classes = buyable(kind, reserve * least, beam, most)
    return (classes[0], False) if classes else None
