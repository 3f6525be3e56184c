"""The main job: one scene, one camera, one picture, one verdict."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.bounded import give_back
from simulator.camera.in_scene import CameraInScene
from simulator.camera.kept_layers import keeping_layers
from simulator.camera.load import Camera, bundled_cameras
from simulator.camera.pipeline import (
    State,
    mosaic_of,
)
from simulator.errors import FileFormatError, InputError
from simulator.judge.every import every_target
from simulator.judge.lighting import Contribution, contributions
from simulator.judge.limits import Coalitions, find_limits
from simulator.judge.passes import PASS_TRIALS, PassReading, moments_of_pass, read_over_pass
from simulator.judge.people import Observed
from simulator.judge.readers.named import reader_of
from simulator.judge.removal import Situation
from simulator.judge.repeats import TextPictures, text_pictures
from simulator.judge.result import Verdict, Word
from simulator.judge.target import (
    JudgedTarget,
    JudgedText,
    main_material,
)
from simulator.judge.together import fixed_together
from simulator.judge.trials import TRIALS
from simulator.judge.verdict import verdict_word
from simulator.plain import whole_number
from simulator.scene.load import Scene
from simulator.scene.model import Task
from simulator.scene.radiosity.field import rough
from simulator.studies.judging import Judged, judge_cycles, judge_text, look_at_target, read_text
from simulator.studies.remedies.lever import Site
from simulator.studies.remedies.search import Remedy, find_remedies
from simulator.studies.reserve import reserve_of, with_reserve
from simulator.studies.session import Judgement, Session, open_session
from simulator.studies.uncertainty import (
    combined_interval,
    spread,
)
from simulator.studies.verdict_record import Interval, Limiting, verdict_of
from simulator.units import Image

LIMITS_BELOW = 0.98
"""Limits are sought only where the reading can still gain."""

Progress = Callable[[str, float], None]


class Count(NamedTuple):
    """How often the task succeeds, with its interval from the pictures alone, before tolerances.

    `word` is what a verdict of it would be, `task` that of the scene.
    """

    value: float
    low: float
    high: float
    word: Word
    task: Task


Counted = Callable[[Count], None]
Pictured = Callable[[NDArray[np.uint8], tuple[int, int, int, int]], None]
"""Takes the picture (rows, columns, 3) [8-bit levels] and the target's place in it [px]."""


class _Early(NamedTuple):
    """Who is told what stands before the verdict does."""

    counted: Counted | None
    pictured: Pictured | None


@dataclass(frozen=True)
class Result:
    """A prediction.

    `stages` holds every intermediate by name, each with its unit: "rate" (rows, columns, 3)
    [e-/s per pixel], "mosaic" (rows, columns) [DN], "frame" (rows, columns, 3) [8-bit levels],
    "region_rate" [e-/s per pixel], "lights" (contributions on the target).
    """

    scene: Scene
    camera: Camera
    in_scene: CameraInScene
    state: State
    target: JudgedTarget
    verdict: Verdict
    frame: NDArray[np.uint8]
    stages: dict[str, tuple[Any, str]] = field(repr=False)

    def repeats(self, count: int, texts: Sequence[str] | int | None = None) -> list[TextPictures]:
        """Delivered pictures of the target's text, again and again, for any reader of your own.

        Parameters
        ----------
        count
            Pictures in all.
        texts
            None for the scene's own text; a number for so many random texts of the same design; or
            the texts.

        Returns
        -------
        For each text its pictures (n, rows, columns, 3) [8-bit levels] behind the recording, each
        with new noise, and where box and characters lie in them.

        Raises
        ------
        FileFormatError
            If the task is not to read, or a text cannot be written on that board.
        """
        if not isinstance(self.target, JudgedText):
            raise FileFormatError(
                "Repeats are of a text, and this task is not to read.",
                key="task.name",
                given=self.verdict.task.name,
                allowed="read",
            )
        return text_pictures(
            self.in_scene, self.state, self.target, count, texts=texts, seed=self.verdict.seed
        )


