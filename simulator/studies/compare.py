"""A fair side-by-side: several cameras before the same scenes, all else held fixed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from simulator.camera.load import Camera
from simulator.dotted import Changes
from simulator.errors import InputError
from simulator.files import find, read_toml, split_tolerances
from simulator.judge.result import Reserve, Verdict
from simulator.messages import Message
from simulator.scene.load import Scene
from simulator.studies.predict import Result, predict

Progress = Callable[[str, float], None]
FRAMING_SLACK = 1.01
"""Framing counts as the same within one per cent, which no eye tells."""


@dataclass(frozen=True)
class Standing:
    """Place of one camera before one scene.

    `rank` counts from 1. Cameras that noise cannot separate by their probability stand in the order
    of their reserve, and share a rank where that does not separate them either.
    """

    camera: str
    rank: int
    tied: bool
    probability: float
    probability_low: float
    probability_high: float
    verdict: str
    price: float | None
    reserve: Reserve | None = None
    """How much worse each thing may get; None where the task does not reach its target."""


@dataclass(frozen=True)
class Comparison:
    """Results by scene and camera, what was held fixed, and who stands where."""

    scenes: list[Scene]
    cameras: list[Camera]
    results: dict[tuple[str, str], Result]
    standings: dict[str, list[Standing]]
    held_fixed: list[Message]
    seed: int


def framed(camera: Camera, reference: Camera) -> float:
    """Focal length at which a camera shows as wide a field as another one [mm].

    Raises
    ------
    InputError
        If the lens does not reach it.
    """
    a, b = reference.model, camera.model
    wide_a = a.sensor.width_px * a.sensor.pixel_pitch_um
    wide_b = b.sensor.width_px * b.sensor.pixel_pitch_um
    wanted = a.lens.focal_length_mm * wide_b / wide_a
    low, high = b.lens.focal_min_mm, b.lens.focal_max_mm
    if not low / FRAMING_SLACK <= wanted <= high * FRAMING_SLACK:
        raise InputError(
            f"{camera.name} cannot frame as {reference.name} does: its lens would have to be"
            f" {wanted:.2f} mm long.",
            file=camera.file,
            key="lens.focal_length_mm",
            given=round(wanted, 2),
            allowed=f"{low:g} to {high:g} mm with this lens",
            fix="leave out --same-framing, give --lens a lens that reaches it, or put another"
            " camera first",
        )
    return float(min(max(wanted, low), high))


def _with_lens(given: Camera | str | Path, lens: str | None, sets: Sequence[str]) -> Camera:
    """A camera with another lens, at its own focal length where the lens reaches it."""
    camera = Camera.of(given, "cameras")
    if lens is None:
        return camera.set(sets)
    ends, _ = split_tolerances(read_toml(find("lenses", lens)))
    low, high = ends.get("focal_min_mm"), ends.get("focal_max_mm")
    focal: float | None = camera.model.lens.focal_length_mm
    if low is None or high is None or not low <= focal <= high:
        focal = low
    return camera.set(
        {"lens.use": lens, "lens.focal_length_mm": focal, "lens.f_number": None}, sets
    )


def load_cameras(
    given: Sequence[Camera | str | Path],
    *,
    lens: str | None = None,
    same_framing: bool = False,
    sets: Sequence[str] = (),
) -> list[Camera]:
    """Cameras for a comparison, with one lens and one framing if wanted.

    Parameters
    ----------
    given
        Cameras as they are, by file or by bundled name.
    lens
        A lens file for every body; the mount and the image circle are checked.
    same_framing
        Every camera shows as wide a field as the first one.
    sets
        Values set in every camera.

    Raises
    ------
    InputError
        For a name, lens or framing that is at fault.
    """
    cameras = [_with_lens(one, lens, sets) for one in given]
    names = [camera.name for camera in cameras]
    if len(set(names)) != len(names):
        raise InputError(
            "Two cameras have the same name.", argument="cameras", given=", ".join(names),
            fix="name each once; settings of one camera go side by side as variants",
        )  # fmt: skip
    if not same_framing:
        return cameras
    out = [cameras[0]]
    for camera in cameras[1:]:
        focal = framed(camera, cameras[0])
        out.append(_refitted(camera, {"focal_length_mm": focal}))
    return out


def _refitted(camera: Camera, lens: dict[str, float]) -> Camera:
    """The camera with some values of its lens changed; the f-number stays possible."""
    wide_open = {"lens.f_number": None} if "focal_length_mm" in lens else {}
    return camera.set({f"lens.{key}": value for key, value in lens.items()}, wide_open)


VARIANT_FORM = "NAME: KEY=VALUE KEY=VALUE ..."


def parse_variant(text: str) -> tuple[str, list[str]]:
    """Name and settings of a variant, such as "backlight: exposure.metering=backlight".

    Raises
    ------
    InputError
        For a text of another form.
    """
    name, colon, rest = text.partition(":")
    name, sets = name.strip(), rest.split()
    if not colon or not name or not sets or any("=" not in one for one in sets):
        raise InputError(
            "This is not a variant of a camera.",
            argument="variant",
            given=text,
            allowed=VARIANT_FORM,
            fix="for example backlight: exposure.metering=backlight",
        )
    return name, sets


def variant_of(camera: Camera, name: str, changes: Changes) -> Camera:
    """The camera in other settings, under a name of its own.

    Raises
    ------
    InputError
        For a key or value that is at fault.
    """
    changed = camera.set(changes, {"title": f"{camera.model.title}: {name}"[:120]})
    return replace(changed, name=name)


RESERVE_APART = 1.1
"""Reserves count as different from this factor on, which is what their search resolves."""


def room(reserve: Reserve | None) -> tuple[float, float]:
    """What cameras of equal probability stand in the order of: reserve in light, then in distance,
    in steps of `RESERVE_APART`."""
    if reserve is None:
        return -1.0, -1.0
    light, distance = reserve.darker_times or 1.0, reserve.farther_to_m or 1.0
    step = math.log(RESERVE_APART)
    return round(math.log(light) / step), round(math.log(distance) / step)


def ranked(rows: Sequence[tuple[str, Verdict, float | None]]) -> list[Standing]:
    """Cameras by probability; those that cannot be separated by it stand in the order of reserve.

    Two probabilities are told apart where they differ by more than the root of the sum of squares
    of the halves of their intervals that face each other.

    Parameters
    ----------
    rows
        Camera, its verdict and price.
    """
    order = sorted(rows, key=lambda row: -row[1].probability)
    out: list[Standing] = []
    rank = 1
    for i, (name, verdict, price) in enumerate(order):
        tied = False
        if i > 0:
            best = out[rank - 1]
            apart = best.probability - verdict.probability
            room = math.hypot(
                best.probability - best.probability_low,
                verdict.probability_high - verdict.probability,
            )
            tied = apart <= room
            if not tied:
                rank = i + 1
        out.append(
            Standing(
                name, rank, tied, verdict.probability, verdict.probability_low,
                verdict.probability_high, verdict.verdict, price, verdict.reserve,
            )
        )  # fmt: skip
    return _by_reserve(out)


def _by_reserve(rows: Sequence[Standing]) -> list[Standing]:
    """Cameras of one rank parted by their reserve, as far as that tells them apart."""
    out = []
    for rank in dict.fromkeys(row.rank for row in rows):
        group = sorted(
            (row for row in rows if row.rank == rank),
            key=lambda row: tuple(-one for one in room(row.reserve)),
        )
        for row in group:
            better = sum(room(other.reserve) > room(row.reserve) for other in group)
            same = sum(room(other.reserve) == room(row.reserve) for other in group)
            out.append(replace(row, rank=rank + better, tied=same > 1))
    return out


def cheapest(standings: Sequence[Standing]) -> str | None:
    """The cheapest camera whose verdict is "legible"; None if none is, or a price is missing."""
    serving = [row for row in standings if row.verdict == "legible"]
    if not serving or any(row.price is None for row in serving):
        return None
    return min(serving, key=lambda row: (row.price or 0.0, row.rank)).camera


def _part_of(say: Progress, name: str, done: int, jobs: int) -> Progress:
    """Progress of one prediction as part of several."""
    return lambda text, share: say(f"{name}: {text}", (done + share) / jobs)


def compare(
    scenes: Sequence[Scene],
    cameras: Sequence[Camera],
    *,
    seed: int = 0,
    lens: str | None = None,
    same_framing: bool = False,
    progress: Progress | None = None,
) -> Comparison:
    """Predict every scene with every camera, alike in everything but the camera.

    `lens` and `same_framing` only say what `load_cameras` did, for the list of what is held fixed.
    """
    say = progress or (lambda text, share: None)
    results: dict[tuple[str, str], Result] = {}
    standings = {}
    jobs = len(scenes) * len(cameras)
    for i, scene in enumerate(scenes):
        for j, camera in enumerate(cameras):
            done = i * len(cameras) + j
            name = f"{scene.name} with {camera.name}"
            say(name, done / jobs)
            results[scene.name, camera.name] = predict(
                scene,
                camera,
                seed=seed,
                progress=_part_of(say, name, done, jobs),
                remedies=False,
                tolerances=False,
                reserve=True,
            )
        standings[scene.name] = ranked(
            [(c.name, results[scene.name, c.name].verdict, c.model.price) for c in cameras]
        )
    say("done", 1.0)
    fixed = [
        Message("fixed.scene"),
        Message("fixed.seed", {"seed": seed}),
        Message("fixed.focus"),
        Message("fixed.settings"),
        Message("fixed.recording"),
    ]
    if lens is not None:
        fixed.append(Message("fixed.lens", {"lens": lens}))
    if same_framing:
        fixed.append(Message("fixed.framing", {"camera": cameras[0].name}))
    return Comparison(list(scenes), list(cameras), results, standings, fixed, seed)
