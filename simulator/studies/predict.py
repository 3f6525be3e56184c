"""The main job: one scene, one camera, one picture, one verdict."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera, bundled_cameras
from simulator.camera.pipeline import (
    State,
    mosaic_of,
)
from simulator.errors import FileFormatError, InputError
from simulator.judge.colour_naming import Naming, colour_seen
from simulator.judge.cycles import Cycles
from simulator.judge.density import EDITION, EDITION_2025, density_class, density_class_2025
from simulator.judge.every import every_target
from simulator.judge.explanation import what_to_measure
from simulator.judge.lighting import Contribution, contributions, totals
from simulator.judge.limits import Coalitions, find_limits, limit_rows
from simulator.judge.passes import PASS_TRIALS, PassReading, moments_of_pass, read_over_pass
from simulator.judge.readers.named import reader_of
from simulator.judge.removal import Situation
from simulator.judge.repeats import TextPictures, text_pictures
from simulator.judge.result import (
    Exposure,
    Geometry,
    Limit,
    Messages,
    Signal,
    Stream,
    TargetBrief,
    TargetSeen,
    Task,
    Verdict,
    Word,
)
from simulator.judge.target import (
    JudgedTarget,
    JudgedText,
    main_material,
    text_of,
)
from simulator.judge.together import Together, fixed_together
from simulator.judge.trials import TRIALS, Probability
from simulator.judge.verdict import cautions, verdict_word
from simulator.messages import Message, unique
from simulator.plain import whole_number
from simulator.scene.load import Scene
from simulator.studies.conditions import conditions
from simulator.studies.judging import Judged, judge_cycles, judge_text, reading_of
from simulator.studies.provenance import input_hash, versions
from simulator.studies.remedies.lever import Site
from simulator.studies.remedies.search import Remedy, find_remedies
from simulator.studies.session import Session, open_session
from simulator.studies.uncertainty import (
    Spread,
    combined_interval,
    sensitivity_rows,
    spread,
)
from simulator.units import Image

LIMITS_BELOW = 0.98
"""Limits are sought only where the reading can still gain."""

Progress = Callable[[str, float], None]


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
        return _predict(scene, camera, seed, say, trials, others, tolerances)
    except InputError as error:
        if error.file is None:
            raise error.but(file=scene.file) from None
        raise


def _predict(
    scene: Scene,
    camera: Camera,
    seed: int,
    say: Progress,
    trials: int,
    cameras: Sequence[Camera] | None,
    tolerances: bool,
) -> Result:
    """The prediction; remedies are sought if cameras, none or more, are given."""
    say("building the scene", 0.02)
    session = open_session(scene, camera, seed=seed)
    judged = _judged(session, say, trials)
    limiting = _limiting(session, judged, say)
    interval = _interval(session, judged, say, tolerances)
    found: list[Remedy] = []
    if cameras is not None and interval.word != "legible":
        found = find_remedies(
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
    verdict = _verdict(session, judged, limiting, interval, found, passing, targets, rows)
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


def _judged(session: Session, say: Progress, trials: int) -> Judged:
    """The text read, or the target looked at, in the picture that the camera takes."""
    target, task = session.target, session.scene.model.task
    say("settling the exposure", 0.1)
    in_scene = session.in_scene
    say("tracing the picture", 0.2)
    buffer, light = session.whole
    if in_scene.camera.stream.codec != "none":
        say("finding the quantiser of the stream", 0.3)
    state, seed = session.coded, session.seed
    if isinstance(target, JudgedText):
        return judge_text(in_scene, state, target, buffer, light, seed, say, trials, task.reader)
    return judge_cycles(in_scene, state, target, buffer, light, task.name, seed, say)


class _Limiting(NamedTuple):
    """What limits the task, with which others each must be fixed, and what was asked for it."""

    limits: list[Limit]
    company: dict[str, Together]
    asked: Coalitions


def _limiting(session: Session, judged: Judged, say: Progress) -> _Limiting:
    in_scene, state, value = session.in_scene, session.coded, judged.probability.value
    asked = Coalitions(judged.sight, Situation(in_scene, state, judged.target), value)
    if value >= LIMITS_BELOW:
        return _Limiting([], {}, asked)
    say("asking what limits it", 0.6)
    limits = find_limits(in_scene, state, judged.target, value, sight=judged.sight, asked=asked)
    return _Limiting(limits, fixed_together(limits, value, asked), asked)


class _Interval(NamedTuple):
    """The interval of the probability, the verdict's word, and the draws behind them."""

    low: float
    high: float
    word: Word
    drawn: Spread | None


def _interval(session: Session, judged: Judged, say: Progress, tolerances: bool) -> _Interval:
    drawn = None
    if tolerances:
        say("drawing from the tolerances", 0.68)
        drawn = spread(session)
    probability = judged.probability
    low, high = combined_interval(probability.value, probability.low, probability.high, drawn)
    wanted = session.scene.model.task.wanted_probability
    return _Interval(low, high, verdict_word(probability.value, low, high, wanted), drawn)


def _light_on_target(session: Session) -> list[Contribution]:
    target = session.target
    return contributions(
        session.in_scene, session.state.mode, target.card.centre_m, target.card.normal,
        main_material(target.card), target.card_index,
    )  # fmt: skip


