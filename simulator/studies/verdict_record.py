"""What a prediction found, as the typed record that verdict.json holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import (
    State,
)
from simulator.judge.colour_naming import Naming, colour_seen
from simulator.judge.cycles import Cycles
from simulator.judge.density import EDITION, EDITION_2025, density_class, density_class_2025
from simulator.judge.explanation import what_to_measure
from simulator.judge.lighting import Contribution, totals
from simulator.judge.limits import Coalitions, limit_rows
from simulator.judge.passes import PassReading
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
    JudgedText,
    text_of,
)
from simulator.judge.together import Together
from simulator.judge.trials import Probability
from simulator.judge.verdict import cautions
from simulator.messages import Message, unique
from simulator.studies.conditions import conditions
from simulator.studies.judging import Judged, reading_of
from simulator.studies.provenance import input_hash, versions
from simulator.studies.remedies.search import Remedy
from simulator.studies.session import Session
from simulator.studies.uncertainty import (
    Spread,
    sensitivity_rows,
)


class Limiting(NamedTuple):
    """What limits the task, with which others each must be fixed, and what was asked for it."""

    limits: list[Limit]
    company: dict[str, Together]
    asked: Coalitions


class Interval(NamedTuple):
    """The interval of the probability, the verdict's word, and the draws behind them."""

    low: float
    high: float
    word: Word
    drawn: Spread | None


def verdict_of(
    session: Session,
    judged: Judged,
    limiting: Limiting,
    interval: Interval,
    remedies: Sequence[Remedy],
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
        remedies=tuple(remedy.row() for remedy in remedies),
        messages=Messages(
            cautions=tuple(unique([*cautions(model, in_scene.world), *_of_remedies(remedies)])),
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
    values = {"together_with": company.factors, "probability_together": company.probability}
    return row.model_copy(update=values)


def _of_remedies(remedies: Sequence[Remedy]) -> list[Message]:
    """Cautions of the changes that would reach the target probability."""
    return [message for remedy in remedies if remedy.reaches for message in remedy.cautions]
