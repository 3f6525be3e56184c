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
from simulator.report.wording import (
    capital,
    decibels,
    percent,
    percent_range,
    pictures,
    say,
    say_all,
    shutter,
    three_digits,
)
from simulator.report.wording.light import light_words, short_words
from simulator.report.wording.verdict import change, shown_word
from simulator.studies.provenance import versions
from simulator.studies.survey.study import Survey, Surveyed

HEAD = ["", "position", "task", "target", "worst hour", "typical hour", "px/m, class",
        "shutter, gain at worst", "main causes", "your price"]  # fmt: skip
LEAST_SHARE = 0.05
"""Limits that cost less are not named (chosen by us)."""
MOST_FIXES = 3


def rows_of(surveyed: Survey) -> list[list[str]]:
    """The table, the greatest risk first."""
    out = []
    for k, row in enumerate(surveyed.rows):
        task = row.scene.model.task
        density = row.in_scene.view.focal_px / float(row.in_scene.view.project(row.target_m)[1])
        limits = [r.factor for r in row.limits if r.share > LEAST_SHARE][:2]
        w, t = row.worst, row.typical
        out.append(
            [
                str(k + 1), row.position.name, f"{task.name} {task.target}", percent(row.wanted),
                _interval(w),
                _interval(t),
                f"{density:.0f}, {density_class(density).density_class}",
                f"{shutter(w['shutter_s'])}, {decibels(w['gain_db'])}, {w['mode']}",
                ", ".join(limits),
                "" if row.position.price is None else three_digits(row.position.price),
            ]
        )  # fmt: skip
    return out


def lines_of(surveyed: Survey) -> list[str]:
    """Every position in a line: success and light at its two hours."""
    return say_all(
        Message.of(
            "survey.line", position=row.position.name, worst=row.worst["probability"],
            typical=row.typical["probability"],
            worst_light=short_words(row.scene.model.natural_light),
            typical_light=short_words(row.typical_scene.model.natural_light),
        )
        for row in surveyed.rows
    )  # fmt: skip


def file_stems(surveyed: Survey) -> list[str]:
    """How files of the positions are called; names that come out alike are numbered."""
    stems: list[str] = []
    for row in surveyed.rows:
        plain = stem = "".join(c if c.isalnum() else "-" for c in row.position.name)
        number, taken = 2, {other.casefold() for other in stems}
        while stem.casefold() in taken:
            stem, number = f"{plain}-{number}", number + 1
        stems.append(stem)
    return stems


def picture_file(stem: str) -> str:
    """The picture of a position in the result folder."""
    return f"pictures/{stem}.png"


def _position_picture(row: Surveyed, stem: str) -> dict[str, Any]:
    """A position's verdict as the caption of its picture."""
    task = row.scene.model.task.name
    text = (
        f"{row.position.name}: {shown_word(row.verdict, task)},"
        f" {pictures(row.worst['probability'])} at the worst hour (target {percent(row.wanted)})."
    )
    return {"file": picture_file(stem), "alt": f"The target of {row.position.name}",
            "caption": text, "wide": False}  # fmt: skip


def hours_of(row: Surveyed) -> tuple[str, str]:
    """The light of a position's worst and typical hour."""
    return light_words(row.scene.model), light_words(row.typical_scene.model)


def answer(surveyed: Survey) -> Message:
    """The whole site in a sentence or two."""
    reliable = sum(row.verdict == "legible" for row in surveyed.rows)
    first = surveyed.rows[0]
    return Message.of(
        f"survey.{'all-work' if first.verdict == 'legible' else 'risk'}", reliable=reliable,
        count=len(surveyed.rows), position=first.position.name, target=first.wanted,
        probability=first.worst["probability"]
    )  # fmt: skip


def shopping(surveyed: Survey) -> list[Message]:
    """What would fix the positions that fail: remedies that were sought, else common advice."""
    out: list[Message] = []
    for row in surveyed.rows:
        if row.verdict != "legible":
            out += (
                _tried(row) if surveyed.sought and row.remedies else _advised(row, surveyed.trials)
            )
    return [*out, Message("survey-change.not-tried")] if out and not surveyed.sought else out


