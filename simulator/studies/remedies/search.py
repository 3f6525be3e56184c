"""What would fix a picture: for every lever the least change that reaches the wanted probability.

The search runs on the true model. Every lever is tried at a few steps, the least change first, by a
quick look (`evaluator`); probability need not grow with the change (light can wash a plate out), so
that the first step that serves counts, and the least change is then sought by halving between it
and the step before. What serves is proved by Monte Carlo on a fresh seed; where the proof fails the
next steps are tried. A lever that cannot reach the target is told with its best probability; one
that could not even with all it acts on removed is tried only if no other reaches it. Where no
single lever serves, two or three together are sought (`combined`), then other cameras.

Rows stand in the order of effort: a setting before lens and focus, these before a lamp, a lamp
before another mount, another mount before another camera, each after the same alone if two or three
go together; what reaches comes before what does not, and that by probability.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from simulator.camera.load import Camera
from simulator.judge.impairments import from_lamps
from simulator.judge.limits import LEAST_SHARE
from simulator.judge.result import Limit, RemedyMessages, RemedyPart, RemedyRow
from simulator.messages import Message
from simulator.studies import trade
from simulator.studies.remedies.combined import Choice, Ideal, Remembered, together
from simulator.studies.remedies.evaluator import Evaluator, applied
from simulator.studies.remedies.lever import Lever, Site, Step, focus_sets, with_lens
from simulator.studies.remedies.levers import LEVERS, levers
from simulator.studies.remedies.rest_of_picture import Rest, rest_of_picture
from simulator.studies.remedies.side_effects import side_effects
from simulator.studies.session import Session

__all__ = ["Remedy", "applied", "find_remedies"]

HALVINGS = 2
PROOFS = 2
"""Steps of one lever that are proved before it is given up."""
LOOKS = 150
"""Quick looks in all; what is left of levers after that is not tried."""
SINGLE_SHARE = 0.4
"""Share of the looks for single levers at most."""
CAMERA_SHARE = 0.1
"""Share of the looks that is kept for other cameras."""
FIRST = 0.25
"""By how much a lever that comes first counts as less effort."""
WORKS_ALONE = 0.1
"""An impairment counts as there if it takes this much from a picture without any other."""
COULD_SERVE = 0.5
"""A lever waits if with all that it acts on removed the picture has less than this share of what is
sought: most levers lessen their impairments, a few act on more than is known of them."""


@dataclass(frozen=True)
class Remedy:
    """A change and the probability it brings.

    `sets` are texts for `--set` that make it; `camera` names another profile, if that is the
    change. `reaches` tells whether `probability`, by Monte Carlo on a fresh seed, is the wanted one
    or more by a standard error; of a lever that does not reach it, it is the best that a quick look
    saw. `parts` are the levers one by one, with lever, from, to and unit, where several go
    together.
    """

    lever: str
    before: float | str
    to: float | str
    unit: str
    probability: float
    reaches: bool
    sets: tuple[str, ...]
    camera: str | None
    effort: float
    side_effects: tuple[Message, ...]
    cautions: tuple[Message, ...]
    parts: tuple[RemedyPart, ...] = ()

    def row(self) -> RemedyRow:
        """As a verdict holds it."""
        return RemedyRow(
            lever=self.lever,
            before=self.before,
            to=self.to,
            unit=self.unit,
            probability=self.probability,
            reaches=self.reaches,
            sets=self.sets,
            camera=self.camera,
            messages=RemedyMessages(side_effects=self.side_effects, cautions=self.cautions),
            parts=self.parts,
        )


class Search:
    """Remedies of one site, by looks and proofs."""

    def __init__(self, evaluator: Evaluator) -> None:
        self.evaluator = evaluator
        self._before: Session | None = None
        self._rest: Rest | None = None

    def least(self, lever: Lever) -> Remedy:
        """The least change of one lever that serves, or its best."""
        evaluator = self.evaluator
        best: tuple[float, Step] | None = None
        proofs, before = 0, lever.now
        for step in lever.steps:
            chance, least = evaluator.look(step.sets), step
            if chance >= evaluator.aim and proofs < PROOFS:
                least = self._halved(lever, before, step)
                proofs += 1
                chance = evaluator.proof(least.sets)
                if evaluator.serves(chance):
                    least, chance = self._with_room(lever, least, chance)
                    return self.remedy([(lever, least)], chance, True)
            if best is None or chance > best[0]:
                best = (chance, least)
            before = step.value
        assert best is not None
        return self.remedy([(lever, best[1])], min(best[0], evaluator.wanted), False)

    def _with_room(self, lever: Lever, step: Step, chance: float) -> tuple[Step, float]:
        """A lamp with the reserve of the trade over the least one that works, if it works too."""
        if step.amount is None:
            return step, chance
        for other in lever.steps:
            if other.amount is None or other.amount < trade.RESERVE * step.amount:
                continue
            if self.evaluator.look(other.sets) < self.evaluator.aim:
                break
            proof = self.evaluator.proof(other.sets)
            return (other, proof) if self.evaluator.serves(proof) else (step, chance)
        return step, chance

    def _halved(self, lever: Lever, low: float | str, high: Step) -> Step:
        """A smaller change that still serves, between a step that does not and one that does."""
        between = lever.travel.between
        if between is None or isinstance(low, str) or isinstance(high.value, str):
            return high
        for _ in range(HALVINGS):
            a, b = float(low), float(high.value)
            middle = math.sqrt(a * b) if a > 0.0 and b > 0.0 else (a + b) / 2.0
            value = float(f"{middle:.3g}")
            if abs(b / max(a, 1e-12) - 1.0) < 0.15:
                break
            step = Step(value, between(value))
            if self.evaluator.look(step.sets) >= self.evaluator.aim:
                high = step
            else:
                low = value
        return high

    def remedy(self, choices: Sequence[Choice], probability: float, reaches: bool) -> Remedy:
        """A row for one lever, or several together, set to a step each."""
        sets = tuple(text for _, step in choices for text in step.sets)
        alone = len(choices) == 1

        def told(value: float | str, unit: str) -> float | str:
            return value if alone else f"{value} {unit}".strip()

        def joined(values: list[float | str]) -> float | str:
            return values[0] if alone else " and ".join(map(str, values))

        fixed = tuple(text for lever, _ in choices for text in lever.side_effects)
        return Remedy(
            " and ".join(lever.name for lever, _ in choices),
            joined([told(lever.now, lever.unit) for lever, _ in choices]),
            joined([told(step.value, lever.unit) for lever, step in choices]),
            choices[0][0].unit if alone else "",
            probability,
            reaches,
            sets,
            None,
            max(lever.effort for lever, _ in choices)
            + 0.5 * (len(choices) - 1)
            - FIRST * all(lever.kind.first for lever, _ in choices),
            (*dict.fromkeys(fixed), *(self.effects(sets) if reaches else ())),
            tuple(dict.fromkeys(t for lever, step in choices for t in lever.cautions_at(step))),
            ()
            if alone
            else tuple(
                RemedyPart(lever=lever.name, before=lever.now, to=step.value, unit=lever.unit)
                for lever, step in choices
            ),
        )

    def effects(self, sets: tuple[str, ...], camera: Camera | None = None) -> tuple[Message, ...]:
        """What else changes, in figures."""
        if self._before is None:
            self._before = self.evaluator.settled(())
            self._rest = None if self._before is None else rest_of_picture(self._before)
        after = self.evaluator.settled(sets, camera)
        if self._before is None or after is None:
            return ()
        return tuple(side_effects(self._before, after, self._rest))

    def exchanged(self, cameras: Sequence[Camera]) -> list[Remedy]:
        """Other cameras in its place."""
        evaluator, kind, out = self.evaluator, LEVERS["camera"], []
        site = evaluator.site
        own = site.camera.model
        width_mm = own.sensor.width_px * own.sensor.pixel_pitch_um
        for camera in cameras:
            lens, s = camera.model.lens, camera.model.sensor
            focal = own.lens.focal_length_mm * s.width_px * s.pixel_pitch_um / width_mm
            focal = min(max(focal, lens.focal_min_mm), lens.focal_max_mm)
            set_to = with_lens(camera.model, focal_length_mm=focal).lens
            f_number = max(lens.f_number, math.ceil(set_to.smallest_f_number * 100) / 100)
            sets = (
                f"lens.focal_length_mm={focal:.4g}", f"lens.f_number={f_number:g}",
                *focus_sets(site.in_scene.focus_m),
            )  # fmt: skip
            if evaluator.left <= 0:
                break
            chance = evaluator.look(sets, camera)
            proof = evaluator.proof(sets, camera) if chance >= evaluator.aim else 0.0
            reaches = evaluator.serves(proof)
            out.append(
                Remedy(
                    kind.name,
                    site.camera.name,
                    camera.name,
                    "",
                    proof if reaches else min(chance, evaluator.wanted),
                    reaches,
                    sets,
                    camera.name,
                    kind.effort,
                    (*kind.side_effects, *(self.effects(sets, camera) if reaches else ())),
                    (),
                )
            )
        return out


def _at_work(limits: Sequence[Limit], ideal: float) -> frozenset[str]:
    """Impairments that a lever may have to act on: with a share of the loss, or harmful alone."""
    return frozenset(
        row.factor
        for row in limits
        if row.share > LEAST_SHARE or row.probability_only < ideal - WORKS_ALONE
    )


def find_remedies(
    site: Site,
    limits: Sequence[Limit],
    seed: int,
    *,
    cameras: Sequence[Camera] = (),
    most_looks: int = LOOKS,
    ideal: Ideal | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[Remedy]:
    """Remedies for a task that does not reach its wanted probability; see the module's text.

    Parameters
    ----------
    limits
        What limits it; levers that act on nothing of this are not tried.
    cameras
        Other cameras to try, each with the field of view and focus of this one as far as its lens
        allows.
    most_looks
        Most quick looks, which is what bounds the time.
    ideal
        Probability with a set of impairments removed, which tells what levers can at best do
        together; without it they are tried in the order of effort.
    progress
        Called with the share done.
    """
    say = progress or (lambda share: None)
    search = Search(Evaluator(site, seed, most_looks))
    aim = search.evaluator.aim
    best_alone = max((row.probability_only for row in limits), default=1.0)
    at_work = _at_work(limits, best_alone) | from_lamps()
    first = {row.factor for row in limits[:1]}
    tried = [lever for lever in levers(site) if lever.helps & at_work]
    could = None if ideal is None else lambda acts: ideal(acts & at_work)
    least = COULD_SERVE * aim
    waits = {v.name for v in tried if could is not None and could(v.helps) < least}
    # what acts on the first limit is tried first, in case the looks run out
    tried.sort(key=lambda v: (v.name in waits, not v.helps & first, v.effort))
    remedies: list[Remedy] = []
    for k, lever in enumerate(tried):
        if search.evaluator.left <= most_looks * (1.0 - SINGLE_SHARE):
            break
        if lever.name in waits and any(row.reaches for row in remedies):
            break
        say(0.5 * k / (len(tried) + 1))
        remedies.append(search.least(lever))
    if not any(row.reaches for row in remedies):
        best = {row.lever: Remembered(row.sets, row.probability) for row in remedies}
        kept = round(most_looks * CAMERA_SHARE)
        for k, (choices, chance, serves) in enumerate(
            together(search.evaluator, [v for v in tried if v.name in best], best, could, kept)
        ):
            say(0.5 + 0.1 * min(k, 4))
            remedies.append(search.remedy(choices, chance, serves))
        if not remedies or not any(row.reaches for row in remedies):
            remedies += search.exchanged(cameras)
    say(1.0)
    # a combination that can do without one of its levers may be another one that was found
    unique = {(row.camera, frozenset(row.sets)): row for row in reversed(remedies)}.values()
    rows = sorted(unique, key=lambda row: (not row.reaches, row.effort if row.reaches else 0,
                                          -row.probability))  # fmt: skip
    if rows and not rows[0].reaches:  # the best is told with what else it does, as what reaches is
        other = next((one for one in cameras if one.name == rows[0].camera), None)
        effects = (*rows[0].side_effects, *search.effects(rows[0].sets, other))
        rows[0] = replace(rows[0], side_effects=effects)
    return rows
