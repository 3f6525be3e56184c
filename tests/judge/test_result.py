"""The typed verdict: frozen, read back as it was, refused where it is foreign or old."""

from __future__ import annotations

import json

import pytest
from jsonschema import Draft202012Validator
from pydantic import ValidationError

from simulator.errors import FileFormatError
from simulator.judge.result import Limit, RemedyRow, Signal, Verdict

REMEDY = RemedyRow(
    lever="shutter and gain", before="0.04 s and 12 dB", to="0.01 s and 24 dB", unit="",
    probability=0.97, reaches=True, sets=("exposure.shutter_s=0.01",),
    parts=({"lever": "shutter", "from": 0.04, "to": 0.01, "unit": "s"},),
)  # fmt: skip


@pytest.mark.invariant
def test_a_verdict_cannot_be_changed(make_verdict):
    verdict = make_verdict()
    with pytest.raises(ValidationError, match="frozen"):
        verdict.probability = 1.0
    with pytest.raises(ValidationError, match="frozen"):
        verdict.signal.snr_db = 40.0
    assert isinstance(verdict.limits, tuple)


@pytest.mark.invariant
def test_what_is_written_is_read_back(make_verdict, tmp_path):
    verdict = make_verdict(remedies=[REMEDY], limits=[LIGHT])
    (tmp_path / "verdict.json").write_text(verdict.to_json(), encoding="utf-8")
    again = Verdict.read(tmp_path / "verdict.json")
    assert again == verdict
    assert again.to_json() == verdict.to_json()
    row = verdict.to_dict()["remedies"][0]
    assert list(row)[:4] == ["lever", "from", "to", "unit"]
    assert again.remedies[0].parts[0].before == 0.04


LIGHT = Limit(factor="light", probability_without=1.0, probability_only=0.2, share=0.8)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"schema_version": 1}, "an earlier version"),
        ({"probability": 1.2}, "probability"),
        ({"verdict": "perhaps"}, "verdict"),
        ({"probability_all_mended": 0.5}, "probability_all_mended"),
        ({"trials": None}, "trials"),
        ({"signal": {}}, "signal.illuminance_lux"),
    ],
)
def test_another_layout_is_refused_by_file_and_key(make_verdict, tmp_path, change, told):
    table = {**make_verdict().to_dict(), **change}
    (tmp_path / "verdict.json").write_text(json.dumps(table), encoding="utf-8")
    with pytest.raises(FileFormatError, match=told) as refused:
        Verdict.read(tmp_path / "verdict.json")
    assert refused.value.file == str(tmp_path / "verdict.json")
    fix = "nightproof predict inputs/" if "schema_version" in change else "run the prediction again"
    assert fix in str(refused.value)


@pytest.mark.invariant
@pytest.mark.parametrize("text", ["{broken", "[]", '{"schema_version": 1, "study": "survey"}'])
def test_what_is_no_verdict_is_refused(tmp_path, text):
    path = tmp_path / "verdict.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileFormatError):
        Verdict.read(path)
    with pytest.raises(FileFormatError, match="no such file"):
        Verdict.read(tmp_path / "nothing.json")


@pytest.mark.invariant
def test_figures_are_finite(make_verdict):
    with pytest.raises(ValidationError, match="finite"):
        make_verdict(signal={"snr_db": float("nan")})


@pytest.mark.by_hand
def test_a_probability_a_hair_beyond_one_is_one():
    row = {"factor": "light", "probability_only": -1e-17, "share": 0.0}
    assert Limit(probability_without=1.0 + 1e-15, **row).probability_without == 1.0
    with pytest.raises(ValidationError):
        Limit(probability_without=1.001, **row)


@pytest.mark.invariant
def test_the_schema_says_what_every_figure_means():
    schema = Verdict.model_json_schema()
    assert schema["additionalProperties"] is False
    assert next(iter(schema["properties"])) == "schema_version"
    figures = schema["$defs"]["Signal"]["properties"]
    assert set(figures) == set(Signal.model_fields)
    assert all(entry.get("description") for entry in figures.values())


@pytest.mark.outside
def test_the_schema_holds_for_what_is_written_and_refuses_what_is_not(make_verdict):
    """By another library: jsonschema, JSON Schema draft 2020-12."""
    schema = Verdict.model_json_schema(mode="serialization")
    Draft202012Validator.check_schema(schema)
    check = Draft202012Validator(schema)
    table = make_verdict(remedies=[REMEDY], limits=[LIGHT]).to_dict()
    assert list(check.iter_errors(table)) == []
    for wrong in ({"probability": 1.5}, {"verdict": "perhaps"}, {"extra": 1}, {"limits": [{}]}):
        assert list(check.iter_errors({**table, **wrong}))
    del table["probability"]
    assert list(check.iter_errors(table))
