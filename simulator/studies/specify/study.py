"""From a scene's question to ways that can be bought: search, choice, proof, direct answers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from simulator.camera.load import Camera, bundled_cameras
from simulator.errors import InputError
from simulator.files import bundled_names
from simulator.messages import Message
from simulator.scene.load import Scene
from simulator.studies import trade
from simulator.studies.lighting.lamp_classes import lamp_classes
from simulator.studies.lighting.lamps import KINDS
from simulator.studies.remedies.rest_of_picture import BLACKENED
from simulator.studies.runner import open_pool
from simulator.studies.session import open_session
from simulator.studies.specify.answers import AnswerPoint, lens_answer, wide_range_answer
from simulator.studies.specify.choice import MORE_ROOM, MOST_ROOM, Chosen, chosen_ways
from simulator.studies.specify.design import Design
from simulator.studies.specify.families import (
    FAMILIES,
    Failed,
    Family,
    Point,
    Solved,
    no_infrared,
    solve,
)
from simulator.studies.specify.overview import OverviewPoint, overview_of
from simulator.studies.specify.places import FROM_THE_FRONT
from simulator.studies.specify.proof import Proof, ProofPoint, completed, prove
from simulator.studies.specify.result import (
    ROLES,
    Ask,
    Role,
    Specification,
    Way,
    lamp_key,
    parts_of,
)
from simulator.studies.specify.screens import angles_of, lens_choice, lens_range
from simulator.validation import nearest

Progress = Callable[[str, float], None]
USUAL: tuple[Family, ...] = ("settings", "infrared-850", "infrared-940")
OTHERS: tuple[Family, ...] = ("white", "nearer")
"""Families that are searched first, and those that are where fewer than `ENOUGH` of them work."""
STRAIGHT: tuple[Family, ...] = ("nearer",)
"""Searched first where the target is seen at too wide an angle: the place is at fault then."""
ENOUGH = 2
MOST_CAMERAS = 2
"""Bundled cameras that are searched where none is named."""


Answered = Callable[[Scene, Way], None]


def specify(
    scene: Scene,
    cameras: Sequence[Camera],
    ask: Ask,
    *,
    progress: Progress | None = None,
    answered: Answered | None = None,
) -> Specification:
    """Ways to do a scene's task that can be bought, set and mounted.

    Parameters
    ----------
    cameras
        Cameras that may be bought; empty for the best of the bundled ones.
    ask
        Reserve, caps, prices, budget.
    progress
        Called with what is being done and the share done.
    answered
        Called with the scene and the first way that holds on fresh noise, as soon as it is known;
        its tolerances and reserve are still to be sought.

    Raises
    ------
    InputError
        For a scene or camera that is at fault.
    """
    say = progress or (lambda text, share: None)
    check(ask, cameras)
    cameras = tuple(cameras) or suggested(scene)
    with open_pool(workers=ask.workers) as pool:
        first = First(scene, ask, answered)
        outcomes: list[Solved | Failed] = []
        for share, families in zip((0.0, 0.35), sought(scene, cameras[0]), strict=False):
            if sum(isinstance(one, Solved) for one in outcomes) >= ENOUGH:
                break
            points = [
                Point(scene, camera, family, ask.reserve, ask.gain_cap_db, ask.seed)
                for family in families
                for camera in cameras
            ]
            for k, (_, (one, proof)) in enumerate(pool.each(_sought, points)):
                outcomes.append(one)
                if isinstance(one, Solved) and proof is not None:
                    first.keep(one.design, proof)
                    if len(cameras) == 1:  # with settings alone nothing is cheaper
                        first.tell(chosen_ways([one], ask)[:1])
                say("seeking ways", share + 0.3 * (k + 1) / len(points))
        solved = _in_order([one for one in outcomes if isinstance(one, Solved)])
        failed = [one for one in outcomes if isinstance(one, Failed)]
        chosen = chosen_ways(solved, ask)
        ways: list[Way] = []
        lens = wide = None
        if chosen:
            say("proving on fresh noise", 0.6)
            designs = [one.solved.design for one in chosen]
            ways_at = [ProofPoint(scene, design, ask.seed) for design in designs]
            first.tell(chosen)
            waiting = [point for point in ways_at if first.of(point.design) is None]
            for point, proof in pool.each(prove, waiting):
                first.keep(point.design, proof)
                first.tell(chosen)
            say("tolerances and reserve", 0.75)
            answer_point = AnswerPoint(scene, chosen[0].solved.design, ask.seed, ask.thorough)
            checked = [(point, first.of(point.design)) for point in ways_at]
            jobs: list[Job] = [
                _Begun(point, proof, ask.thorough) for point, proof in checked if proof
            ]
            jobs += [("lens", answer_point), ("wide range", answer_point)]
            *proofs, lens, wide = pool.map(_do, jobs)
            ways, unproved = _ways(chosen, proofs, ask)
            failed += unproved
            if ways and ways[0].proof.rest.black_fraction >= BLACKENED:
                ways += _rest_visible(scene, ways[0], ask)
    say("done", 1.0)
    return Specification(scene, tuple(cameras), ask, tuple(ways), tuple(failed), lens, wide)


def _sought(point: Point) -> tuple[Solved | Failed, Proof | None]:
    """A family searched; what its settings alone do is proved at once, for it is the answer."""
    solved = solve(point)
    if point.family != "settings" or not isinstance(solved, Solved):
        return solved, None
    return solved, prove(ProofPoint(point.scene, solved.design, point.seed))


class First:
    """Proofs as they come in, and the first way that holds, told as soon as it is known."""

    def __init__(self, scene: Scene, ask: Ask, answered: Answered | None) -> None:
        self.scene, self.ask, self.answered = scene, ask, answered
        self.proofs: list[tuple[Design, Proof]] = []

    def keep(self, design: Design, proof: Proof) -> None:
        """Keep a proof."""
        self.proofs.append((design, proof))

    def of(self, design: Design) -> Proof | None:
        """The proof of a design; None if it has none yet."""
        return next((proof for one, proof in self.proofs if one == design), None)

    def tell(self, chosen: Sequence[Chosen]) -> None:
        """Tell the first that holds, if all before it are proved and nothing is told yet."""
        for one in chosen:
            proof = self.of(one.solved.design)
            if self.answered is None or proof is None:
                return
            if proof.word != "not legible":
                parts = parts_of(one.solved.design, self.ask.prices or {})
                self.answered(self.scene, Way(one.roles, one.solved, proof, parts))
                self.answered = None
                return


def _rest_visible(scene: Scene, way: Way, ask: Ask) -> list[Way]:
    """The first way with a second camera for what it shows black, where one shows it."""
    overview = overview_of(OverviewPoint(scene, way.design, ask.seed))
    if overview is None:
        return []
    parts = parts_of(way.design, ask.prices or {}, overview)
    second = replace(way, roles=("rest visible",), parts=parts, overview=overview)
    known = sum(part.price or 0.0 for part in parts)
    return [] if ask.budget is not None and known > ask.budget else [second]


def sought(scene: Scene, camera: Camera) -> tuple[tuple[Family, ...], ...]:
    """Families that are searched at once, and those that are where fewer than `ENOUGH` work.

    Where the target is seen at an angle that the trade does not take for the task, the place is at
    fault and another one comes first. Where infrared is no way the others follow at once.

    Raises
    ------
    InputError
        For a target that cannot be seen.
    """
    session = open_session(scene, camera)
    if scene.model.task.name in FROM_THE_FRONT and not angles_of(session).usual:
        return STRAIGHT, USUAL
    if no_infrared(session) is not None:
        return ((USUAL[0], *OTHERS, *USUAL[1:]),)
    return USUAL, OTHERS


def check(ask: Ask, cameras: Sequence[Camera]) -> None:
    """Refuse a reserve below 1 and prices of what cannot be a part, before any work.

    Raises
    ------
    InputError
        For the first that is at fault.
    """
    if not ask.reserve >= 1.0:
        raise InputError(
            "A reserve below 1 is none.", argument="reserve", given=ask.reserve,
            allowed="1 or more", fix="leave it out for the usual 3",
        )  # fmt: skip
    bodies = [camera.name for camera in cameras] or bundled_names("cameras")
    lamps = [lamp_key(one) for one in lamp_classes()]
    known = [*bodies, trade.VARIFOCAL, "mount", *KINDS, *lamps]
    for name in ask.prices or {}:
        if name not in known:
            raise InputError(
                "There is no part of this name.", argument="price", given=name,
                allowed=f"one of {', '.join(known[:-len(lamps)])}, or a lamp class such as"
                f" {lamps[0]}",
                fix=f"did you mean {' or '.join(nearest(name, known, count=3)) or lamps[0]}?",
            )  # fmt: skip


class _Begun(NamedTuple):
    """A proof whose tolerances and reserve are still to be sought."""

    point: ProofPoint
    proof: Proof
    thorough: bool


Job = _Begun | tuple[str, AnswerPoint]


def _do(job: Job) -> Any:
    if isinstance(job, _Begun):
        if job.proof.word == "not legible":
            return job.proof
        return completed(job.point, job.proof, thorough=job.thorough)
    name, point = job
    return lens_answer(point) if name == "lens" else wide_range_answer(point)


def _in_order(solved: Sequence[Solved]) -> list[Solved]:
    return sorted(solved, key=lambda one: (FAMILIES.index(one.family), one.design.camera.name))


def _ways(
    chosen: Sequence[Chosen], proofs: Sequence[Proof], ask: Ask
) -> tuple[list[Way], list[Failed]]:
    """Ways that their proof bears out, and those that it does not."""
    ways, unproved = [], []
    for one, proof in zip(chosen, proofs, strict=True):
        if proof.word == "not legible" or proof.reserve is None:
            why = Message("specify-failed.proof")
        elif _too_little(proof, ask):
            why = Message.of("specify-failed.reserve", times=proof.reserve.darker_times)
        else:
            parts = parts_of(one.solved.design, ask.prices or {})
            ways.append(Way(one.roles, one.solved, proof, parts))
            continue
        unproved.append(
            Failed(one.solved.family, one.solved.design.camera.name, why, proof.probability)
        )
    return by_proved_reserve(ways), unproved


def by_proved_reserve(ways: Sequence[Way]) -> list[Way]:
    """Ways of which the one with most reserve in light, as proved, is called so; a way that then is
    best at nothing is left out, and so is one that is best at that alone and hardly better.

    The search knows the reserve of a lamp's light alone, the proof that of all light together.
    """
    role: Role = "most reserve"
    others = [way for way in ways if way.roles != (role,)]
    best = max(ways, key=_darker, default=None)
    other = max(others, key=_darker, default=best)
    if best is not None and other is not None and _darker(best) < MORE_ROOM * _darker(other):
        best = other
    out = []
    for way in ways:
        roles = [one for one in way.roles if one != role] + [role] * (way is best)
        if roles:
            out.append(replace(way, roles=tuple(one for one in ROLES if one in roles)))
    return out


def _darker(way: Way) -> float:
    reserve = way.proof.reserve
    return min(reserve.darker_times or 0.0, MOST_ROOM) if reserve is not None else 0.0


def _too_little(proof: Proof, ask: Ask) -> bool:
    """Whether the reserve in light that was asked for is not borne out."""
    assert proof.reserve is not None
    times = proof.reserve.darker_times
    return times is not None and times < ask.reserve


def suggested(scene: Scene) -> tuple[Camera, ...]:
    """Bundled cameras that bring most light on each pixel of the target at the density it needs."""
    rated = []
    for camera in bundled_cameras(but=""):
        try:
            session = open_session(scene, camera)
            range_ = lens_range(session)
            choice = lens_choice(camera, range_.good_mm)
            if not 0.9 * range_.least_mm <= choice.mm <= 1.1 * range_.most_mm:
                continue
            camera.set({"lens.f_number": None}, choice.changes)
        except InputError:
            continue
        rated.append((camera.model.light_per_pixel_um2, camera))
    best = sorted(rated, key=lambda row: -row[0])[:MOST_CAMERAS]
    if not best:
        raise InputError(
            "No bundled camera shows the target large enough from there.",
            argument="cameras", fix="name cameras, or put the camera nearer",
        )  # fmt: skip
    return tuple(camera for _, camera in best)
