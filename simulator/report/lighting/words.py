"""What the sizing of a lamp says: answer, reasons, what to do and what was assumed."""

from __future__ import annotations

import math

from simulator.light.darkness import Darkness
from simulator.report.lighting.choice import bears, held_instead
from simulator.report.lighting.costs import LEAST_GAIN, avoided, cost, missing, need_words
from simulator.report.wording import shutter, three_digits, with_unit
from simulator.report.wording.light import hours_words, natural_words
from simulator.scene.load import Scene
from simulator.scene.model import Plate
from simulator.studies.lighting.held import WASHED
from simulator.studies.lighting.lamps import BESIDE_M, edge_share
from simulator.studies.lighting.study import EMITTER_WIDTH_M, LED_END_SHARE, Lighting, Way
from simulator.studies.quick import Quick

DONE = {
    "read": "read",
    "detect": "detected",
    "recognise": "recognised",
    "identify": "identified",
    "colour": "given the name of its daylight colour",
}
HOT_SPOT = 1.2
"""Light on another thing over that on the target from which on it is told (chosen by us)."""


def hundred(value: float) -> str:
    """A probability as people say it."""
    return f"{100 * value:.0f} of 100"


def target_words(found: Lighting) -> str:
    """The target of the task."""
    return f"the {found.scene.model.task.target}"


def about_plate(found: Lighting) -> bool:
    """Whether the task is about a plate, which throws light back."""
    task = found.scene.model.task.target
    return any(isinstance(t, Plate) and t.name == task for t in found.scene.model.target)


def hour_lines(scene: Scene, dark: Darkness | None) -> list[str]:
    """Under which light the study judged, and how many hours are dark, if a place was told."""
    model = scene.model
    lit = [light.name for light in model.lamp if light.on]
    off = [light.name for light in model.illuminator if light.on]
    parts = [
        f"Judged under the scene's own light: {natural_words(model.natural_light)}",
        f"its lamps on: {', '.join(lit)}" if lit else "no lamp of its own on",
    ]
    if off:
        parts.append(f"its illuminators off for the comparison: {', '.join(off)}")
    return ["; ".join(parts) + ".", *([] if dark is None else [hours_words(dark)])]


def lamp_words(found: Lighting) -> str:
    """The sized lamp in a few words."""
    kind = found.kind
    light = with_unit(found.chosen, kind.intensity_unit)
    if not kind.infrared:  # white lamps are sold by their lumens
        light += f" ({three_digits(found.flux)} lm)"
    return f"{'an' if kind.infrared else 'a'} {kind.words} of {light} and {found.beam_deg:g}°"


def place_words(found: Lighting) -> str:
    """Where the lamp is."""
    if found.ask.at_m is not None:
        return "at x, y, z = " + ", ".join(f"{v:g}" for v in found.ask.at_m) + " m"
    right, _, up = BESIDE_M
    return f"{right:g} m to the right of the lens and {up:g} m above it"


def no_lamp_needed(scene: Scene, before: Quick) -> str:
    """The answer where the task succeeds without a lamp."""
    task = scene.model.task
    return (
        f"No lamp is needed for this: without one, the {task.target} is {DONE[task.name]} in"
        f" {hundred(before.probability)} pictures; {hundred(task.wanted_probability)} are wanted."
    )


def answer(found: Lighting) -> str:
    """The whole study in one or two sentences."""
    done = DONE[found.scene.model.task.name]
    wanted = found.scene.model.task.wanted_probability
    fresh, before = found.search.fresh, found.before.judged
    if before.verdict == "legible":
        return no_lamp_needed(found.scene, before)
    text = (
        f"{lamp_words(found)}, {place_words(found)}: {target_words(found)} is then {done} in"
        f" {hundred(fresh.probability)} pictures ({100 * fresh.probability_low:.0f} to"
        f" {100 * fresh.probability_high:.0f}), without it in {hundred(before.probability)}."
    )
    if fresh.verdict == "legible":
        held = held_instead(found)
        if held is None:
            return f"Yes, with {text}"
        return (
            f"Yes, with {held.title}: {target_words(found)} is then {done} in"
            f" {hundred(held.judged.probability)} pictures, without a lamp in"
            f" {hundred(before.probability)}. With the exposure left to the camera it takes {text}"
        )
    factors = [row.factor for row in found.limits if row.share > 0.05][:2]
    way = f" What stands in the way: {' and '.join(factors)}." if factors else ""
    serving = [w for w in found.ways if w.judged.verdict == "legible"]
    if serving:
        way += f" What serves instead: {way_words(serving[0])}."
    if found.search.least is None:
        best = f" The best is {text}" if fresh.probability >= LEAST_GAIN else ""
        return (
            f"No {found.kind.words} serves here with the camera as it is set: no intensity tried"
            f" gives {hundred(wanted)}.{best}{way}"
        )
    return f"Not surely. The best is {text} {hundred(wanted)} are wanted.{way}"


def way_words(way: Way) -> str:
    """A way that serves, in a few words."""
    return way.title if way.sort == "held" else way.name


