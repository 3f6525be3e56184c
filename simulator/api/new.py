"""New scenes and camera profiles from a few answers, as functions."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from simulator.camera.load import Camera
from simulator.report import profile
from simulator.report.wording import say_all
from simulator.scene.load import Scene
from simulator.studies.folder import refuse_overwriting, whole_file
from simulator.studies.new import camera as study
from simulator.studies.new.answers import FIELDS, check_options
from simulator.studies.new.scene import answers_for, scene_text


class _Written:
    """A file that was made, with its comments."""

    text: str

    def save(self, file: str | Path, *, overwrite: bool = False) -> Path:
        """Write the commented file.

        Parameters
        ----------
        file
            Where it goes.
        overwrite
            Whether a file of that name is replaced.

        Returns
        -------
        pathlib.Path
            The file.

        Raises
        ------
        OutputError
            If there is a file of that name, or it cannot be written there.
        """
        path = Path(file)
        refuse_overwriting(path, overwrite, "overwrite=True")
        with whole_file(path, "The file cannot be written here.") as part:
            part.write_text(self.text, encoding="utf-8")
        return path


@dataclass(frozen=True)
class NewScene(_Written):
    """A scene and its commented file."""

    scene: Scene
    text: str
    """The file: TOML with comments."""


@dataclass(frozen=True)
class NewCamera(_Written):
    """A camera profile from a datasheet, and what is known of it."""

    camera: Camera
    text: str
    """The file: TOML with comments, tolerances and where numbers come from."""
    rows: list[profile.Row]
    """What was given, solved, assumed or cannot be known, and why."""
    cautions: list[str]
    """What to beware of, one sentence each."""

    def table(self) -> list[dict[str, Any]]:
        """One row for every number: whether it was given, solved or assumed, and why.

        Returns
        -------
        Rows that pandas takes.
        """
        return [row._asdict() for row in self.rows]


def new_scene(kind: str = "gate", **answers: Any) -> NewScene:
    """A scene from a few answers: a plate at a gate, somebody in a door, and other kinds.

    Parameters
    ----------
    kind
        "gate", "car-park", "door", "room", "fence" or "person".
    **answers
        What is not given is as usual for the kind. `title`; `light`, natural light by name such as
        "overcast-noon" or by amount such as "3 lx"; `distance_m`, `height_m` and `sideways_m`, the
        distance of the target, the height of the camera and how far the target stands to the right
        of its axis [m]; `text` of the plate; `vehicle`, "car", "van" or "truck"; `speed_kmh`
        [km/h]; `infrared`, a light profile beside the camera or None; `lamp_lm`, luminous flux of
        visible lamps [lm], 0 for none; `wanted_probability`, target probability, 0 to 1.

    Returns
    -------
    NewScene
        `scene` to go on with; `save(file)` writes it with comments.

    Raises
    ------
    InputError
        For an answer that is not possible, or that the kind does not ask for.

    References
    ----------
    Every named light has its source in the comments of the file.

    Examples
    --------
    >>> from simulator import new_scene
    >>> new_scene(light="full-moon", infrared=None).scene.model.natural_light.illuminance_lux
    0.25
    >>> new_scene("door").scene.model.task.name
    'recognise'
    """
    check_options(kind, [ASKED.get(name, name) for name in answers if name != TARGET])
    content = scene_text(answers_for(kind, **answers))
    return NewScene(Scene.from_toml(content, name="new scene"), content)


ASKED = {field: name for name, field in FIELDS.items()}
TARGET = "wanted_probability"


def new_camera(**figures: Any) -> NewCamera:
    """A camera profile from the figures of a datasheet.

    Parameters
    ----------
    **figures
        As `nightproof new camera` takes them, with underscores: `width_px`, `height_px`,
        `pixel_pitch_um`, `minimum_lux` with its conditions, `snr_db` with its conditions, `lens`,
        `focal_length_mm` and so on.

    Returns
    -------
    NewCamera
        `camera` to go on with; `save(file)` writes it with comments.

    Raises
    ------
    InputError
        For a figure without its conditions, a value that is not possible, or figures that
        contradict each other or physics.

    References
    ----------
    docs/datasheets.md says what follows from which figure, after EMVA 1288.

    Examples
    --------
    >>> from simulator import new_camera
    >>> made = new_camera(
    ...     title="From a datasheet", width_px=1920, height_px=1080, pixel_pitch_um=2.9,
    ...     lens="varifocal-5-50", focal_length_mm=12,
    ... )
    >>> made.camera.model.sensor.width_px
    1920
    """
    given = {key: str(value) for key, value in figures.items() if value is not None}
    made = study.new_camera(given)
    cautions = say_all(made.solution.cautions)
    return NewCamera(made.camera, profile.text(made), profile.rows(made), cautions)