def predict(
    scene: Scene,
    camera: Camera,
    seed: int = 0,
    progress: Progress | None = None,
    trials: int = TRIALS,
    *,
    remedies: bool = True,
    cameras: Sequence[Camera] | None = None,
    tolerances: bool = True,
    reserve: bool = False,
    answered: Callable[[Verdict], None] | None = None,
    counted: Counted | None = None,
    pictured: Pictured | None = None,
) -> Result:
    """Predict the picture and judge it.

    Parameters
    ----------
    seed
        Steers every random draw; the same inputs and seed give the same bytes.
    progress
        Called with what is being done and the share done so far.
    trials
        Independent repetitions of the whole camera for the probability that a text is read.
    remedies
        Whether to search for what would fix a verdict that is not legible, which takes longer than
        all the rest.
    cameras
        Other cameras that the search may propose; without them every bundled one.
    tolerances
        Whether the interval holds the tolerances of profile and scene, by draws (`uncertainty`),
        which takes several times as long as the prediction itself.
    reserve
        Whether the reserve of a legible verdict is sought (`reserve`).
    answered
        Called with the verdict as soon as it stands, before its reserve is sought.
    counted
        Called as soon as it is known how often the task succeeds, before limits, tolerances and
        remedies are looked for; for a text or a person before the whole picture is traced.
    pictured
        Called as soon as the picture stands.

    Raises
    ------
    InputError
        For a scene that cannot be built, lit or imaged; it names the file and key.
    """
    say = progress or (lambda text, share: None)
    scene, camera = Scene.of(scene, "scene"), Camera.of(camera, "camera")
    seed, trials = whole_number(seed, "seed"), whole_number(trials, "trials", 1)
    try:
        if cameras is None and remedies:
            cameras = bundled_cameras(but=camera.name)
        others = [c for c in cameras or () if c.name != camera.name] if remedies else None
        prediction = _predict(
            scene, camera, seed, say, trials, others, tolerances, reserve, answered,
            _Early(counted, pictured),
        )  # fmt: skip
    except InputError as error:
        if error.file is None:
            raise error.but(file=scene.file) from None
        raise
    give_back()
    return prediction


def _predict(
    scene: Scene,
    camera: Camera,
    seed: int,
    say: Progress,
    trials: int,
    cameras: Sequence[Camera] | None,
    tolerances: bool,
    reserve: bool,
    answered: Callable[[Verdict], None] | None,
    early: _Early,
) -> Result:
    """The prediction; remedies are sought if cameras, none or more, are given."""
    say("building the scene", 0.02)
    session = open_session(scene, camera, seed=seed)
    with keeping_layers():
        judged = _judged(session, say, trials, early)
    limiting = _limiting(session, judged, say)
    interval = _interval(session, judged, say, tolerances)
    fixes: list[Remedy] = []
    if cameras is not None and interval.word != "legible":
        fixes = find_remedies(
            Site(scene, camera, session.mounted, session.coded, judged.target),
            limiting.limits, seed, cameras=cameras,
            ideal=limiting.asked.quick if limiting.limits else None,
            progress=lambda share: say("seeking remedies", 0.7 + 0.22 * share),
        )  # fmt: skip
    say("judging the pass", 0.92)
    passing = _over_pass(session, session.whole.light.stray_light)
    say("judging every target", 0.93)
    in_scene, state, task = session.in_scene, session.coded, scene.model.task
    targets = every_target(
        in_scene, state, list(scene.model.target), judged.frame,
        judged=session.entry.name,
        probability=judged.probability.value if task.name == "read" else None,
        stray_light=session.whole.light.stray_light, seed=seed, reader=task.reader,
    )  # fmt: skip
    say("adding up", 0.97)
    rows = _light_on_target(session)
    verdict = verdict_of(session, judged, limiting, interval, fixes, passing, targets, rows)
    if answered is not None:
        answered(verdict)
    if reserve and interval.word == "legible":
        say("seeking the reserve", 0.98)
        verdict = with_reserve(verdict, reserve_of(session, passes=True))
    mosaic = mosaic_of(in_scene, state, judged.shown, seed=seed)[0]
    stages: dict[str, tuple[Any, str]] = {
        "rate": (judged.shown, "e-/s per pixel"),
        "mosaic": (mosaic, "DN"),
        "frame": (judged.frame, "8-bit levels"),
        "region_rate": (judged.region, "e-/s per pixel"),
        "lights": (_lit(rows), "lx or W/m² on the target"),
    }
    say("done", 1.0)
    return Result(scene, camera, in_scene, state, session.target, verdict, judged.frame, stages)


