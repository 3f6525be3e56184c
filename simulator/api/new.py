"""New scenes and camera profiles from a few answers, as functions."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from simulator.camera.load import Camera
from simulator.errors import OutputError
from simulator.report import profile
from simulator.report.wording import say_all
from simulator.scene.load import Scene
from simulator.studies.folder import whole_file
from simulator.studies.new import camera as study
from simulator.studies.new.scene import Answers, scene_text


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
        if path.exists() and not overwrite:
            raise OutputError(
                "There is a file of that name.", file=path, given=str(path),
                fix="choose another name, or say overwrite=True",
            )  # fmt: skip
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


def new_scene(
    *,
    title: str = Answers.title,
    light: str = Answers.light,
    distance_m: float = Answers.distance_m,
    height_m: float = Answers.height_m,
    sideways_m: float = Answers.sideways_m,
    text: str = Answers.text,
    vehicle: str = Answers.vehicle,
    speed_kmh: float = Answers.speed_kmh,
    infrared: str | None = Answers.infrared,
    lamp_lm: float = Answers.lamp_lm,
    wanted_probability: float = Answers.wanted_probability,
) -> NewScene:
    """A plate on a vehicle before a camera, from a few answers.

    Parameters
    ----------
    title
        One line for what it is.
    light
        Natural light by name, such as "overcast-noon" or "town-night".
    distance_m, height_m, sideways_m
        Distance of the plate, height of the camera, and how far the plate stands to the right of
        the camera's axis [m].
    text
        Text of the plate.
    vehicle
        "car", "van" or "truck".
    speed_kmh
        Its speed [km/h].
    infrared
        Light profile beside the camera, or None.
    lamp_lm
        Luminous flux of a lamp near the plate [lm]; 0 for none.
    wanted_probability
        Target probability, 0 to 1.

    Returns
    -------
    NewScene
        `scene` to go on with; `save(file)` writes it with comments.

    Raises
    ------
    InputError
        For an answer that is not possible.

    References
    ----------
    Every named light has its source in the comments of the file.

    Examples
    --------
    >>> from simulator import new_scene
    >>> new_scene(light="full-moon", infrared=None).scene.model.natural_light.illuminance_lux
    0.25
    """
    answers = Answers(
        title, light, distance_m, height_m, sideways_m, text, vehicle, speed_kmh, infrared,
        lamp_lm, wanted_probability,
    )  # fmt: skip
    content = scene_text(answers)
    return NewScene(Scene.from_toml(content, name="new scene"), content)


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
    told = say_all(made.found.cautions)
    return NewCamera(made.camera, profile.text(made), profile.rows(made), told)