def window_words(found: Lighting) -> str:
    """Between which intensities it works."""
    s, unit = found.search, found.kind.intensity_unit
    if s.least is None:
        return "no intensity tried reaches what is wanted"
    weakest = s.least == s.points[0][0]
    low = with_unit(s.least, unit)
    low = f"{low} (the weakest tried) or less" if weakest else low
    if s.upper_fails is None:
        return f"from {low} up to the strongest tried, {with_unit(s.points[-1][0], unit)}"
    return (
        f"from {low} to {with_unit(s.upper or 0.0, unit)}; it fails at"
        f" {with_unit(s.upper_fails, unit)}"
    )


def middle_of_window(found: Lighting) -> float | None:
    """Intensity as far from the weak as from the strong end, as a ratio; None without both ends."""
    s = found.search
    if s.least is None or s.upper is None or s.upper_fails is None:
        return None
    return math.sqrt(s.least * s.upper)


def clipped(way: Way) -> float:
    """Share of the target that is white."""
    return 0.0 if way.judged.seen is None else way.judged.seen.clipped_fraction


def without_words(scene: Scene, before: Quick) -> str:
    """Light, camera and success without the lamp."""
    seen = before.seen
    assert seen is not None
    return (
        f"Without the lamp {three_digits(seen.illuminance_lux)} lx fall on the"
        f" {scene.model.task.target}; the camera is in {before.mode} mode with"
        f" {shutter(before.shutter_s)} and {before.gain_db:.0f} dB of gain, and the task"
        f" succeeds in {hundred(before.probability)} pictures."
    )


def written_words(scene: Scene, written: Quick) -> str:
    """What the scene's own illuminators do."""
    own = ", ".join(light.name for light in scene.model.illuminator if light.on)
    return (
        f"With the scene's own illuminators as its file has them ({own}) it succeeds in"
        f" {hundred(written.probability)} pictures."
    )


def reasons(found: Lighting) -> list[str]:
    """Why: what was found, one sentence for each thing."""
    before, seen = found.before.judged, found.before.judged.seen
    out = []
    if seen is not None:
        out.append(without_words(found.scene, before))
    if found.written is not None:
        out.append(written_words(found.scene, found.written))
    tried = f"({len(found.search.points)} tried)."
    if found.search.least is None:
        out.append(f"No intensity reaches what is wanted {tried}")
    else:
        out.append(f"It works {window_words(found)} {tried}")
    twice = found.twice.seen
    if twice is not None:
        now, then = 100 * clipped(found.sized), 100 * twice.clipped_fraction
        out.append(
            f"At the chosen intensity {now:.0f} % of {target_words(found)} is white with no detail"
            f" left; at twice as much {then:.0f} %, and the task succeeds in"
            f" {hundred(found.twice.probability)} pictures."
        )
    washed = [w for w in found.ways if w.sort == "lamp" and clipped(w) >= WASHED]
    failing = [w.name for w in washed if w.judged.verdict != "legible"]
    serving = [w.name for w in washed if w.judged.verdict == "legible"]
    if failing:
        out.append(
            f"More is not better here: with {', '.join(failing)}, more than {100 * WASHED:.0f} % of"
            f" {target_words(found)} is white."
        )
    if serving:
        out.append(
            f"With {', '.join(serving)} more than {100 * WASHED:.0f} % of {target_words(found)} is"
            " white, though the task still succeeds: look at their pictures before you choose one."
        )
    held = [w for w in found.ways if w.sort == "held"]
    if held:
        serve = [w for w in held if w.judged.verdict == "legible"]
        out.append(
            f"With shutter and gain held for {target_words(found)}, {len(serve)} of these"
            f" {len(held)} lamps serve. All that throws back less is then dark, and by day the"
            " camera must be set back."
        )
    if found.places:
        told = ", ".join(
            f"{p.beside_m[0]:g} m beside the lens {hundred(p.judged.probability)}"
            for p in found.places
        )
        out.append(f"The same lamp elsewhere: {told}.")
        lost = min(p.judged.probability for p in found.places)
        if about_plate(found) and lost < found.search.fresh.probability - 0.2:
            out[-1] += (
                " A plate that throws light back sends it to the lamp: mounted away from the lens,"
                " the lamp is lost on it."
            )
    edge = edge_share(found.beam_deg, found.field_deg)
    out.append(
        f"The picture is {found.field_deg:.0f}° wide; a beam of {found.beam_deg:g}° leaves"
        f" {100 * edge:.0f} % of its intensity towards the sides of the picture."
    )
    for spot in found.light.hot_spots:
        if spot.ratio >= HOT_SPOT:
            out.append(
                f"Hot spot: {spot.name} gets {spot.ratio:.1f} times the light of"
                f" {target_words(found)} and may turn the exposure down."
            )
    for way in found.ways:
        if way.sort in ("lens", "camera"):
            judged = way.judged
            out.append(
                f"Without a lamp, {way.title.removesuffix(', no lamp')}:"
                f" {hundred(judged.probability)} pictures."
            )
    return out


