"""Registries: records stand in order, each once, and none is half filled."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from simulator.registry import RecordError, Registry


@dataclass(frozen=True)
class Made:
    name: str
    words: tuple[str, ...]
    note: str = ""


@pytest.fixture
def made() -> Registry[Made]:
    return Registry("made", "name", [Made("first", ("a",)), Made("second", ("b",))])


@pytest.mark.by_hand
def test_records_keep_their_order(made):
    made.enter(Made("between", ("c",)), before="second")
    assert made.names() == ("first", "between", "second")
    assert [record.words for record in made] == [("a",), ("c",), ("b",)]
    assert made["between"].words == ("c",) and "between" in made and len(made) == 3
    assert made.where(lambda record: record.name > "c") == [made["first"], made["second"]]


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("record", "lacks"), [(Made("", ("a",)), "name"), (Made("third", ()), "words")]
)
def test_a_field_that_must_be_filled_is_missed(made, record, lacks):
    with pytest.raises(RecordError, match=f"lacks its {lacks}"):
        made.enter(record)
    assert made.names() == ("first", "second")


@pytest.mark.by_hand
def test_a_name_stands_once_and_unknown_ones_are_refused(made):
    with pytest.raises(RecordError, match="twice"):
        made.enter(Made("first", ("x",)))
    with pytest.raises(RecordError, match="no made 'third'; there are first, second"):
        made["third"]


@pytest.mark.invariant
def test_a_record_of_a_block_is_gone_behind_it(made):
    with pytest.raises(ZeroDivisionError), made.with_record(Made("third", ("x",)), before="first"):
        assert made.names() == ("third", "first", "second")
        raise ZeroDivisionError
    assert made.names() == ("first", "second")
