"""What a light budget says: answer, tables and conditions of verdict.json, rows of budget.csv."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from simulator.messages import Message
from simulator.report.wording import digits, entry, quantity, say, say_all, with_unit
from simulator.report.wording.catalogue import subject
from simulator.studies.budget.chain import CHANNELS, Chain, Factor
from simulator.studies.budget.study import LightBudget
from simulator.studies.placing import judged_entry
from simulator.studies.provenance import input_hash, versions

VEILED = 0.5
"""Below this share of the light from the target the answer says so."""
ALIKE = 5e-4
"""A factor this close to one is not worth a line of the page."""
EMVA = "EMVA 1288, linear model"


def answer(budget: LightBudget) -> Message:
    """How many electrons, from which light, with how much noise."""
    kind = subject("read", judged_entry(budget.scene.model).kind, None)
    if not budget.chains or budget.signal <= 0.0:
        return Message.of("budget.unlit", target=kind, electrons=budget.signal)
    first = budget.chains[0]
    target = float(budget.from_target[budget.channel]) / budget.signal
    if target < VEILED:
        return Message.of(
            "budget.veiled", target=kind, electrons=budget.signal,
            shutter_s=budget.state.exposure.shutter_s, share=target,
        )  # fmt: skip
    return Message.of(
        "budget.answer", target=kind, electrons=budget.signal,
        shutter_s=budget.state.exposure.shutter_s,
        share=min(1.0, float(first.electrons[budget.channel]) / budget.signal),
        light=light_words(first), noise=budget.temporal_noise, snr_db=budget.snr_db,
    )  # fmt: skip


def light_words(chain: Chain) -> str:
    """A light by name."""
    if chain.kind == "bounce":
        return "daylight off the ground and walls"
    name = {"sky": "the sky", "sun": f"the {chain.light}"}.get(chain.kind, f"the {chain.light}")
    return f"{name}, after bounces" if chain.bounced and chain.kind != "bounce" else name


def conditions(budget: LightBudget) -> list[Message]:
    """How it was found."""
    place = budget.place
    return [
        Message.of(
            "budget.place", column=place.pixel[0], row=place.pixel[1],
            material=budget.material.replace("-", " "), distance_m=place.distance_m,
        ),
        Message("budget.counts"),
        Message("budget.green"),
        Message.of(
            "budget.checked", found=float(budget.electrons[budget.channel]),
            rendered=float(budget.rendered[budget.channel]),
        ),
    ]  # fmt: skip


class Line(NamedTuple):
    """One line of the waterfall: words, the factor, and what is left on which unit."""

    name: str
    equation: str
    factor: float | None
    before: float | None
    after: float
    unit: str


def lines(budget: LightBudget) -> list[Line]:
    """The strongest light step by step, then what else falls on the pixel."""
    if not budget.chains:
        return []
    k = budget.channel
    out: list[Line] = []
    before: float | None = None
    for step in budget.chains[0].stages:
        after, factor = float(step.count[k]), None if step.factor is None else float(step.factor[k])
        if factor is None or abs(factor - 1.0) > ALIKE:
            words = entry("budget-step", step.name)
            known = None if factor is None else before
            out.append(
                Line(words["name"], equation_words(step), factor, known, after, step.unit)
            )  # fmt: skip
        before = after
    total = float(budget.chains[0].electrons[k])
    for name, more in added_rows(budget):
        if abs(more) > ALIKE * abs(budget.signal):
            change = f"{'−' if more < 0.0 else '+'} {digits(abs(more))} e⁻"
            words = entry("budget-added", name)
            out.append(Line(words, change, None, total, total + more, "electrons"))
        total += more
    return out


def added_rows(budget: LightBudget) -> Iterator[tuple[str, float]]:
    """What is added to the strongest light [e-]."""
    k = budget.channel
    yield "others", float(sum(chain.electrons[k] for chain in budget.chains[1:]))
    yield "air", float(budget.added.air[k])
    yield "stray", float(budget.added.stray[k])
    yield "neighbours", float(budget.added.neighbours[k])


def equation_words(step: Factor) -> str:
    """The equation with the values that it names."""
    equation = entry("budget-step", step.name)["equation"]
    values = [f"{name} = {_value(value, unit)}" for name, value, unit in step.values]
    return "; ".join([equation, *values])


def _value(value: float, unit: str) -> str:
    return quantity(value, unit) if unit == "s" else with_unit(value, unit)


def count_words(value: float, unit: str) -> str:
    """A count to three digits."""
    short = "e⁻" if unit == "electrons" else "photons"
    if abs(value) >= 1e6:
        power = math.floor(math.log10(abs(value)))
        tens = str(power).translate(str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹"))
        return f"{value / 10**power:.2f}·10{tens} {short}"
    return f"{digits(value)} {short}"


def rows(budget: LightBudget) -> list[dict[str, Any]]:
    """Every step of every light, what is added, noise, and levels: rows of budget.csv."""
    out: list[dict[str, Any]] = []
    for chain in budget.chains:
        out += [_step_row(chain, step) for step in chain.stages]
    for name in ("air", "stray", "neighbours"):
        out.append(
            _row("added", "", entry("budget-added", name), None, getattr(budget.added, name))
        )
    out.append(_row("signal", "", "By the factors, air and lens", None, budget.electrons))
    out.append(_row("signal", "", "The same pixel of the rendered picture", None, budget.rendered))
    for term in budget.noise:
        words = entry("budget-noise", term.name)
        out.append(_single("noise", words["name"], term.electrons, "electrons", words["equation"]))
    out.append(
        _single("noise", "Temporal noise", budget.temporal_noise, "electrons",
                "root of the sum of squares of the temporal terms")
    )  # fmt: skip
    out += [_single("level", *one) for one in level_rows(budget)]
    return out


def level_rows(budget: LightBudget) -> list[tuple[str, float | None, str, str]]:
    """From electrons to the display: name, value, unit, equation."""
    one = budget.level
    return [
        ("Signal to noise", budget.snr_db, "dB", "20 log₁₀(μ / σ)"),
        ("System gain", one.dn_per_e, "DN/e⁻", "K at the exposure's gain"),
        ("Black level", one.black_dn, "DN", ""),
        ("White", one.white_dn, "DN", ""),
        ("Digital number", one.digital_number, "DN", "K (μ + D t) + black"),
        ("Share of the full well", 100.0 * budget.signal / one.full_well_e, "%", "μ / full well"),
        ("Linear level of the picture", one.share_of_white, "of white", "balance, colour matrix"),
        ("Display level by the tone curve", one.display_level, "of 255", "tone curve"),
        ("Display level as delivered", one.delivered_level, "of 255", "mean of pictures"),
    ]


def _step_row(chain: Chain, step: Factor) -> dict[str, Any]:
    words = entry("budget-step", step.name)
    row = _row("light", light_words(chain), words["name"], step.factor, step.count)
    values = "; ".join(f"{n} = {v:.6g} {u}".rstrip() for n, v, u in step.values)
    return row | {
        "unit": step.unit, "equation": words["equation"], "values": values,
        "source": words["source"],
    }  # fmt: skip


def _row(part: str, light: str, name: str, factor: Any, count: Any) -> dict[str, Any]:
    factors = {
        f"factor_{channel}": None if factor is None else float(factor[k])
        for k, channel in enumerate(CHANNELS)
    }
    counts = {f"count_{channel}": float(count[k]) for k, channel in enumerate(CHANNELS)}
    plain = {"unit": "electrons", "equation": "", "values": "", "source": ""}
    return {"part": part, "light": light, "step": name, **factors, **counts, **plain}


def _single(part: str, name: str, value: float | None, unit: str, equation: str) -> dict[str, Any]:
    """A row of one value, that of a green pixel."""
    none = dict.fromkeys(f"{what}_{c}" for what in ("factor", "count") for c in CHANNELS)
    return {
        "part": part, "light": "", "step": name, **none, "count_green": value, "unit": unit,
        "equation": equation, "values": "", "source": EMVA if part == "noise" else "",
    }  # fmt: skip


def table(budget: LightBudget) -> dict[str, Any]:
    """What verdict.json holds of a light budget."""
    model, k = budget.scene.model, budget.channel
    return {
        "schema_version": 1,
        "study": "light budget",
        "scene": budget.scene.name,
        "camera": budget.camera.name,
        "title": model.title,
        "question": model.question,
        "answer": say(answer(budget)),
        "seed": budget.seed,
        "input_hash": input_hash(budget.scene, budget.camera),
        "versions": versions(),
        "conditions": say_all(conditions(budget)),
        "tables": [
            {
                "caption": f"From {light_words(budget.chains[0])} to electrons",
                "head": ["step", "equation", "factor", "left"],
                "rows": [
                    [one.name, one.equation, factor_words(one), count_words(one.after, one.unit)]
                    for one in lines(budget)
                ],
            },
            {
                "caption": "Noise",
                "head": ["term", "equation", "electrons"],
                "rows": [
                    [words["name"], words["equation"], digits(term.electrons)]
                    for term in budget.noise
                    if (words := entry("budget-noise", term.name))
                ],
            },
            {
                "caption": "Level",
                "head": ["quantity", "value", "unit"],
                "rows": [
                    [name, "" if value is None else digits(value), unit]
                    for name, value, unit, _ in level_rows(budget)
                ],
            },
        ]
        if budget.chains
        else [],
        "electrons": float(budget.electrons[k]),
        "electrons_from_target": float(budget.from_target[k]),
        "electrons_rendered": float(budget.rendered[k]),
        "noise_e": budget.temporal_noise,
        "snr_db": budget.snr_db if math.isfinite(budget.snr_db) else None,
        "steps": rows(budget),
    }  # fmt: skip


def factor_words(line: Line) -> str:
    """A factor to three digits."""
    return "" if line.factor is None else f"× {digits(line.factor)}"