def _verdict(
    session: Session,
    judged: Judged,
    limiting: _Limiting,
    interval: _Interval,
    found: Sequence[Remedy],
    passing: PassReading | None,
    targets: Sequence[TargetBrief],
    rows: list[Contribution],
) -> Verdict:
    """Everything that was found, as the typed record that verdict.json holds."""
    scene, camera, model = session.scene, session.camera, session.scene.model
    in_scene, state, probability = session.in_scene, session.coded, judged.probability
    drawn = interval.drawn
    draws = 0 if drawn is None else len(drawn.draws)
    sensitivity = sensitivity_rows(drawn)
    lux, irradiance = totals(rows)
    return Verdict(
        scene=scene.name,
        camera=camera.name,
        title=model.title,
        question=model.question,
        seed=session.seed,
        input_hash=input_hash(scene, camera),
        versions=versions(),
        exposure=_exposure(state),
        stream=_stream(in_scene, state),
        geometry=_geometry(session),
        signal=Signal(
            illuminance_lux=lux,
            irradiance_w_m2=irradiance,
            **vars(judged.figures),
            **vars(judged.picture),
        ),
        target=_target_seen(session, probability, passing),
        targets=tuple(targets),
        task=Task(name=model.task.name, wanted_probability=model.task.wanted_probability),
        verdict=interval.word,
        probability=probability.value,
        probability_low=interval.low,
        probability_high=interval.high,
        probability_sampling_low=probability.low,
        probability_sampling_high=probability.high,
        tolerance_draws=draws,
        sensitivity=sensitivity,
        trials=probability.trials,
        reading=reading_of(judged),
        limits=tuple(
            _together(row, limiting.company.get(row.factor))
            for row in limit_rows(limiting.limits, probability.value)
        ),
        probability_all_fixed=limiting.asked.ideal,
        remedies=tuple(remedy.row() for remedy in found),
        messages=Messages(
            cautions=tuple(unique([*cautions(model, in_scene.world), *_of_remedies(found)])),
            conditions=tuple(conditions(in_scene, state, camera, model, probability.trials, draws)),
            to_settle=None if drawn is None else what_to_measure(interval.word, sensitivity),
        ),
    )


def _geometry(session: Session) -> Geometry:
    target, view = session.target, session.in_scene.view
    density = density_class(view.pixels_per_m(target.depth_m, target.place_px))
    return Geometry(
        distance_m=target.distance_m,
        pixels_per_m=density.pixels_per_m,
        field_width_m=view.width_px / density.pixels_per_m,
        density_class=density.density_class,
        density_edition=EDITION,
        density_class_2025=density_class_2025(density.pixels_per_m),
        density_edition_2025=EDITION_2025,
    )


def _target_seen(
    session: Session, probability: Probability | Cycles | Naming, passing: PassReading | None
) -> TargetSeen:
    target, entry = session.target, session.entry
    counted = probability if isinstance(probability, Cycles) else None
    return TargetSeen(
        name=entry.name,
        kind=entry.kind,
        text=text_of(entry),
        box_px=target.box_px,
        character_height_px=(
            target.character_height_px if isinstance(target, JudgedText) else None
        ),
        frames_of_pass=None if passing is None else len(passing.times_s),
        probability_over_pass=None if passing is None else passing.value,
        cycles=None if counted is None else counted.cycles,
        drawing_kept=None if counted is None else counted.kept,
        probability_by_cycles=None if counted is None else counted.by_cycles,
        colour=colour_seen(probability) if isinstance(probability, Naming) else None,
    )


def _over_pass(session: Session, stray_light: Image) -> PassReading | None:
    """Reading over the frames of a pass, by the quick estimate; None where no text passes."""
    entry, task = session.entry, session.scene.model.task
    if task.name != "read":
        return None
    times = moments_of_pass(session.in_scene, entry)
    if len(times) < 2:
        return None
    return read_over_pass(
        session.in_scene, session.coded, entry, times, seed=session.seed, trials=PASS_TRIALS,
        reader=reader_of(task.reader).estimate, stray_light=stray_light,
    )  # fmt: skip


def _exposure(state: State) -> Exposure:
    exposure = state.exposure
    return Exposure(
        mode=state.mode,
        shutter_s=exposure.shutter_s,
        gain_db=exposure.gain_db,
        f_number=exposure.f_number,
        metering=exposure.metering,
        limited_by=exposure.limited_by,
        accumulated_frames=exposure.accumulated,
        estimated_lux=state.estimated_lux,
    )


def _stream(in_scene: CameraInScene, state: State) -> Stream:
    stream = in_scene.camera.stream
    return Stream(
        codec=stream.codec,
        bitrate_kbit_s=None if state.quantiser is None else stream.bitrate_kbit_s,
        quantiser=state.quantiser,
    )


def _together(row: Limit, company: Together | None) -> Limit:
    """A limit with the others with which it must be fixed, if it must."""
    if company is None:
        return row
    found = {"together_with": company.factors, "probability_together": company.probability}
    return row.model_copy(update=found)


def _of_remedies(found: Sequence[Remedy]) -> list[Message]:
    """Cautions of the changes that would reach the target probability."""
    return [message for remedy in found if remedy.reaches for message in remedy.cautions]


def _lit(rows: list[Contribution]) -> list[Contribution]:
    return sorted(rows, key=lambda row: -row.electrons_per_s)
