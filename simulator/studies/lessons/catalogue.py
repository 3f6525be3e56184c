"""All lessons by name."""

from __future__ import annotations

from simulator.errors import NameNotFoundError
from simulator.studies.lessons.backlight import BACKLIGHT
from simulator.studies.lessons.infrared import INFRARED
from simulator.studies.lessons.lesson import Lesson
from simulator.studies.lessons.low_light import LOW_LIGHT
from simulator.studies.lessons.motion import MOTION
from simulator.studies.lessons.noise_reduction import NOISE_REDUCTION
from simulator.studies.lessons.pixels import PIXELS

LESSONS = {
    lesson.name: lesson
    for lesson in (BACKLIGHT, LOW_LIGHT, MOTION, PIXELS, INFRARED, NOISE_REDUCTION)
}


def find_lesson(name: str) -> Lesson:
    """A lesson by its name.

    Raises
    ------
    NameNotFoundError
        If there is none of that name.
    """
    if name not in LESSONS:
        raise NameNotFoundError(
            "There is no such lesson.",
            key="lesson",
            given=name,
            allowed=", ".join(LESSONS),
            fix="name one of these",
        )
    return LESSONS[name]