def _tried(row: Surveyed) -> list[Message]:
    """Remedies that a search surveyed and proved on fresh noise."""
    reaching = [r for r in row.remedies if r.reaches][:MOST_FIXES]
    name = "reaches" if reaching else "best"
    return [
        Message.of(
            f"survey-change.{name}", position=row.position.name, change=_change(r, name),
            effects=tuple(say_all(r.messages.side_effects)), probability=r.probability,
            target=row.wanted,
        )
        for r in reaching or [max(row.remedies, key=lambda r: r.probability)]
    ]  # fmt: skip


def _change(remedy: RemedyRow, name: str) -> str:
    return capital(change(remedy)) if name == "reaches" else change(remedy)


def _advised(row: Surveyed, trials: int) -> list[Message]:
    """The limits and what is commonly done about them."""
    position = row.position.name
    if row.worst["probability"] >= row.wanted:
        return [Message.of("survey-change.borderline", position=position, target=row.wanted,
                           trials=trials)]  # fmt: skip
    limits = [r for r in row.limits if r.share > LEAST_SHARE][:2]
    if not limits:
        return [Message.of("survey-change.no-single-cause", position=position)]
    return [_advice(position, limit, row.worst["probability"]) for limit in limits]


def _advice(position: str, limit: Limit, probability: float) -> Message:
    """Common advice on a limit, and what fixing it brings alone or with others."""
    known = IMPAIRMENTS[limit.factor]
    name, brings = "adds", None
    if limit.probability_without >= probability + HELPS:
        name, brings = "alone", limit.probability_without
    elif limit.together_with:
        name, brings = "together", limit.probability_together
    return Message.of(
        f"survey-change.{name}", position=position, advice=known.advice, noun=known.noun,
        others=tuple(IMPAIRMENTS[n].noun for n in limit.together_with or ()), probability=brings
    )  # fmt: skip


def _interval(row: Mapping[str, Any]) -> str:
    """Probability of an hour, and its interval."""
    low, high = row["probability_low"], row["probability_high"]
    return f"{percent(row['probability'])} ({percent_range(low, high)})"


def _at(distance_m: float, probability: float) -> str:
    seen = "out of the picture" if np.isnan(probability) else percent(probability)
    return f"{distance_m:.1f} m: {seen}"


def _conditions(surveyed: Survey) -> list[Message]:
    hours = {"worst": surveyed.site.hours.worst, "typical": surveyed.site.hours.typical}
    return [
        *(Message.of("survey-condition.hour", hour=name, values=tuple(sets))
          for name, sets in hours.items()),
        Message("survey-condition.own-hours"),
        Message.of("survey-condition.trials", trials=surveyed.trials),
        Message("survey-condition.maps"),
    ]  # fmt: skip


def verdict_table(surveyed: Survey) -> dict[str, Any]:
    """What verdict.json holds of a survey."""
    messages = {
        "answer": [answer(surveyed)],
        "changes": shopping(surveyed),
        "conditions": _conditions(surveyed),
        "cautions": unique(m for row in surveyed.rows
                           for m in cautions(row.scene.model, row.in_scene.world)),
    }  # fmt: skip
    return {
        "schema_version": 1,
        "study": "survey",
        "verdict": surveyed.rows[0].verdict,
        "site": surveyed.name,
        "title": surveyed.site.title,
        "question": surveyed.site.question,
        "answer": say(answer(surveyed)),
        "engineer": say(Message("survey.engineer")),
        "seed": surveyed.seed,
        "trials": surveyed.trials,
        "versions": versions(),
        "why": [],
        "remedies_sought": surveyed.sought,
        "changes": say_all(messages["changes"]),
        "conditions": say_all(messages["conditions"]),
        "cautions": say_all(messages["cautions"]),
        "messages": {name: [m.row() for m in part] for name, part in messages.items()},
        "tables": [
            {
                "caption": f"Positions by risk; pixel density at the target with its {EDITION}"
                " class",
                "head": ["rank", *HEAD[1:]],
                "rows": rows_of(surveyed),
            },
            {
                "caption": "What the hours stand for: natural light, and the lamps that are on",
                "head": ["position", "worst hour", "typical hour"],
                "rows": [[row.position.name, *hours_of(row)] for row in surveyed.rows],
            },
            {
                "caption": "Success at the worst hour by distance of the target from the lens",
                "head": ["position", "distance and success"],
                "rows": [
                    [row.position.name, "; ".join(_at(d, p) for d, p in row.reach)]
                    for row in surveyed.rows
                ],
            },
        ],
        "pictures": [
            *map(_position_picture, surveyed.rows, file_stems(surveyed)),
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
            for row in surveyed.rows
        ],
    }  # fmt: skip
