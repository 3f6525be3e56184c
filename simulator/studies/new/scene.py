"""A commented scene file from a few answers, ready to be predicted and then changed."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.studies.new.answers import DESIGN
from simulator.studies.new.lights import LIGHTS
from simulator.toml_text import to_toml


@dataclass(frozen=True)
class Answers:
    """What the questions ask for; lengths in metres."""

    title: str = "A gate of my own"
    light: str = "town-night"
    distance_m: float = 15.0
    height_m: float = 3.0
    sideways_m: float = 0.5
    text: str = "A1B2 C3D"
    vehicle: str = "car"
    speed_kmh: float = 10.0
    infrared: str | None = "infrared-850-medium"
    lamp_lm: float = 0.0
    wanted_probability: float = 0.9


def scene_text(a: Answers) -> str:
    """The scene as commented TOML.

    Raises
    ------
    InputError
        If an answer is not possible; the file's own checks name the key.
    """
    if a.light not in LIGHTS:
        raise InputError(
            "There is no light of that name.", key="light", given=a.light,
            allowed=", ".join(LIGHTS),
        )  # fmt: skip
    light = LIGHTS[a.light]
    target = [a.sideways_m, a.distance_m, 0.55]
    parts = [
        "# Lengths in metres: x to the camera's right, y away from it, z up; the camera stands",
        "# over the origin and looks along y. Facing 0 looks back at the camera, heading 0 comes",
        "# towards it.",
        to_toml({"title": a.title, "question": "Can the plate be read?"}),
        f"# {light.words}, {light.lux:g} lx on level ground ({light.source})",
        to_toml({"natural_light": {"illuminance_lux": light.lux, "spectrum": light.spectrum}}),
        "# Where the camera stands and what lies in the middle of its picture.",
        to_toml({"station": {"height_m": a.height_m, "aim_m": [*target[:2], 0.8]}}),
    ]
    if a.infrared is not None:
        parts += [
            "# An infrared illuminator beside the lens: right, forward, up from it.",
            to_toml(
                {
                    "illuminator": [
                        {
                            "name": "infrared",
                            "use": a.infrared,
                            "beside_camera_m": [0.3, 0.0, 0.1],
                            "aim_m": target,
                        }
                    ]
                }
            ),
        ]
    if a.lamp_lm > 0.0:
        parts += [
            "# A lamp near the target; switch it off with on = false.",
            to_toml(
                {
                    "lamp": [
                        {
                            "name": "lamp",
                            "spectrum": "led-3000k",
                            "luminous_flux_lm": a.lamp_lm,
                            "beam_deg": 110.0,
                            "position_m": [a.sideways_m + 3.0, a.distance_m - 1.0, 4.5],
                            "aim_m": [*target[:2], 0.0],
                            "on": True,
                        }
                    ]
                }
            ),
        ]
    parts += [
        "# What the ground is made of, and how much its reflectance varies from place to place.",
        to_toml(
            {
                "surface": [
                    {"name": "ground", "kind": "ground", "material": "asphalt", "variation": 0.12},
                    {
                        "name": "back wall",
                        "kind": "wall",
                        "material": "concrete",
                        "position_m": [0.0, a.distance_m + 9.0, 0.0],
                        "width_m": 24.0,
                        "height_m": 3.5,
                        "variation": 0.04,
                    },
                ]
            }
        ),
        "# The plate that is judged, and the vehicle that carries it and moves with it.",
        to_toml(
            {
                "target": [
                    {
                        "name": "plate",
                        "kind": "plate",
                        "text": a.text,
                        "design": DESIGN,
                        "position_m": target,
                        "facing_deg": 0.0,
                        "speed_kmh": a.speed_kmh,
                        "heading_deg": 0.0,
                    },
                    {
                        "name": "vehicle",
                        "kind": "vehicle-front",
                        "style": a.vehicle,
                        "paint": "paint-grey",
                        "carries": "plate",
                        "headlights": _headlights(light.lux, a.speed_kmh),
                    },
                ]
            }
        ),
        "# Share of pictures in which every character must be read.",
        to_toml(
            {
                "task": {
                    "target": "plate",
                    "name": "read",
                    "wanted_probability": a.wanted_probability,
                }
            }
        ),
    ]
    text = "\n".join(parts)
    check_scene_text(text)
    return text


NIGHT_LUX = 50.0
"""Natural light below which vehicles drive with dipped headlights (chosen by us)."""


def _headlights(lux: float, speed_kmh: float) -> str:
    return "dipped" if speed_kmh > 0.0 and lux < NIGHT_LUX else "off"


def check_scene_text(text: str) -> None:
    """Read the text as a scene file would be read, so that only valid files are written.

    Raises
    ------
    FileFormatError
        With the key of the first value that is not allowed.
    """
    Scene.from_toml(text, name="new scene")
