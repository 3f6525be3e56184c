"""A verdict in one sentence for the customer and one for the engineer, from its record alone."""

from __future__ import annotations

from collections.abc import Sequence

from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.result import Limit, RemedyPart, RemedyRow, TargetSeen, Verdict

LEAST_SHARE = 0.02
"""Limits that explain less of the loss are not worth a word."""
DONE = {
    "read": "read without a mistake",
    "detect": "noticed",
    "recognise": "recognised",
    "identify": "identified",
    "colour": "given the name of its daylight colour",
}
ABILITY = {
    "read": "be read",
    "detect": "be noticed",
    "recognise": "be recognised",
    "identify": "be identified",
    "colour": "be named by its colour",
}
NAMES = {
    "plate": "number plate",
    "sign": "sign",
    "parcel": "parcel label",
    "face": "face",
    "person": "person",
    "vehicle-front": "vehicle",
    "vehicle-rear": "vehicle",
    "vehicle-side": "vehicle",
}
WASHED_OUT = 0.05
"""Share of white pixels from which a target counts as washed out."""


def target_words(verdict: Verdict) -> str:
    """What the verdict is about, such as "number plate K2W8 R4D"."""
    target = verdict.target
    name = NAMES.get(target.kind, target.kind.replace("-", " "))
    return f"{name} {target.text}" if target.text else name


def listed(names: Sequence[str]) -> str:
    """Names as they stand in a sentence."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def hundred(probability: float) -> str:
    """A probability as people say it: in how many of 100 pictures."""
    if probability >= 0.995:
        return "in practically every picture"
    if probability < 0.005:
        return "in practically no picture"
    return f"in about {100.0 * probability:.0f} of 100 pictures"


def cause(verdict: Verdict, factor: str) -> str:
    """Why a limit stands in the way, in plain words."""
    washed = verdict.signal.clipped_fraction > WASHED_OUT
    record = IMPAIRMENTS[factor]
    return (record.cause_if_clipped if washed else None) or record.cause


def main_limits(verdict: Verdict) -> list[Limit]:
    """Limits that are worth a word, the most important first."""
    return [row for row in verdict.limits if row.share > LEAST_SHARE]


def customer_sentence(verdict: Verdict) -> str:
    """The answer in plain words: what will happen, why, and what would mend it."""
    task, word = verdict.task.name, verdict.verdict
    what = f"The {target_words(verdict)}"
    can = ABILITY[task]
    share = hundred(verdict.probability)
    shade = _shade(verdict)
    if word == "legible":
        return f"{what} can {can} as planned: {share} it is {DONE[task]}.{shade}"
    head = {
        "marginal": f"{what} can {can} only some of the time: {share} it is {DONE[task]}",
        "not legible": f"{what} cannot {can} as planned: {share} it is {DONE[task]}",
    }[word]
    limits = main_limits(verdict)
    if not limits:
        return f"{head}.{shade}{_fixing(verdict)}"
    first = limits[0]
    why = cause(verdict, first.factor)
    others = [f"that {cause(verdict, name)}" for name in first.together_with]
    if others:
        reasons = listed([f"that {why}", *others])
        reason = f"; the reasons, which must be mended together, are {reasons}"
    else:
        reason = f"; the first reason is that {why}"
    return f"{head}{reason}.{shade}{_fixing(verdict)}"


def _shade(verdict: Verdict) -> str:
    """That a name may hold where the shade does not."""
    colour = verdict.target.colour
    if colour is None or verdict.verdict == "not legible" or colour.ciede2000 < OTHER_SHADE:
        return ""
    return (
        f" The name holds, not the shade: it shows {shade_words(colour.ciede2000)} than by"
        " daylight."
    )


def _fixing(verdict: Verdict) -> str:
    if not verdict.remedies:
        return ""
    first = verdict.remedies[0]
    hundredths = f"{100.0 * first.probability:.0f} of 100"
    if first.reaches:
        comma = "," if _is_new(first) else ""
        return f" {change(first)}{comma} would bring it to {hundredths}."
    return (
        " No change that was tried is enough, by itself or with others; the best of them,"
        f" {_lowered(change(first))}, brings it to {hundredths}."
    )


def fix_lines(remedies: Sequence[RemedyRow], most: int) -> list[str]:
    """Remedies in words, without how to set them: those that reach what is wanted, or else the best
    that was tried.

    Parameters
    ----------
    most
        Lines at most.
    """
    reaching = [row for row in remedies if row.reaches]
    if not reaching:
        return remedy_lines(remedies)
    return [f"{change(row)}: {row.probability:.2f}" for row in reaching[:most]]


def remedy_lines(remedies: Sequence[RemedyRow]) -> list[str]:
    """Remedies that reach what is wanted, each as a line with how to set it; if there is none, the
    best of those that do not.
    """
    if not remedies:
        return []
    reaching = [row for row in remedies if row.reaches]
    if not reaching:
        best = remedies[0]
        return [
            f"none reaches what is wanted; the best is {_lowered(change(best))}:"
            f" probability {best.probability:.2f}"
        ]
    out = []
    for row in reaching:
        camera = f" with --camera {row.camera}" if row.camera else ""
        sets = " ".join(f"--set '{text}'" for text in row.sets)
        how = f" ({sets}{camera})" if sets else ""
        out.append(f"{_lowered(change(row))}: probability {row.probability:.2f}{how}")
    return out


def _lowered(text: str) -> str:
    return text[:1].lower() + text[1:]


def _is_new(remedy: RemedyPart) -> bool:
    """Whether something is added rather than changed."""
    return remedy.before in (None, "", "none", 0.0)


def change(remedy: RemedyPart) -> str:
    """A remedy in words; of several levers together, one after the other."""
    if isinstance(remedy, RemedyRow) and remedy.parts:
        first, *rest = [change(part) for part in remedy.parts]
        return f"{first} together with " + " and ".join(_lowered(text) for text in rest)
    unit = f" {remedy.unit}" if remedy.unit else ""
    lever, before, to = str(remedy.lever), remedy.before, remedy.to
    name = f"{lever[:1].upper()}{lever[1:]}"
    if _is_new(remedy):
        return f"{name}, {to}{unit}"
    return f"{name} at {to}{unit} instead of {before}{unit}"


WHOLE_DRAWING = 0.95
"""A share of a face's drawing that is kept is told below this (chosen by us)."""
OTHER_SHADE = 6.0
SHADES = (
    (1.0, "the same shade"),
    (3.0, "hardly another shade"),
    (OTHER_SHADE, "a slightly other shade"),
    (12.0, "another shade"),
)
"""Colour difference CIEDE2000 below which a shade is told so; beyond, "a far other shade" (common
practice, no source: about 1 is just seen side by side, some 6 is still taken for a match)."""


