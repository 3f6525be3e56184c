"""One record a figure: what a field says of itself is found wherever figures are told."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Annotated, get_args

import numpy as np
import pytest
from bare import bare

from simulator.judge.named_figures import FIGURES, Figure
from simulator.judge.picture_figures import PictureFigures
from simulator.judge.record import Form, Place, Quantity, Record, computed, quantities
from simulator.judge.result import Verdict
from simulator.registry import RecordError
from simulator.report.figure_rows import FORMS, figure_rows, figure_text
from simulator.studies.axes import Axis
from simulator.studies.overrides import load_pair
from simulator.studies.predict import predict
from simulator.studies.quick import Quick
from simulator.studies.sweep import Plan, Swept
from simulator.studies.tables import CF_UNITS, sweep_dataset

SMALL = ("sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6",
         "processing.temporal_noise_reduction=0")  # fmt: skip


class Widest(Record):
    """One figure more."""

    widest_px: Annotated[
        float,
        Quantity(
            "Widest row", "judge/picture_figures", "px", places=("sheet", "document"),
            of=lambda m: float(m.inside.sum(axis=1).max()),
        ),
    ]  # fmt: skip
    """Widest row of the target"""


class Fuller(Widest, PictureFigures):
    """The figures of a picture and one more."""


QUANTITY = Widest.model_fields["widest_px"].metadata[0]


class WidestRow(Figure):
    """Read from the box, since no verdict of this package has it."""

    def read(self, verdict):
        return float(verdict.target.box_px[2] - verdict.target.box_px[0])


@pytest.fixture
def widest():
    with FIGURES.with_record(WidestRow("signal.widest_px", QUANTITY, "Widest row")) as record:
        yield record


@pytest.fixture(scope="module")
def verdict():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("simulator.studies.predict.find_limits", lambda *_, **__: [])
        pair = load_pair(bare("depot-gate-infrared"), "fixed-2mp-lowlight", SMALL)
        return predict(*pair, seed=1, trials=24, remedies=False, tolerances=False).verdict


@pytest.mark.invariant
def test_a_new_figure_is_computed_and_told_in_the_schema():
    measured = SimpleNamespace(inside=np.ones((3, 40), np.bool_))
    assert computed(Widest, measured) == {"widest_px": 40.0}
    assert Fuller.model_json_schema()["properties"]["widest_px"]["unit"] == "px"
    assert [name for name, *_ in quantities(Fuller)][-1] == "widest_px"
    told = {figure.key for figure in FIGURES}
    assert {f"signal.{name}" for name in PictureFigures.model_fields} <= told


@pytest.mark.invariant
def test_a_new_figure_is_found_in_tables(widest, verdict):
    assert ("Widest row", figure_text(QUANTITY, widest.read(verdict))) in figure_rows(
        verdict, "sheet"
    )
    assert "Widest row" in dict(figure_rows(verdict, "document"))
    assert "Widest row" not in dict(figure_rows(verdict, "compare"))


@pytest.mark.invariant
def test_a_new_figure_is_a_column_of_a_sweep(widest):
    plan = Plan("s", "c", (), (Axis("a.b", (1.0, 2.0)),))
    row = {"widest_px": 7.0, "trials": 24, "verdict": "legible", "mode": "day"}
    rows = {(i,): {**row, "widest_px": 7.0 + i} for i in (0, 1)}
    data = sweep_dataset(Swept(plan, rows, {}, "", "", 0.9))
    assert list(data["widest_px"].values) == [7.0, 8.0]
    # a pixel is counted, and has no unit of its own for UDUNITS
    assert data["widest_px"].attrs == {"units": "1", "long_name": "Widest row"}


@pytest.mark.invariant
def test_every_figure_says_what_it_is():
    assert len(FIGURES) > 35
    for figure in FIGURES:
        assert figure.meaning and not figure.meaning.endswith("."), figure.key
        assert all(key in FIGURES for key in figure.quantity.beside), figure.key
        assert figure.quantity.unit in CF_UNITS, figure.key
        # the unit is in the name of its key too
        unit = {"s": "_s", "dB": "_db", "px": "_px", "m": "_m", "lx": "_lux"}.get(
            figure.quantity.unit, ""
        )
        assert figure.name.endswith(unit) or figure.quantity.unit == "m", figure.key
    assert set(FORMS) | {"plain"} == set(get_args(Form))
    assert {place for figure in FIGURES for place in figure.quantity.places} == set(get_args(Place))


@pytest.mark.invariant
def test_every_column_of_a_sweep_is_a_figure():
    names = set(Quick.__dataclass_fields__) - {"verdict", "mode", "trials", "picture", "seen"}
    assert names <= {figure.name for figure in FIGURES}


@pytest.mark.invariant
def test_every_figure_is_read_from_a_verdict(verdict):
    plain = verdict.to_dict()
    for figure in FIGURES:
        value = plain
        for part in figure.key.split("."):
            value = None if value is None else value[part]
        assert figure.read(verdict) == value, figure.key
    assert isinstance(verdict, Verdict)


@pytest.mark.by_hand
def test_how_figures_are_written(verdict):
    assert figure_text(Quantity("a", "b", "px", digits=2), 5.234) == "5.2 px"
    assert figure_text(Quantity("a", "b", form="percent"), 0.25) == "25 %"
    assert figure_text(Quantity("a", "b"), 0.25) == "0.25"
    rows = dict(figure_rows(verdict, "sheet"))
    assert rows["Camera"].startswith("night, 1/")
    assert rows["Light on the target"].endswith("W/m² infrared")
    dark = verdict.model_copy(
        update={"signal": verdict.signal.model_copy(update={"irradiance_w_m2": 0.0})}
    )
    assert "infrared" not in dict(figure_rows(dark, "sheet"))["Light on the target"]


@pytest.mark.by_hand
def test_a_figure_that_is_not_whole_is_refused():
    with pytest.raises(RecordError, match="lacks its source"):
        Quantity("Widest row", "")
    with pytest.raises(RecordError, match="has no place 'margin'"):
        replace(QUANTITY, places=("margin",))
    with pytest.raises(RecordError, match="lacks its meaning"):
        FIGURES.enter(Figure("signal.x", QUANTITY, ""))
    with pytest.raises(RecordError, match="nothing computes the figure 'widest_px'"):
        computed(Uncomputed, None)


class Uncomputed(Record):
    """A figure without what computes it."""

    widest_px: Annotated[float, Quantity("Widest row", "judge/picture_figures", "px")]
    """Widest row of the target"""
