"""Every message has its text, every text its message, and both have the same values."""

from __future__ import annotations

import ast
import re
from functools import lru_cache
from pathlib import Path

import pytest
from jinja2 import meta

import simulator
from simulator.messages import Message, unique
from simulator.report.wording.catalogue import catalogue, environment, say, setting

ROOT = Path(simulator.__file__).parent


@lru_cache(maxsize=1)
def sent() -> list[tuple[str, set[str] | None]]:
    """Identity, and keys of the values where they are written out, of each message in the code.

    A part of an identity that is computed is given as a star.
    """
    return [
        (given, keys(node))
        for path in sorted(ROOT.rglob("*.py"))
        if "Message" in (source := path.read_text(encoding="utf-8"))
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call) and ast.unparse(node.func) in ("Message", "Message.of")
        for given in identities(node.args[0])
    ]


def identities(node: ast.expr) -> list[str]:
    if isinstance(node, ast.IfExp):
        return [*identities(node.body), *identities(node.orelse)]
    if isinstance(node, ast.JoinedStr):
        parts = [p.value if isinstance(p, ast.Constant) else "*" for p in node.values]
        return ["".join(map(str, parts))]
    assert isinstance(node, ast.Constant), ast.unparse(node)
    return [str(node.value)]


def keys(call: ast.Call) -> set[str] | None:
    if any(keyword.arg is None for keyword in call.keywords):
        return None
    brought = {keyword.arg for keyword in call.keywords if keyword.arg is not None}
    for node in call.args[1:]:
        if not isinstance(node, ast.Dict) or not all(
            isinstance(k, ast.Constant) for k in node.keys
        ):
            return None
        brought |= {str(k.value) for k in node.keys if isinstance(k, ast.Constant)}
    return brought


@lru_cache(maxsize=1)
def texts() -> dict[str, list[str]]:
    """Templates by identity, of the tables that hold messages."""
    tables = {identity.partition(".")[0] for identity, _ in sent()}
    return {
        f"{table}.{key}": [text] if isinstance(text, str) else list(text.values())
        for table in tables
        for key, text in catalogue()[table].items()
    }


def needed(template: str) -> set[str]:
    known = {*environment().globals, "_"}
    return meta.find_undeclared_variables(environment().parse(template)) - known


@pytest.mark.invariant
def test_each_message_has_a_text_and_each_text_a_message() -> None:
    found = {identity for identity, _ in sent()}
    patterns = [re.compile(re.escape(i).replace(r"\*", "[a-z-]+") + "$") for i in found]
    assert {i for i in found if "*" not in i} <= set(texts())
    assert [i for i in texts() if not any(p.match(i) for p in patterns)] == []


@pytest.mark.invariant
def test_each_text_needs_only_what_its_message_brings() -> None:
    for identity, brought in sent():
        if brought is None or "*" in identity:
            continue
        for text in texts()[identity]:
            assert needed(text) <= brought, identity


@pytest.mark.invariant
def test_no_text_speaks_in_keys_or_in_words_that_the_house_does_not_use() -> None:
    """The voice table of the house; and no dotted or underscored key, no option."""
    spoken = re.compile(r"\{[{%].*?[%}]\}", re.S)
    avoid = re.compile(
        r"\bmend|\bof 100\b|\bsurely\b|\bwanted\b|\bstands\b|\bserves\b|--\w|\w_\w|\btold\b"
    )
    for identity, variants in texts().items():
        for text in variants:
            assert not avoid.search(spoken.sub("", text)), identity


@pytest.mark.by_hand
def test_messages_are_data() -> None:
    one = Message("caution.height", {"height_m": 4.0})
    assert Message.from_row(one.row()) == one
    assert hash(one) == hash(Message("caution.height", {"height_m": 4.0}))
    assert unique([one, Message("condition.settled"), one]) == [one, Message("condition.settled")]
    assert "4 m above ground" in say(one)


@pytest.mark.by_hand
def test_customer_and_engineer_are_told_differently() -> None:
    helps = Message("limit.helps", {"probability": 0.12, "without": 0.8})
    assert "80 % of pictures" in say(helps, "customer")
    assert "0.12 to 0.80" in say(helps, "engineer")


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("key", "value", "tolerance", "words"),
    [
        ("camera.lens.aberration_sigma_um", 1.6, 0.5, "the camera's lens (1.6 ± 0.5 µm)"),
        ("camera.lens.f_number", 1.6, 0.08, "f-number of the camera's lens (1.6 ± 0.08)"),
        ("camera.sensor.dsnu_e", 1.0, 0.5, "DSNU of the camera's sensor (1 ± 0.5 e⁻)"),
        ("scene.lamp.porch.intensity_cd", 25.0, 5.0, "intensity of lamp porch (25 ± 5 cd)"),
        ("camera.sensor.hot_pixels_per_million", 30.0, 25.0, "(30 ± 25 in a million)"),
    ],
)
def test_a_setting_is_named_with_its_unit(key, value, tolerance, words) -> None:
    assert setting(key, value, tolerance).endswith(words)
