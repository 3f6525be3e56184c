"""A specification in words: texts of every sheet, for pages, web page and record."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.judge.verdict import cautions
from simulator.report.wording import say, say_all
from simulator.report.wording.catalogue import entry
from simulator.report.wording.light import light_words
from simulator.scene.build import build_world
from simulator.studies.specify import findings
from simulator.studies.specify.result import Specification, Way


@dataclass(frozen=True)
class WayWords:
    """One way, sheet by sheet."""

    title: str
    line: str
    parts: list[tuple[str, str, str, str]]
    """Quantity, part, what to ask the dealer for, price."""
    total: str
    settings: list[tuple[str, str]]
    mounting: list[tuple[str, str]]
    test: list[str]
    record: list[tuple[str, str]]
    """Figures of the test and what they must be, to be compared with what is measured."""
    rest: list[str]
    reserve: list[str]
    eyes: list[str]


@dataclass(frozen=True)
class SpecificationWords:
    """All there is to say."""

    title: str
    question: str
    hour: str
    answer: str
    lens: str
    wide_range: str
    ways: list[WayWords]
    failed: list[str]
    conditions: list[str]
    cautions: list[str]


def words_of(specification: Specification) -> SpecificationWords:
    """A specification in words."""
    model = specification.scene.model
    return SpecificationWords(
        f"Specification: {model.title}",
        model.question,
        f"Light of the question: {light_words(model)}.",
        " ".join(say_all(findings.answer(specification))),
        "" if specification.lens is None else say(findings.lens_message(specification.lens)),
        ""
        if specification.wide_range is None
        else say(findings.wide_range_message(specification.wide_range)),
        [_way(specification, way) for way in specification.ways],
        [
            f"{entry('specify-family', one.family)} ({one.camera}): {say(one.why)}."
            for one in specification.failed
        ],
        say_all(findings.conditions(specification)),
        _cautions(specification),
    )


def _way(specification: Specification, way: Way) -> WayWords:
    parts = [
        ("1", say(name), say(asked), "" if price is None else f"{price:,.0f}".replace(",", " "))
        for name, asked, price in findings.part_asks(way)
    ]
    return WayWords(
        role_words(way),
        " ".join(say_all(findings.way_line(specification.scene, way))),
        parts,
        "" if way.price is None else f"{way.price:,.0f}".replace(",", " "),
        [(say(line.label), say(line.value)) for line in findings.settings(way)],
        [(say(line.label), say(line.value)) for line in findings.mounting(specification, way)],
        say_all(findings.acceptance(specification, way)),
        [(say(line.label), say(line.value)) for line in findings.record(specification, way)],
        say_all(findings.rest(way)),
        say_all(findings.reserves(way)),
        say_all(findings.eyes(way)),
    )


def role_words(way: Way) -> str:
    """What a way is best at, and its kind."""
    roles = [str(entry("specify-role", role.replace(" ", "-"))) for role in way.roles]
    first, *others = roles
    named = ", ".join([first, *(role[0].lower() + role[1:] for role in others)])
    kind = entry("specify-family", way.family if way.overview is None else "second-camera")
    return f"{named}: {kind}"


def _cautions(specification: Specification) -> list[str]:
    if not specification.ways:
        return []
    scene = specification.ways[0].design.applied(specification.scene)[0]
    return say_all(cautions(scene.model, build_world(scene.model)))