def changes(found: Lighting) -> list[str]:
    """What to do."""
    unit, out = found.kind.intensity_unit, []
    if found.before.judged.verdict == "legible":
        worse = [w.name for w in found.ways if w.sort == "lamp" and w.judged.verdict != "legible"]
        out = ["Leave the lamp out: without it the task already succeeds as surely as wanted."]
        if worse:
            out.append(f"With these lamps it would no longer surely succeed: {', '.join(worse)}.")
        return out
    if found.before.judged.probability >= found.scene.model.task.wanted_probability:
        out.append(
            "Without a lamp the task already reaches what is wanted, though not surely: the lamp"
            " only makes it sure."
        )
    if found.search.least is not None:
        x, y, z = found.aim_m
        out.append(
            f"Mount {lamp_words(found)} {place_words(found)}, aimed at x, y, z = {x:g}, {y:g},"
            f" {z:g} m; some {with_unit(found.power_w, 'W')} of electric power"
            f" ({found.kind.output_source})."
        )
        same = [w.intensity for w in found.ways if w.sort == "lamp" and w.intensity is not None
                and w.intensity_unit == unit]  # fmt: skip
        if same and found.chosen < min(same):
            out.append(
                f"That is weaker than every {'infrared' if found.kind.infrared else 'white'} lamp"
                f" tried beside it, the weakest of which has {with_unit(min(same), unit)}: the"
                f" camera, turned up for the dark, needs no more{bears(found, min(same))}"
            )
        aged = found.chosen / LED_END_SHARE
        new = three_digits(found.flux / LED_END_SHARE)
        lumens = "" if found.kind.infrared else f" ({new} lm)"
        upper = found.search.upper
        fits = found.search.upper_fails is None or (upper is not None and aged <= upper)
        out.append(
            f"So that it still suffices with {100 * LED_END_SHARE:.0f} % of its light left, as LED"
            f" lamps are rated for their end of life, buy {with_unit(aged, unit)}{lumens} new"
            + (
                "."
                if fits
                else ", which is more than works when new: choose one that can be dimmed."
            )
        )
        middle = middle_of_window(found)
        if middle is not None:
            out.append(
                f"Dirt, rain{', a worn plate' if about_plate(found) else ''} and tolerances shift"
                f" all this. What has most room both ways is {with_unit(middle, unit)}, a"
                f" factor of {three_digits(middle / (found.search.least or middle))} from the weak"
                " and from the strong end of what works."
            )
    serving = [w for w in found.ways if w.judged.verdict == "legible"]
    if serving:
        names = "; ".join(way_words(w) for w in serving)
        alone = found.search.verdict != "legible"
        out.append(f"What serves {'instead' if alone else 'as well'}: {names}.")
    priced = [(cost(found, w).whole_life, w.name) for w in (found.sized, *serving)]
    if found.money.dark is not None and priced and all(c is not None for c, _ in priced):
        total, name = min((c or 0.0, n) for c, n in priced)
        out.append(
            f"Cheapest over {found.money.years:g} years by your prices: {name},"
            f" {three_digits(total)}."
        )
    elif need := missing(found):
        out.append(f"Costs cannot be told without: {need_words(need)}.")
    out.append(avoided(found))
    return out


def conditions(found: Lighting) -> list[str]:
    """What was assumed."""
    assumed = sum(t.source == "assumed" for t in found.camera.tolerances.values())
    first, last = found.search.points[0][0], found.search.points[-1][0]
    unit = found.kind.intensity_unit
    out = [
        *hour_lines(found.scene, found.money.dark),
        f"The camera is a generic archetype; {assumed} of its numbers are marked assumed."
        f" {'Lens and plate are' if about_plate(found) else 'The lens is'} clean, the weather is"
        " that of the scene.",
        f"Sought from {with_unit(first, unit)} to {with_unit(last, unit)} with"
        f" {found.ask.trials} repetitions of the whole camera each, and judged again with fresh"
        f" noise and {2 * found.ask.trials} repetitions. Intervals are those of the repetitions;"
        " tolerances of camera, lamp and scene come on top.",
        f"The sized lamp: beam I = I0 cos^m; electric power from {found.kind.output_source}.",
        "Other bundled lamps stand in the same place with the numbers of their archetypes.",
    ]
    if found.eye is not None:
        out.append(
            f"Shining face {1000 * found.ask.emitter_width_m:.0f} mm wide"
            + (" (assumed)." if found.ask.emitter_width_m == EMITTER_WIDTH_M else ".")
        )
    if any(w.sort == "lens" for w in found.ways):
        out.append("The faster lens keeps the aberrations of the one at hand, which flatters it.")
    dark = found.money.dark
    if dark is not None:
        out.append(
            "Hours of darkness are counted without cloud, and the lamp is on in all of them. Costs"
            " are prices plus energy, without interest, mounting, cleaning or repair."
        )
    out += [f"Not tried. {text}" for text in found.left_out]
    return out
