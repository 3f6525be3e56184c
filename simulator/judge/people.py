"""Detecting a target, and knowing a face, by an observer of delivered pictures.

Detect: the same scene with and without the target, photographed again and again, the ground's
grain elsewhere each time; the observer knows what the target looks like but not where in the
picture to look. Recognise: the target's features against those of strangers on the same head, in
the same light through the same camera; identify: against people who look like him. Only the oval
between brows and chin counts, so that neither an outline nor light from behind helps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.tone import Tone, encode_tone, tone_of
from simulator.judge.cycles import PIXELS_PER_DEG, RIM_PX, RIM_SHARE, SHOWN_DEG, core
from simulator.judge.eye import emitted
from simulator.judge.face_detail import known_by
from simulator.judge.figures import plate_signal
from simulator.judge.observer import (
    Sight,
    Skill,
    contrast_on_display,
    criterion,
    share_matched,
    share_noticed,
    templates_of,
)
from simulator.judge.parts import BY_PARTS, critical_px
from simulator.judge.retakes import LARGE_PX, PIECES, Mask, Retakes, shared
from simulator.judge.silhouette import Silhouette, luma_levels
from simulator.judge.target import JudgedTarget
from simulator.scene.model_targets import Face, Person
from simulator.scene.variants import elsewhere, strangers, without
from simulator.units import FloatArray, Image

STRANGERS, FEWER_STRANGERS = 7, 4
"""People that a face is to be told from, and a large one."""
FALSE_MATCHES = {"recognise": 0.01, "identify": 0.001}
"""Share of strangers, or look-alikes, that a viewer takes for the target: he has to be sure that it
is somebody seen before, or who it is beyond doubt (stated, not measured)."""
FALSE_ALARMS = 0.01
"""Share of pictures without a target in which a viewer reports one (stated, not measured)."""
GRAINS = 3
"""Places of the ground's grain that pictures are spread over, to detect something."""
SETTLED_PX = 20_000
"""Pixels of a window from which fewer pictures do: their noise averages over the target."""
LARGE_FACE_PX = 100.0
"""Width of a face from which a sample a pixel does: what counts of it is much coarser."""
WELL_EXPOSED = 0.7
"""Share of white of the brightest part of a face as one would like to have it (assumed)."""
MARGIN_PX = 8
"""Pixels around a face that processing looks at."""
KNOW = Skill(efficiency=0.0135, field_factor=2.5, imprecision=0.7, best_cycles=10.0, octaves=0.85)
"""Faces. Best near 10 cycles a face width in a band just under two octaves wide (Nasanen 1999;
Gold, Bennett and Sekuler 1999; Parker and Costen 1999: 8 to 16, best 11); field factor 0.05 / 0.02,
the contrast threshold in the field over that in the laboratory (basis of meteorological optical
range). Efficiency (about one per cent, from memory of the same studies) and imprecision are chosen
so that faces of 30 to 40 px, ear to ear, suffice to identify (Keil 2009) and recognition falls off
towards 11 px (Costen)."""
NOTICE = Skill(efficiency=0.4, field_factor=5.0)
"""Detection. 30 to 50 % of the ideal observer's efficiency in noise (Burgess et al. 1981, from
memory); an unalerted observer needs five times the contrast of an alerted one (glossary of
meteorology)."""


class Effort(NamedTuple):
    """Pictures of each thing that templates are made from, of the target that are judged, and of
    each stranger that are judged."""

    learn: int
    test: int
    others: int


FULL, QUICK = Effort(16, 24, 4), Effort(8, 8, 2)


@dataclass(frozen=True)
class Observed:
    """Share of pictures in which the task succeeds.

    `value` the mean, `low` and `high` its spread over the pictures, `pictures` how many were
    judged; `false_alarms` the share of pictures of something else that is taken for it.
    """

    value: float
    low: float
    high: float
    pictures: int
    false_alarms: float