def shade_words(ciede2000: float) -> str:
    """How far a shown colour lies from that of the material by daylight, in words.

    That a colour can be named is another matter: a far other shade of red may still be called red.
    """
    return next((words for below, words in SHADES if ciede2000 < below), "a far other shade")


def size_words(target: TargetSeen) -> str:
    """How much of the target is left: characters, cycles, or its colour."""
    colour = target.colour
    if colour is not None:
        first, right = next(iter(colour.named), "nothing"), " or ".join(colour.right_names)
        apart = colour.ciede2000
        return f"named {first}, by daylight {right}; {shade_words(apart)}, CIEDE2000 {apart:.0f}"
    if target.cycles is not None:
        kept = target.drawing_kept
        told = ""
        if kept is not None and kept < WHOLE_DRAWING:
            told = f", {100 * kept:.0f} % of the face's drawing kept"
        return f"{target.cycles:.1f} cycles resolved{told}"
    return f"characters {target.character_height_px:.1f} px high"


def engineer_sentence(verdict: Verdict) -> str:
    """The answer with the figures that carry it."""
    e, g, s = verdict.exposure, verdict.geometry, verdict.signal
    target = verdict.target
    shutter = f"1/{1.0 / e.shutter_s:.0f} s" if e.shutter_s < 0.3 else f"{e.shutter_s:.2g} s"
    size = size_words(target)
    noise = f"{s.snr_db:.0f} dB signal to noise" if s.snr_db > -40.0 else "no signal left"
    text = (
        f"P({verdict.task.name}) = {verdict.probability:.2f}"
        f" ({verdict.probability_low:.2f} to {verdict.probability_high:.2f}) at"
        f" {g.distance_m:.1f} m and {g.pixels_per_m:.0f} px/m: {size}, {noise},"
        f" {s.motion_blur_px:.1f} px of motion blur, {100 * s.clipped_fraction:.0f} % white;"
        f" {e.mode} mode, {shutter}, {e.gain_db:.0f} dB, f/{e.f_number:.1f}"
    )
    limits = main_limits(verdict)
    if limits:
        first = limits[0]
        text += f"; first limit: {first.factor} (P {first.probability_without:.2f} with it"
        text += f" alone mended, {first.probability_only:.2f} with all else mended)"
    return text + "."
