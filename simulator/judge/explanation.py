"""What a verdict has to say, as messages: why it is so, what limits it, what would settle it.

Everything here follows from the verdict alone. Words are made in report/wording.
"""

from __future__ import annotations

from collections.abc import Sequence

from simulator.judge.density import CLASS_OF_TASK, CLASSES_PX_PER_M, density_class
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.limits import LEAST_SHARE, SPOILED_BELOW
from simulator.judge.result import Limit, Sensitivity, TargetSeen, Verdict
from simulator.judge.together import HELPS
from simulator.messages import Message, Value

WASHED_OUT = 0.05
"""Share of white pixels from which a target counts as washed out."""
BY_CHANCE = 0.02
"""Probabilities this close are told as the same."""
PRACTICALLY_NONE = 0.005
"""A probability below this is that of practically no picture."""
NAMED = 3
"""Impairments that are named at most."""
OTHER_SHADE = 6.0
"""CIEDE2000 from which a colour is of another shade (common practice, no source)."""
WHOLE_DRAWING = 0.95
"""A share of a face's detail that is kept is told below this (chosen by us)."""


def main_limits(verdict: Verdict) -> list[Limit]:
    """Limits with a share that is worth a word, the most important first."""
    return [row for row in verdict.limits if row.share > LEAST_SHARE]


def success(verdict: Verdict) -> Message:
    """Whether the task succeeds, and in how many pictures."""
    wanted, value = verdict.task.wanted_probability, verdict.probability
    low, high = verdict.probability_low, verdict.probability_high
    target = verdict.target
    figures = {
        "task": verdict.task.name,
        "kind": target.kind,
        "text": target.text,
        "probability": value,
        "low": low,
        "high": high,
        "target": wanted,
    }
    if verdict.verdict == "legible":
        return Message("success.reliable", figures)
    if verdict.verdict == "marginal":
        return Message("success.uncertain" if high >= wanted else "success.unreliable", figures)
    return Message("success.none" if value < PRACTICALLY_NONE else "success.poor", figures)


def reason(verdict: Verdict) -> Message | None:
    """The first limit, and those it must be fixed together with.

    Where no impairment is worth a word: that the target itself stands in the way, which no camera
    would change, or that small losses add up. None for a success, and where no limits were sought.
    """
    limits, fixed = main_limits(verdict), verdict.probability_all_fixed
    if verdict.verdict == "legible":
        return None
    if not limits:
        if fixed is None:
            return None
        kind = "small" if fixed >= verdict.task.wanted_probability else "target"
        return Message(f"reason.{kind}", {"fixed": fixed})
    first = limits[0]
    kind = "together" if first.together_with else "single"
    return Message(f"reason.{kind}", {"factors": (first.factor, *first.together_with)})


def cause(verdict: Verdict, factor: str) -> str:
    """Why a limit stands in the way, as a clause."""
    record = IMPAIRMENTS[factor]
    washed = verdict.signal.clipped_fraction > WASHED_OUT
    return (record.cause_if_clipped if washed else None) or record.cause


def other_shade(verdict: Verdict) -> Message | None:
    """That the name of a colour is right where the shade is not."""
    colour = verdict.target.colour
    if colour is None or verdict.verdict == "not legible" or colour.ciede2000 < OTHER_SHADE:
        return None
    return Message("shade.other", {"ciede2000": colour.ciede2000})


def why_marginal(verdict: Verdict) -> Message | None:
    """Why a verdict is marginal; None if it is not."""
    if verdict.verdict != "marginal":
        return None
    low, high = verdict.probability_low, verdict.probability_high
    wanted = verdict.task.wanted_probability
    kind = "straddles" if high >= wanted else "below"
    return Message(f"marginal.{kind}", {"low": low, "high": high, "target": wanted})


def what_to_measure(word: str, rows: Sequence[Sensitivity]) -> Message | None:
    """What would settle a marginal verdict; None for a clear one.

    Parameters
    ----------
    word
        The verdict in one word.
    rows
        Numbers whose tolerance moves the probability (`sensitivity`), the most important first.
    """
    if word != "marginal":
        return None
    if not rows:
        return Message("settle.nothing")
    first = rows[:NAMED]
    return Message(
        "settle.measure",
        {
            "keys": tuple(row.key for row in first),
            "values": tuple(row.value for row in first),
            "tolerances": tuple(row.tolerance for row in first),
        },
    )