def _judged(session: Session, say: Progress, trials: int, early: _Early) -> Judged:
    """The text read, or the target looked at, in the picture that the camera takes.

    A text is read, and a person looked at, first: of the whole picture they need only what a
    recorded stream makes of it.
    """
    target, task = session.target, session.scene.model.task
    say("settling the exposure", 0.1)
    in_scene = session.in_scene
    if in_scene.camera.stream.codec != "none":
        say("finding the quantiser of the stream", 0.15)
    state, seed = session.coded, session.seed
    if isinstance(target, JudgedText):
        say("reading the text", 0.2)
        read = read_text(in_scene, state, target, seed, trials, task.reader)
        _count(task, read.probability, early)
        say("tracing the picture", 0.3)
        judged = judge_text(
            in_scene, state, target, read, *session.whole, seed, say, task.reader
        )  # fmt: skip
    else:
        say("looking at the target", 0.2)
        looked = look_at_target(in_scene, state, target, task.name, seed)
        if looked.seen is not None:
            _count(task, looked.seen, early)
        say("tracing the picture", 0.3)
        judged = judge_cycles(in_scene, state, looked, *session.whole, task.name, seed, say)
        if looked.seen is None:
            _count(task, judged.probability, early)
    if early.pictured is not None:
        early.pictured(judged.frame, judged.target.box_px)
    return judged


def _count(task: Task, judgement: Judgement | Observed, early: _Early) -> None:
    """Tell how often the task succeeds."""
    if early.counted is not None:
        low, high = combined_interval(judgement.value, judgement.low, judgement.high, None)
        word = verdict_word(judgement.value, low, high, task.wanted_probability)
        early.counted(Count(judgement.value, low, high, word, task))


def _limiting(session: Session, judged: Judged, say: Progress) -> Limiting:
    in_scene, state, value = session.in_scene, session.coded, judged.probability.value
    asked = Coalitions(judged.sight, Situation(in_scene, state, judged.target), value)
    if value >= LIMITS_BELOW:
        return Limiting([], {}, asked)
    say("asking what limits it", 0.6)
    # layers of a text are there already; an observer's pictures are traced for many causes anew
    traced = nullcontext() if isinstance(judged.target, JudgedText) else rough()
    with traced:
        limits = find_limits(in_scene, state, judged.target, value, sight=judged.sight, asked=asked)
        return Limiting(limits, fixed_together(limits, value, asked), asked)


def _interval(session: Session, judged: Judged, say: Progress, tolerances: bool) -> Interval:
    drawn = None
    if tolerances:
        say("drawing from the tolerances", 0.68)
        drawn = spread(session)
    probability = judged.probability
    low, high = combined_interval(probability.value, probability.low, probability.high, drawn)
    wanted = session.scene.model.task.wanted_probability
    return Interval(low, high, verdict_word(probability.value, low, high, wanted), drawn)


def _light_on_target(session: Session) -> list[Contribution]:
    target = session.target
    return contributions(
        session.in_scene, session.state.mode, target.card.centre_m, target.card.normal,
        main_material(target.card), target.card_index,
    )  # fmt: skip


def _over_pass(session: Session, stray_light: Image) -> PassReading | None:
    """Reading over the frames of a pass, by the quick estimate; None where no text passes."""
    entry, task = session.entry, session.scene.model.task
    if task.name != "read":
        return None
    times = moments_of_pass(session.in_scene, entry)
    if len(times) < 2:
        return None
    # an estimate at some moments beside the verdict: light interpolated over even parts does
    with rough():
        return read_over_pass(
            session.in_scene, session.coded, entry, times, seed=session.seed, trials=PASS_TRIALS,
            reader=reader_of(task.reader).estimate, stray_light=stray_light,
        )  # fmt: skip


def _lit(rows: list[Contribution]) -> list[Contribution]:
    return sorted(rows, key=lambda row: -row.electrons_per_s)
