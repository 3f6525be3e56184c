"""The readers against an OCR engine and published letter reading.

Engine: rapidocr-onnxruntime, rates stored in tests/outside/ocr/read_rates.csv by
tools/calibrate_reader.py. Letters in noise: Pelli, Burns, Farell, Moore-Page, Vision Res. 46 (2006)
and Pelli, Farell, J. Opt. Soc. Am. A 16 (1999): efficiency about 10 %; letters through a low-pass:
Kwon, Legge, Vision Res. 51 (2011): about 0.9 cycles a letter for 80 %; both from memory, so with
wide tolerances.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from simulator.judge.readers import MACHINE, PERSON
from simulator.judge.readers.analytic import analytic_read_probability
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.readers.templates import Variant
from simulator.scene.targets.plate import plate_design

TOOLS = Path(__file__).resolve().parents[2] / "tools"
TEXTS = 12
"""Of the engine's own 50 texts of each condition, the first so many."""
SHAPES = design_shapes(plate_design("dark-on-white-520x110"))


@pytest.fixture(scope="module")
def tools():
    """The modules of the calibration."""
    sys.path.insert(0, str(TOOLS))
    try:
        import reader_conditions
        import reader_fit

        yield reader_conditions, reader_fit
    finally:
        sys.path.remove(str(TOOLS))


@pytest.fixture(scope="module")
def compared(tools):
    """Held-out rows, the engine's rates, and those of the machine reader by the analytic form."""
    conditions, fit = tools
    rows = [r for r in conditions.read_rows() if r.held_out]
    shapes = conditions.letterings()
    found = [
        np.mean([fit.quick(MACHINE, shapes[r.lettering], t, r.condition) for t in texts[:TEXTS]])
        for r, texts in zip(rows, fit.texts_of(rows), strict=True)
    ]
    return rows, np.array([r.rate for r in rows]), np.array(found)


@pytest.mark.outside
def test_the_machine_reads_as_often_as_the_engine(compared):
    rows, engine, machine = compared
    assert len(rows) >= 90
    difference = machine - engine
    # 0.08 was wanted; what is reached stands in docs/reading.md, and this keeps it from growing
    assert np.abs(difference).mean() < 0.09, difference.round(2)
    assert abs(difference.mean()) < 0.03
    for series in ("height", "blur", "motion", "noise", "mixed"):
        part = np.array([r.series == series for r in rows])
        assert np.abs(difference[part]).mean() < 0.14, series
    # a reader that always says the mean is off by more than twice as much
    assert np.abs(engine - engine.mean()).mean() > 2.0 * np.abs(difference).mean()
    assert np.corrcoef(engine, machine)[0, 1] > 0.9


@pytest.mark.outside
def test_half_of_the_texts_at_the_engines_height(tools, compared):
    conditions, fit = tools
    rows, engine, machine = compared
    part = np.array([r.series == "height" and r.lettering == conditions.OWN[1] for r in rows])
    x = np.array([r.height_px for r, p in zip(rows, part, strict=True) if p])
    points = [fit.half_point(x, rates[part], 0.5) for rates in (engine, machine)]
    assert points[0] == pytest.approx(5.8, abs=0.3)  # what the engine does in the stored table
    assert points[1] == pytest.approx(points[0], rel=0.15)


@pytest.mark.outside
def test_a_person_reads_letters_through_a_low_pass(tools):
    # 0.9 cycles a letter for 80 % is what the person was computed from; the slope was not: half
    # as many cycles leave few letters, and twice as many nearly all
    _, fit = tools
    assert fit.letters_read(PERSON, 0.9) == pytest.approx(0.8, abs=0.02)
    assert fit.letters_read(PERSON, 0.45) < 0.4
    assert fit.letters_read(PERSON, 1.8) > 0.97


@pytest.mark.outside
def test_the_machine_loses_faint_letters_as_the_engine_does(tools):
    """The engine loses soft letters as they grow faint, and sharp ones not at all down to a step of
    7.5 levels: a fixed noise of its own, from which `level_noise` was taken."""
    conditions, fit = tools
    rows = conditions.read_rows(conditions.FAINT_TABLE)
    shapes = conditions.letterings()[conditions.OWN[0]]
    engine = np.array([r.rate for r in rows])
    machine = np.array([
        np.mean([fit.quick(MACHINE, shapes, t, r.condition) for t in texts[:6]])
        for r, texts in zip(rows, fit.texts_of(rows), strict=True)
    ])  # fmt: skip
    told = list(zip(engine, machine.round(2), strict=True))
    assert np.abs(machine - engine).mean() < 0.1, told
    assert np.all(np.diff(machine[:4]) < 0.0) and np.all(np.diff(machine[4:8]) < 0.0)
    assert machine[3] < 0.1 and machine[-1] > 0.8, told


def _noise_threshold(reader):
    """Noise over contrast at which 64 % of the characters of two texts are read, at 24 px."""
    low, high = 0.05, 8.0

    def mtf(fx, fy):
        return np.exp(-2.0 * (np.pi * 0.96) ** 2 * (fx**2 + fy**2)) * np.sinc(fx) * np.sinc(fy)

    for _ in range(8):
        middle = float(np.sqrt(low * high))
        rate = np.mean([
            analytic_read_probability(
                SHAPES, text, reader, height_px=24.0, mtf=mtf, contrast=50.0, noise=50.0 * middle
            ).characters.mean()
            for text in ("K8D4 Q6R", "A1B2 X3Y", "M5N3 H8G")
        ])  # fmt: skip
        low, high = (middle, high) if rate > 0.64 else (low, middle)
    return float(np.sqrt(low * high))


@pytest.mark.outside
def test_a_person_reads_in_noise_at_the_published_efficiency():
    """Efficiency is the contrast energy an ideal reader needs over what the reader needs."""
    exact = (Variant(1.0, 1.0, 1.0, 0.0),)
    ideal = TemplateReader("ideal", 0.0, 1.0, 0.0, level_noise=0.0, variants=exact)
    efficiency = (_noise_threshold(PERSON) / _noise_threshold(ideal)) ** 2
    assert 0.05 < efficiency < 0.2
