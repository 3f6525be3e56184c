"""A commented scene file from a few answers, ready to be predicted and then changed."""

from __future__ import annotations

from typing import Any

from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.studies.new.given_light import light_of
from simulator.studies.new.kinds import CLOSED_LUX, KINDS, Answers, Kind, Part, point
from simulator.studies.new.lights import NamedLight
from simulator.toml_text import to_toml

__all__ = ["Answers", "answers_for", "check_scene_text", "scene_text"]


def answers_for(kind: str, **given: Any) -> Answers:
    """Answers for a kind of scene: those that are given, else its usual ones.

    Parameters
    ----------
    kind
        One of `kinds.KINDS`.
    **given
        Fields of `Answers`; None stands for the usual one, but for `infrared`.

    Raises
    ------
    InputError
        For a kind that is not there.
    """
    if kind not in KINDS:
        raise InputError(
            "There is no kind of scene of that name.", argument="kind", given=kind,
            allowed=", ".join(KINDS),
        )  # fmt: skip
    return Answers(**{"kind": kind, **KINDS[kind].usual, **given})


def scene_text(a: Answers) -> str:
    """The scene as commented TOML.

    Raises
    ------
    InputError
        If an answer is not possible; the file's own checks name the key.
    """
    light, kind = light_of(a.light), KINDS[a.kind]
    parts = [
        "# Lengths in metres: x to the camera's right, y away from it, z up; the camera stands",
        "# over the origin and looks along y. Facing 0 looks back at the camera, heading 0 comes",
        "# towards it.",
        to_toml({"title": a.title, "question": kind.question}),
    ]
    for part in [*_light_and_place(a, kind, light), *kind.things(a, light), _task(a, kind)]:
        parts += [part.comment, to_toml(part.table)]
    text = "\n".join(parts)
    check_scene_text(text)
    return text


def _light_and_place(a: Answers, kind: Kind, light: NamedLight) -> list[Part]:
    aim = point(a, kind.aim_z_m)
    if kind.indoors:
        sky = Part(
            "# The room is closed; what comes in is told with the opening below.",
            {"natural_light": {"illuminance_lux": CLOSED_LUX, "spectrum": light.spectrum}},
        )
    else:
        sky = Part(
            f"# {light.words}, {light.lux:g} lx on level ground ({light.source})",
            {"natural_light": {"illuminance_lux": light.lux, "spectrum": light.spectrum}},
        )
    out = [
        sky,
        Part(
            "# Where the camera stands and what lies in the middle of its picture. It is focused"
            "\n# on the target; focus_m = 12.0 would set it by hand.",
            {"station": {"height_m": a.height_m, "aim_m": aim}},
        ),
    ]
    if a.infrared is not None:
        lamp = {
            "name": "infrared", "use": a.infrared, "beside_camera_m": [0.3, 0.0, 0.1],
            "aim_m": aim,
        }  # fmt: skip
        out.append(
            Part(
                "# An infrared illuminator beside the lens: right, forward, up from it.",
                {"illuminator": [lamp]},
            )
        )
    return out


def _task(a: Answers, kind: Kind) -> Part:
    table = {
        "target": kind.target, "name": kind.task, "wanted_probability": a.wanted_probability
    }  # fmt: skip
    done = "every character must be read" if kind.task == "read" else "it must succeed"
    return Part(f"# Share of pictures in which {done}.", {"task": table})


def check_scene_text(text: str) -> None:
    """Read the text as a scene file would be read, so that only valid files are written.

    Raises
    ------
    FileFormatError
        With the key of the first value that is not allowed.
    """
    Scene.from_toml(text, name="new scene")
