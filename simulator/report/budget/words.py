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


def answer(found: LightBudget) -> Message:
    """How many electrons, from which light, with how much noise."""
    kind = subject("read", judged_entry(found.scene.model).kind, None)
    if not found.chains or found.signal <= 0.0:
        return Message.of("budget.unlit", target=kind, electrons=found.signal)
    first = found.chains[0]
    target = float(found.from_target[found.channel]) / found.signal
    if target < VEILED:
        return Message.of(
            "budget.veiled", target=kind, electrons=found.signal,
            shutter_s=found.state.exposure.shutter_s, share=target,
        )  # fmt: skip
    return Message.of(
        "budget.answer", target=kind, electrons=found.signal,
        shutter_s=found.state.exposure.shutter_s,
        share=min(1.0, float(first.electrons[found.channel]) / found.signal),
        light=light_words(first), noise=found.temporal_noise, snr_db=found.snr_db,
    )  # fmt: skip


def light_words(chain: Chain) -> str:
    """A light by name."""
    if chain.kind == "bounce":
        return "daylight off the ground and walls"
    name = {"sky": "the sky", "sun": f"the {chain.light}"}.get(chain.kind, f"the {chain.light}")
    return f"{name}, after bounces" if chain.bounced and chain.kind != "bounce" else name


def conditions(found: LightBudget) -> list[Message]:
    """How it was found."""
    place = found.place
    return [
        Message.of(
            "budget.place", column=place.pixel[0], row=place.pixel[1],
            material=found.material.replace("-", " "), distance_m=place.distance_m,
        ),
        Message("budget.counts"),
        Message("budget.green"),
        Message.of(
            "budget.checked", found=float(found.electrons[found.channel]),
            rendered=float(found.rendered[found.channel]),
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


def lines(found: LightBudget) -> list[Line]:
    """The strongest light step by step, then what else falls on the pixel."""
    if not found.chains:
        return []
    k = found.channel
    out: list[Line] = []
    before: float | None = None
    for step in found.chains[0].stages:
        after, factor = float(step.count[k]), None if step.factor is None else float(step.factor[k])
        if factor is None or abs(factor - 1.0) > ALIKE:
            words = entry("budget-step", step.name)
            known = None if factor is None else before
            out.append(
                Line(words["name"], equation_words(step), factor, known, after, step.unit)
            )  # fmt: skip
        before = after
    total = float(found.chains[0].electrons[k])
    for name, more in added_rows(found):
        if abs(more) > ALIKE * abs(found.signal):
            told = f"{'−' if more < 0.0 else '+'} {digits(abs(more))} e⁻"
            words = entry("budget-added", name)
            out.append(Line(words, told, None, total, total + more, "electrons"))
        total += more
    return out


def added_rows(found: LightBudget) -> Iterator[tuple[str, float]]:
    """What is added to the strongest light [e-]."""
    k = found.channel
    yield "others", float(sum(chain.electrons[k] for chain in found.chains[1:]))
    yield "air", float(found.added.air[k])
    yield "stray", float(found.added.stray[k])
    yield "neighbours", float(found.added.neighbours[k])


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


def rows(found: LightBudget) -> list[dict[str, Any]]:
    """Every step of every light, what is added, noise, and levels: rows of budget.csv."""
    out: list[dict[str, Any]] = []
    for chain in found.chains:
        out += [_step_row(chain, step) for step in chain.stages]
    for name in ("air", "stray", "neighbours"):
        out.append(_row("added", "", entry("budget-added", name), None, getattr(found.added, name)))
    out.append(_row("signal", "", "By the factors, air and lens", None, found.electrons))
    out.append(_row("signal", "", "The same pixel of the rendered picture", None, found.rendered))
    for term in found.noise:
        words = entry("budget-noise", term.name)
        out.append(_single("noise", words["name"], term.electrons, "electrons", words["equation"]))
    out.append(
        _single("noise", "Temporal noise", found.temporal_noise, "electrons",
                "root of the sum of squares of the temporal terms")
    )  # fmt: skip
    out += [_single("level", *one) for one in level_rows(found)]
    return out


def level_rows(found: LightBudget) -> list[tuple[str, float | None, str, str]]:
    """From electrons to the display: name, value, unit, equation."""
    one = found.level
    return [
        ("Signal to noise", found.snr_db, "dB", "20 log₁₀(μ / σ)"),
        ("System gain", one.dn_per_e, "DN/e⁻", "K at the exposure's gain"),
        ("Black level", one.black_dn, "DN", ""),
        ("White", one.white_dn, "DN", ""),
        ("Digital number", one.digital_number, "DN", "K (μ + D t) + black"),
        ("Share of the full well", 100.0 * found.signal / one.full_well_e, "%", "μ / full well"),
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


def table(found: LightBudget) -> dict[str, Any]:
    """What verdict.json holds of a light budget."""
    model, k = found.scene.model, found.channel
    return {
        "schema_version": 1,
        "study": "light budget",
        "scene": found.scene.name,
        "camera": found.camera.name,
        "title": model.title,
        "question": model.question,
        "answer": say(answer(found)),
        "seed": found.seed,
        "input_hash": input_hash(found.scene, found.camera),
        "versions": versions(),
        "conditions": say_all(conditions(found)),
        "tables": [
            {
                "caption": f"From {light_words(found.chains[0])} to electrons",
                "head": ["step", "equation", "factor", "left"],
                "rows": [
                    [one.name, one.equation, factor_words(one), count_words(one.after, one.unit)]
                    for one in lines(found)
                ],
            },
            {
                "caption": "Noise",
                "head": ["term", "equation", "electrons"],
                "rows": [
                    [words["name"], words["equation"], digits(term.electrons)]
                    for term in found.noise
                    if (words := entry("budget-noise", term.name))
                ],
            },
            {
                "caption": "Level",
                "head": ["quantity", "value", "unit"],
                "rows": [
                    [name, "" if value is None else digits(value), unit]
                    for name, value, unit, _ in level_rows(found)
                ],
            },
        ]
        if found.chains
        else [],
        "electrons": float(found.electrons[k]),
        "electrons_from_target": float(found.from_target[k]),
        "electrons_rendered": float(found.rendered[k]),
        "noise_e": found.temporal_noise,
        "snr_db": found.snr_db if math.isfinite(found.snr_db) else None,
        "steps": rows(found),
    }  # fmt: skip


def factor_words(line: Line) -> str:
    """A factor to three digits."""
    return "" if line.factor is None else f"× {digits(line.factor)}"
