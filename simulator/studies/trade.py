"""What the trade offers and does: steps of shutters, focal lengths, densities, usual limits.

Everything here is common practice without a source, unless a line says otherwise.
"""

from __future__ import annotations

from typing import Final

SHUTTERS_S: Final = tuple(1.0 / n for n in (25, 50, 100, 125, 250, 500, 1000, 2000))
"""Steps of a fixed shutter, longest first [s]."""
FOCAL_LENGTHS_MM: Final = (2.8, 4.0, 6.0, 8.0, 12.0, 16.0, 25.0, 35.0, 50.0)
"""Lenses of one focal length, and marks of varifocal ones [mm]."""
VARIFOCAL: Final = "varifocal-5-50"
"""Lens file that a CS body takes where its own lens does not reach."""

PLATE_SHUTTER_S: Final = 1.0 / 500.0
"""Longest shutter for the plate of a vehicle that moves [s]."""
WALKING_SHUTTER_S: Final = 1.0 / 100.0
"""Longest shutter for people who walk [s]."""
STANDING_SHUTTER_S: Final = 1.0 / 50.0
"""Longest shutter for what stands [s]: people never stand quite still, trucks shake."""
FASTER: Final = 2.0
"""The shutter is chosen for so much more speed than the scene says (reserve, chosen by us)."""
MOST_BLUR_PX: Final = {"read": 1.0, "identify": 1.5, "recognise": 2.0, "colour": 4.0, "detect": 4.0}
"""Motion blur at that speed that the shutter is kept short enough for [px] (chosen by us);
without a text, that at the least density of the class: with more pixels, as much more."""

PLATE_GAIN_DB: Final = 12.0
"""Most gain for plates: more brings grain into the strokes [dB]."""
GAIN_DB: Final = 24.0
"""Most gain for all else [dB]."""

CHARACTER_PX: Final = (15.0, 20.0, 28.0)
"""Height of characters: the least that is read, the least that is specified, and what the lens is
chosen for [px]."""
DENSITY_ROOM: Final = 1.3
"""Pixel density that the lens is chosen for over the least of the class."""
LEAST_FIELD_M: Final = {"plate": 2.5, "person": 2.0, "face": 1.2, "vehicle": 3.5}
"""Width of the picture at the target that leaves room for it to come a little aside [m]: a lane
less its margins for plates."""
FIELD_OF_OTHERS: Final = 2.0
"""The same for other targets, over their own width."""
EDGE_SHARE: Final = 0.92
"""How far towards the side of the picture the target may reach."""

MOST_TILT_DEG: Final = 30.0
"""Most angle between the line of sight and the normal of a plate or face, each way [deg]."""
RESERVE: Final = 3.0
"""Reserve in light that is specified unless another is asked for."""
