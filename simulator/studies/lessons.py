"""All lessons by name."""

from __future__ import annotations

from simulator.errors import NameNotFoundError
from simulator.studies.lesson import Lesson
from simulator.studies.lesson_backlight import BACKLIGHT
from simulator.studies.lesson_infrared import INFRARED
from simulator.studies.lesson_low_light import LOW_LIGHT
from simulator.studies.lesson_motion import MOTION
from simulator.studies.lesson_noise_reduction import NOISE_REDUCTION
from simulator.studies.lesson_pixels import PIXELS

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
            mend="name one of these",
        )
    return LESSONS[name]
