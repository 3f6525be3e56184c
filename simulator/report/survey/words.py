"""What a survey says: answer, table by risk, shopping list, and what verdict.json holds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from simulator.judge.density import EDITION, density_class
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.result import Limit, RemedyRow
from simulator.judge.together import HELPS
from simulator.judge.verdict import cautions
from simulator.messages import Message, unique
from simulator.report.wording import listed, say_all, shutter, three_digits
from simulator.report.wording.light import light_words, short_words
from simulator.report.wording.verdict import shown_word
from simulator.studies.provenance import versions
from simulator.studies.survey.study import Survey, Surveyed

HEAD = ["", "position", "task", "wanted", "worst hour", "typical hour", "px/m, class",
        "shutter, gain at worst", "what stands in the way", "your price"]  # fmt: skip


def rows_of(found: Survey) -> list[list[str]]:
    """The table, the greatest risk first."""
    out = []
    for k, row in enumerate(found.rows):
        task = row.scene.model.task
        density = row.in_scene.view.focal_px / float(row.in_scene.view.project(row.target_m)[1])
        limits = [r.factor for r in row.limits if r.share > 0.05][:2]
        w, t = row.worst, row.typical
        out.append(
            [
                str(k + 1), row.position.name, f"{task.name} {task.target}", f"{row.wanted:.2f}",
                _interval(w),
                _interval(t),
                f"{density:.0f}, {density_class(density).density_class}",
                f"{shutter(w['shutter_s'])}, {w['gain_db']:.0f} dB, {w['mode']}",
                ", ".join(limits),
                "" if row.position.price is None else three_digits(row.position.price),
            ]
        )  # fmt: skip
    return out


def lines_of(found: Survey) -> list[str]:
    """Every position in a line: verdict, and probability and light at its two hours."""
    wide = max(len(row.position.name) for row in found.rows)
    return [
        f"{row.position.name:<{wide}}  {shown_word(row.verdict, row.scene.model.task.name)}:"
        f" {row.worst['probability']:.2f} at the worst hour"
        f" ({short_words(row.scene.model.natural_light)}), {row.typical['probability']:.2f} at the"
        f" typical one ({short_words(row.typical_scene.model.natural_light)})"
        for row in found.rows
    ]


def hours_of(row: Surveyed) -> tuple[str, str]:
    """The light of a position's worst and typical hour."""
    return light_words(row.scene.model), light_words(row.typical_scene.model)


def answer(found: Survey) -> str:
    """The whole site in a sentence."""
    n = len(found.rows)
    fine = sum(row.verdict == "legible" for row in found.rows)
    text = f"{fine} of {n} positions serve at their worst hour"
    first = found.rows[0]
    if first.verdict == "legible":
        return f"{text}; the least margin is that of {first.position.name}."
    word = shown_word(first.verdict, first.scene.model.task.name)
    text += f"; the greatest risk is {first.position.name}: {word},"
    return f"{text} {100 * first.worst['probability']:.0f} of 100 pictures."


def shopping(found: Survey) -> list[str]:
    """What would mend the positions that fail: remedies that were sought, else plain advice."""
    out = []
    for row in found.rows:
        if row.verdict != "legible":
            out += _tried(row) if found.sought and row.remedies else _advised(row, found.trials)
    if out and not found.sought:
        out.append(
            "This is advice by kind of limit, not tried here: run the survey again with --remedies"
            " to seek, for each of these positions, the least change that serves (some minutes"
            " each)."
        )
    return out


def _tried(row: Surveyed) -> list[str]:
    """Remedies that a search found and proved on fresh noise."""
    serve = [r for r in row.remedies if r.reaches]
    if not serve:
        best = max(row.remedies, key=lambda r: r.probability)
        return [
            f"{row.position.name}: nothing that was tried reaches {row.wanted:.2f}; the best is"
            f" {_change(best)}."
        ]
    return [f"{row.position.name}: {_change(r)}, proved on fresh noise." for r in serve[:3]]


def _change(remedy: RemedyRow) -> str:
    old, new = (
        three_digits(v) if isinstance(v, float | int) else str(v)
        for v in (remedy.before, remedy.to)
    )
    unit = f" {remedy.unit}" if remedy.unit else ""
    text = f"{remedy.lever} from {old} to {new}{unit}: {_hundred(remedy.probability)}"
    effects = say_all(remedy.messages.side_effects)
    return f"{text} (mind: {'; '.join(effects)})" if effects else text


