"""Rows of a table of figures, as the registry says what is told where and how."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from simulator.judge.named_figures import FIGURES, Figure, shown_on
from simulator.judge.record import Form, Place, Quantity
from simulator.judge.result import Verdict
from simulator.report.wording import decibels, digits, f_number, percent, shutter, snr

FORMS: Mapping[Form, Callable[[Any], str]] = {
    "percent": percent,
    "shutter": shutter,
    "decibels": decibels,
    "f_number": f_number,
    "snr": snr,
    "word": str,
}
"""How figures are written whose form is not plain."""
BRIEF: tuple[Place, ...] = ("sheet", "compare")


def figure_text(quantity: Quantity, value: Any) -> str:
    """A figure's value with its unit."""
    if quantity.form != "plain":
        return FORMS[quantity.form](value)
    unit = "" if quantity.unit == "1" else f" {quantity.unit}"
    return f"{digits(float(value), quantity.digits)}{unit}"


def figure_rows(verdict: Verdict, place: Place) -> list[tuple[str, str]]:
    """Label and text of every figure that is told at a place and was measured.

    Before a customer those are left out that say nothing, such as no motion blur.
    """
    rows = []
    for figure in shown_on(place):
        value = figure.read(verdict)
        if value is None or (place in BRIEF and value == figure.quantity.idle):
            continue
        rows.append((figure.quantity.label, _row_text(figure, verdict)))
    return rows


def _row_text(figure: Figure, verdict: Verdict) -> str:
    """A figure, and in its row those that are told beside it."""
    texts = [figure_text(figure.quantity, figure.read(verdict))]
    for key in figure.quantity.beside:
        other = FIGURES[key]
        value = other.read(verdict)
        if value is not None and value != other.quantity.idle:
            beside = figure_text(other.quantity, value)
            texts.append(other.quantity.aside.format(beside))
    return ", ".join(texts)
