"""A verdict in words: a text for the customer, one for the engineer, and the lines beside them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from simulator.judge import explanation
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.result import (
    Limit,
    RemedyPart,
    RemedyRow,
    Sentences,
    TargetSeen,
    Verdict,
)
from simulator.messages import Message
from simulator.report.wording import numbers
from simulator.report.wording.catalogue import (
    Reader,
    entry,
    filled,
    rendered,
    say,
    say_all,
    subject,
)


def shown_word(word: str, task: str) -> str:
    """The verdict as people say it of a task: a person is recognisable, not legible.

    Examples
    --------
    >>> shown_word("not legible", "recognise")
    'not recognisable'
    """
    return word.replace("legible", entry("task", task)["word"])


def yes_or_no(word: str) -> str:
    """The answer in a word or two."""
    return str(entry("answer", word.replace(" ", "-")))


def target_words(verdict: Verdict) -> str:
    """What the verdict is about, such as "number plate K2W8 R4D"."""
    return subject("read", verdict.target.kind, verdict.target.text)


def size_words(target: TargetSeen) -> str:
    """How much of the target is left in the picture."""
    return say(explanation.size(target))


def said(*messages: Message | None, reader: Reader = "engineer") -> list[str]:
    """The words of what there is to say, in order."""
    return [say(message, reader) for message in messages if message is not None]


def customer_sentence(verdict: Verdict) -> str:
    """The answer in plain words: what will happen, why, and what would fix it."""
    parts = said(
        explanation.success(verdict),
        explanation.reason(verdict),
        explanation.other_shade(verdict),
        reader="customer",
    )
    return " ".join([*parts, *_fix(verdict)])


def _fix(verdict: Verdict) -> list[str]:
    if not verdict.remedies:
        return []
    first = verdict.remedies[0]
    return [_of_remedy("reaches" if first.reaches else "best", first, verdict)]


def _of_remedy(key: str, row: RemedyRow, verdict: Verdict, **more: Any) -> str:
    """A text of the catalogue on one remedy."""
    values = {
        "change": change(row),
        "probability": row.probability,
        "now": verdict.probability,
    }
    return filled(entry("remedy", key), {**values, **more})


def engineer_sentence(verdict: Verdict) -> str:
    """The answer with the figures that carry it."""
    return rendered("engineer.j2", v=verdict, size=size_words(verdict.target),
                    limits=explanation.main_limits(verdict))  # fmt: skip


BLACKENED = 0.5
"""Share of the rest of the picture that is black from which on a change says so at once."""


def _blackened(remedy: RemedyRow) -> float:
    """Share of the rest of the picture that a change leaves black, where it makes it more."""
    effects = remedy.messages.side_effects
    shares = [m.values["after"] for m in effects if m.id == "effect.rest-black"]
    return max((float(one) for one in shares if isinstance(one, float | int)), default=0.0)


def change(remedy: RemedyPart) -> str:
    """A remedy as an imperative without a capital; several levers one after the other.

    Examples
    --------
    >>> change(RemedyPart(lever="gain limit", before=30.0, to=36.0, unit="dB"))
    'set the gain limit to 36 dB (now 30 dB)'
    """
    if isinstance(remedy, RemedyRow):
        black = _blackened(remedy)
        if black >= BLACKENED:
            plain = RemedyPart(lever=remedy.lever, before=remedy.before, to=remedy.to,
                               unit=remedy.unit)  # fmt: skip
            parts = numbers.listed([change(part) for part in remedy.parts or (plain,)])
            return (
                f"{parts} (this leaves {numbers.percent(black)} of the rest of the picture black)"
            )
        if remedy.parts:
            return numbers.listed([change(part) for part in remedy.parts])
    before, to = (numbers.quantity(value, remedy.unit) for value in (remedy.before, remedy.to))
    if remedy.before in ("", "none", 0.0):
        return f"add {remedy.lever}, {to}"
    if remedy.lever == "camera":
        return f"use the camera {to} instead of {before}"
    return f"set the {remedy.lever} to {to} (now {before})"


def remedy_lines(verdict: Verdict, most: int) -> list[str]:
    """Remedies that reach the target, a line each; if there is none, the best that was tried."""
    remedies = verdict.remedies
    reaching = [row for row in remedies if row.reaches]
    if remedies and not reaching:
        return [_of_remedy("line-none", remedies[0], verdict)]
    return [_of_remedy("line", row, verdict) for row in reaching[:most]]


def command_of(remedy: RemedyRow) -> str:
    """How the command line makes a change; empty if it takes nothing."""
    camera = [f"--camera {remedy.camera}"] if remedy.camera else []
    return " ".join([*(f"--set '{text}'" for text in remedy.sets), *camera])


def changes(verdict: Verdict, most: int, least_gain: float) -> list[str]:
    """Remedies for the customer, each with its side effects; where none is enough, the best one.

    Parameters
    ----------
    most
        Remedies that are named.
    least_gain
        A remedy that gains less than this does not help.
    """
    remedies = verdict.remedies
    reaching = [row for row in remedies if row.reaches]
    out = []
    for row in reaching[:most]:
        text = _of_remedy("changed", row, verdict)
        effects = list(row.side_effects)
        out.append(" ".join([text, *([effects_of(row)] if effects else [])]))
    if len(reaching) > most:
        out.append(filled(entry("remedy", "more"), {"count": len(reaching) - most}))
    if remedies and not reaching:
        best = max(remedies, key=lambda row: float(row.probability))
        gains = best.probability >= verdict.probability + least_gain
        key = "tried" if gains else "tried-in-vain"
        out.append(_of_remedy(key, best, verdict, count=len(remedies)))
    return out


def effects_of(remedy: RemedyRow) -> str:
    """What else a change does."""
    return filled(entry("remedy", "effects"), {"effects": list(remedy.side_effects)})


def limit_effect(row: Limit, probability: float, reader: Reader = "engineer") -> str:
    """What fixing one impairment brings, alone and with which others."""
    parts = said(*explanation.limit_effect(row, probability), reader=reader)
    return ("; " if reader == "engineer" else " ").join(part for part in parts if part)


def limit_line(row: Limit, probability: float) -> str:
    """One limit for the engineer: what it costs, what fixing it brings, and what it does alone."""
    values = {**vars(row), "noun": IMPAIRMENTS[row.factor].noun}
    cost, left = (filled(entry("cost", key), values) for key in ("line", "left"))
    return f"{cost}; {limit_effect(row, probability)}; {left}"


def costs_listed(rows: Sequence[Limit]) -> str:
    """Limits with what they cost, without more words."""
    return ", ".join(f"{IMPAIRMENTS[row.factor].noun} {numbers.percent(row.share)}" for row in rows)


def worded(verdict: Verdict) -> Verdict:
    """A verdict with its texts, made from its messages and figures."""
    messages = verdict.messages
    settle = messages.to_settle
    remedies = tuple(
        row.model_copy(
            update={
                "side_effects": tuple(say_all(row.messages.side_effects)),
                "cautions": tuple(say_all(row.messages.cautions)),
            }
        )
        for row in verdict.remedies
    )
    plain = verdict.model_copy(
        update={
            "remedies": remedies,
            "cautions": tuple(say_all(messages.cautions)),
            "conditions": tuple(say_all(messages.conditions)),
            "to_settle": None if settle is None else say(settle),
        }
    )
    sentences = Sentences(customer=customer_sentence(plain), engineer=engineer_sentence(plain))
    return plain.model_copy(update={"sentences": sentences})