def _hundred(probability: float) -> str:
    return f"{100 * probability:.0f} of 100 pictures"


def _advised(row: Surveyed, trials: int) -> list[str]:
    """The limits and what is commonly done about them."""
    limits = [r for r in row.limits if r.share > 0.05][:2]
    if row.worst["probability"] >= row.wanted:
        return [
            f"{row.position.name}: it reaches {row.wanted:.2f}, but {trials} repetitions leave open"
            " whether it surely does; more --trials may settle it."
        ]
    if not limits:
        return [f"{row.position.name}: no single thing stands in the way for sure."]
    out = []
    for r in limits:
        alone = r.probability_without
        gains = alone >= row.worst["probability"] + HELPS
        what = f"mended alone {_hundred(alone)}" if gains else _only_with(r)
        advice = IMPAIRMENTS[r.factor].advice
        out.append(f"{row.position.name}, {r.factor} ({what}): {advice}.")
    return out


def _only_with(limit: Limit) -> str:
    """That a limit must be mended together with others, and which."""
    others = limit.together_with
    if not others:
        return "mended alone it does not help, it adds to the others only"
    return (
        f"mended alone it does not help; together with {listed(others)}"
        f" {_hundred(limit.probability_together or 0.0)}"
    )


def _interval(row: Mapping[str, Any]) -> str:
    """Probability of an hour, and its interval."""
    low, high = row["probability_low"], row["probability_high"]
    return f"{row['probability']:.2f} ({low:.2f} to {high:.2f})"


def _at(distance_m: float, probability: float) -> str:
    told = "not seen there" if np.isnan(probability) else f"{probability:.2f}"
    return f"{distance_m:.1f} m: {told}"


def verdict_table(found: Survey) -> dict[str, Any]:
    """What verdict.json holds of a survey."""
    told: list[Message] = []
    for row in found.rows:
        told += cautions(row.scene.model, row.in_scene.world)
    hours = [
        f"{name.capitalize()} hour: {'; '.join(sets) if sets else 'the scenes as written'}."
        for name, sets in (
            ("worst", found.site.hours.worst), ("typical", found.site.hours.typical),
        )
    ]  # fmt: skip
    return {
        "schema_version": 1,
        "study": "survey",
        "verdict": found.rows[0].verdict,
        "site": found.name,
        "title": found.site.title,
        "question": found.site.question,
        "answer": answer(found),
        "engineer": "Sorted by probability at the worst hour less the probability wanted.",
        "seed": found.seed,
        "trials": found.trials,
        "versions": versions(),
        "why": [],
        "remedies_sought": found.sought,
        "changes": shopping(found),
        "conditions": [
            *hours,
            "Positions with hours of their own are judged at those.",
            f"{found.trials} repetitions of the whole camera for each point; intervals are those of"
            " the repetitions, tolerances come on top.",
            "The maps leave out what stands in the way between camera and target.",
        ],
        "cautions": say_all(told),
        "messages": {"cautions": [message.row() for message in unique(told)]},
        "tables": [
            {
                "caption": f"Positions by risk; pixel density at the target with its {EDITION}"
                " class",
                "head": ["rank", *HEAD[1:]],
                "rows": rows_of(found),
            },
            {
                "caption": "What the hours stand for: natural light, and the lamps that are on",
                "head": ["position", "worst hour", "typical hour"],
                "rows": [[row.position.name, *hours_of(row)] for row in found.rows],
            },
            {
                "caption": "Probability at the worst hour by distance of the target from the lens",
                "head": ["position", "distance and probability"],
                "rows": [
                    [row.position.name, "; ".join(_at(d, p) for d, p in row.reach)]
                    for row in found.rows
                ],
            },
        ],
        "pictures": [
            {"file": "plan-density.png", "wide": True, "caption": "Where pixels are dense enough.",
             "alt": "Plan of the site by pixel density"},
            {"file": "plan-legibility.png", "wide": True,
             "caption": "Where the task succeeds at the worst hour.",
             "alt": "Plan of the site by probability of the task"},
        ],
        "positions": [
            {
                "name": row.position.name, "scene": row.scene.name, "camera": row.camera.name,
                "price": row.position.price, "wanted_probability": row.wanted,
                "margin": row.margin, "worst": row.worst, "typical": row.typical,
                "light": dict(zip(("worst", "typical"), hours_of(row), strict=True)),
                "limits": [one.to_dict() for one in row.limits],
                "remedies": [one.to_dict() for one in row.remedies],
            }
            for row in found.rows
        ],
    }  # fmt: skip