def limit_effect(row: Limit, probability: float) -> list[Message]:
    """What fixing one impairment brings, alone and with which others.

    Parameters
    ----------
    row
        Of `limits`.
    probability
        Of the task, as things are.
    """
    alone, others = row.probability_without, row.together_with
    if alone >= probability + HELPS:
        kind = "helps"
    elif alone < probability - HELPS:
        kind = "worse"
    else:
        kind = "little" if alone > probability + BY_CHANCE else "nothing"
    messages = [Message(f"limit.{kind}", {"probability": probability, "without": alone})]
    if others:
        values = {"others": others, "probability": row.probability_together}
        messages.append(Message("limit.together", values))
    elif kind in ("worse", "nothing"):
        messages.append(Message("limit.adds"))
    return messages


def no_single_fix(limits: Sequence[Limit]) -> Message | None:
    """Where no impairment, removed alone, brings the task to an even chance."""
    rows = [row for row in limits if row.share > LEAST_SHARE]
    if not rows or max(row.probability_without for row in limits) >= SPOILED_BELOW:
        return None
    alone = [row.factor for row in rows if row.probability_only < SPOILED_BELOW]
    if len(alone) < 2:
        return Message("limits.none-enough")
    more = len(alone) > NAMED
    return Message("limits.alone-not-enough", {"factors": tuple(alone[:NAMED]), "more": more})


def helpers(verdict: Verdict) -> Message | None:
    """Impairments whose removal alone makes it worse, beyond the limits; None if there are none."""
    least = verdict.probability - HELPS
    rows = [row for row in verdict.limits if row.share < -HELPS and row.probability_without < least]
    if not rows:
        return None
    values: dict[str, Value] = {
        "factors": tuple(row.factor for row in rows),
        "probabilities": tuple(row.probability_without for row in rows),
    }
    return Message("limits.helpers", values)


def cost_explained(verdict: Verdict) -> Message | None:
    """What the shares of the limits are; None where nothing limits."""
    if not main_limits(verdict):
        return None
    fixed = verdict.probability_all_fixed
    return Message("limits.explained", {"probability": verdict.probability, "fixed": fixed})


def density_note(verdict: Verdict) -> Message | None:
    """Where the class of the density and the verdict seem to contradict each other.

    None where they agree, and for the task `colour`, about which a density tells nothing.
    """
    task, place = verdict.task.name, verdict.geometry
    if task not in CLASS_OF_TASK:
        return None
    needed = CLASS_OF_TASK[task]
    least = {name: value for value, name in CLASSES_PX_PER_M}[needed]
    density, name = place.pixels_per_m, place.density_class
    works, enough = verdict.verdict == "legible", density >= least
    if works and not enough and task != "read":
        return Message("density.fewer-will-do", {"density_class": name})
    if works or not enough:
        return None
    left = verdict.signal.effective_pixels_per_m
    values: dict[str, Value] = {"density_class": name, "effective": left, "pixels_per_m": density}
    if left < least:
        class_left = density_class(left).density_class
        return Message("density.blurred", {**values, "effective_class": class_left})
    limits = main_limits(verdict)
    if not limits:
        return None
    first = limits[0].factor
    return Message("density.other-limits", {**values, "needed": needed, "first": first})


def size(target: TargetSeen) -> Message:
    """How much of the target is left: characters, cycles, or its colour."""
    colour = target.colour
    if colour is not None:
        named = next(iter(colour.named), "nothing")
        right, apart = colour.right_names, colour.ciede2000
        return Message("size.colour", {"named": named, "right": right, "ciede2000": apart})
    if target.cycles is not None:
        kept = target.drawing_kept
        kept_share = None if kept is None or kept >= WHOLE_DRAWING else kept
        return Message("size.cycles", {"cycles": target.cycles, "kept": kept_share})
    return Message("size.text", {"height_px": target.character_height_px})