def _effort(effort: Effort, window: tuple[int, int]) -> Effort:
    fewer = min(1.0, SETTLED_PX / (window[0] * window[1]))
    learn, test, others = (round(n * fewer) for n in effort)
    return Effort(max(3, learn), max(4, test), max(1, others))


def _residual(contrast: Image) -> Image:
    n = len(contrast)
    return np.asarray((contrast - contrast.mean(axis=0)) * np.sqrt(n / (n - 1.0)))


def well_exposed(signals: list[Image], area: Mask, tone: Tone) -> Image:
    """Contrast (n, rows, columns) on the display of faces whose light none of it runs over white.

    Parameters
    ----------
    signals
        Light of the pictures, each (rows, columns), any unit.
    area
        Pixels (rows, columns) of the face.
    """
    light = np.stack(signals)
    white = float(np.percentile(light[:, area], 99)) / WELL_EXPOSED
    encoded = encode_tone(np.clip(light / max(white, 1e-12), 0.0, 1.0), tone)
    shown = emitted(np.asarray(255.0 * encoded, dtype=np.float32))
    return np.asarray(shown / max(float(shown[:, area].mean()), 1e-12) - 1.0)


def _spread(shares: FloatArray, false_alarms: float) -> Observed:
    low, high = np.percentile(shares, [2.5, 97.5])
    mean = float(shares.mean())
    return Observed(mean, min(float(low), mean), max(float(high), mean), len(shares), false_alarms)


def _sight(across: float, level: float) -> Sight:
    return Sight(max(SHOWN_DEG / across, 1.0 / PIXELS_PER_DEG), across, level)


def face_shown(target: JudgedTarget, silhouette: Silhouette, task: str, across: float) -> Mask:
    """Pixels (rows, columns) of the silhouette's window that a face is known by.

    To recognise, the head without the rim that its surround leaks into; to identify, the oval
    between brows and chin.
    """
    area = known_by(target, silhouette, task) if task == "identify" else None
    if area is not None:
        return area
    return core(silhouette.inside, max(RIM_PX, round(RIM_SHARE * across)))


def know_face(
    retakes: Retakes,
    target: JudgedTarget,
    silhouette: Silhouette,
    task: str,
    *,
    skill: Skill = KNOW,
    effort: Effort = FULL,
) -> Observed:
    """Probability that a face is known: among strangers (recognise) or look-alikes (identify).

    Parameters
    ----------
    retakes
        Its plan's box holds the silhouette's window.
    task
        "recognise" or "identify".
    """
    world, name = retakes.in_scene.world, target.entry.name
    across = critical_px(retakes.in_scene, target, silhouette)
    area = face_shown(target, silhouette, task, across)
    if np.count_nonzero(area) < 2 or world.heads[name].back:
        return Observed(0.0, 0.0, 0.0, 0, FALSE_MATCHES[task])
    # a wide surround is known from one picture
    pieces = PIECES if silhouette.inside.size <= LARGE_PX else 1
    surround = _around(retakes.pictures(world, [pieces], 99, ""), silhouette, area)
    near, area = retakes.around(
        area, MARGIN_PX, 1 if across > LARGE_FACE_PX else retakes.plan.split
    )
    n = _effort(effort, area.shape)
    count = FEWER_STRANGERS if across > LARGE_FACE_PX else STRANGERS
    others = strangers(world, name, count, look_alike=task == "identify")
    worlds = [world, *others]
    names = ["", *(f"{task}, stranger {k}" for k in range(count))]
    head = world.targets[name][-1]
    for other in names[1:]:
        near.traces(other).reshaped(near.traces(""), head)
    rates = [near.light(one, name) for one, name in zip(worlds, names, strict=True)]
    made = [
        near.pictures_of(rate, one, [n.learn, n.others if k else n.test], k)
        for k, (one, rate) in enumerate(zip(worlds, rates, strict=True))
    ]
    contrasts, level = contrast_on_display(np.concatenate(made), area, surround)
    groups = np.split(contrasts, np.cumsum([len(one) for one in made])[:-1])
    taught = [group[: n.learn] for group in groups]
    templates = templates_of(
        np.stack([group.mean(axis=0) for group in taught]),
        np.concatenate([_residual(group) for group in taught]),
        area,
        _sight(across, level),
        skill,
        n.learn,
        well_exposed(
            [plate_signal(rate[-1], retakes.state) for rate in rates],
            area,
            tone_of(retakes.in_scene.camera.processing),
        ),
    )
    own, *rest = (templates.answers(group[n.learn :])[:, 0] for group in groups)
    variance = float(templates.own[0, 0])
    shares = share_matched(own, np.concatenate(rest), variance, FALSE_MATCHES[task])
    return _spread(shares, FALSE_MATCHES[task])


def notice(
    retakes: Retakes,
    target: JudgedTarget,
    silhouette: Silhouette,
    *,
    skill: Skill = NOTICE,
    effort: Effort = FULL,
) -> Observed:
    """Probability that a target is detected by a viewer who searches the whole picture for it."""
    world = retakes.in_scene.world
    carried = getattr(target.entry, "carries", None)
    bare = without(world, [target.entry.name, *([carried] if carried else [])])
    area = silhouette.inside | silhouette.ring
    n = _effort(effort, area.shape)
    taught: list[NDArray[np.uint8]] = []
    shown: list[NDArray[np.uint8]] = []
    for k, one in enumerate((world, bare)):
        learnt, tested = [], []
        place = retakes.before(one)
        shares = zip(shared(n.learn, GRAINS), shared(n.test, GRAINS), strict=True)
        for grain, (learn, test) in enumerate(shares):
            name = f"{'without' if k else 'with'}, grain {grain}"
            shifted = elsewhere(one, grain)
            pictures = place.pictures(shifted, [learn, test], GRAINS * k + grain, name)
            learnt.append(pictures[:learn])
            tested.append(pictures[learn:])
        taught.append(np.concatenate(learnt))
        shown.append(np.concatenate(tested))
    surround = float(emitted(luma_levels(taught[1]))[:, area].mean())
    every, level = contrast_on_display(np.concatenate([*taught, *shown]), area, surround)
    first, second, there, gone = np.split(every, np.cumsum([n.learn, n.learn, n.test]))
    templates = templates_of(
        np.stack([first.mean(axis=0), second.mean(axis=0)]),
        np.concatenate([_residual(first), _residual(second)]),
        area,
        _sight(critical_px(retakes.in_scene, target, silhouette), level),
        skill,
        n.learn,
    )
    with_it, without_it = (templates.answers(x) @ np.array([1.0, -1.0]) for x in (there, gone))
    own = float(np.array([1.0, -1.0]) @ templates.own @ np.array([1.0, -1.0]))
    view = retakes.in_scene.view
    places = view.width_px * view.height_px / max(silhouette.area_px, 1.0)
    beyond = criterion(FALSE_ALARMS, places)
    return _spread(share_noticed(with_it, without_it, own, beyond), FALSE_ALARMS)


def _around(pictures: NDArray[np.uint8], silhouette: Silhouette, area: Mask) -> float:
    """Mean luminance around a target [share of white]."""
    ring = silhouette.ring if np.any(silhouette.ring) else area
    return float(emitted(luma_levels(pictures))[:, ring].mean())


def observed(
    retakes: Retakes, target: JudgedTarget, silhouette: Silhouette, task: str, effort: Effort
) -> Observed | None:
    """What an observer says of "detect", "recognise" or "identify".

    A person who is to be known is looked at by the head: `target` is that part of him. None for
    what no observer stands for: a thing to be recognised or identified.
    """
    if task == "detect":
        return notice(retakes, target, silhouette, effort=effort)
    if task in BY_PARTS and isinstance(target.entry, Face | Person):
        return know_face(retakes, target, silhouette, task, effort=effort)
    return None
