"""`nightproof new camera`: refusals, contradictions, what is solved and what is told."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import pytest

from simulator.app.cli import main
from simulator.camera.load import Camera
from simulator.errors import InputError, NameNotFoundError
from simulator.report.profile import rows, text
from simulator.studies.datasheet.figures import needed, option, read_datasheet, type_diagonal_mm
from simulator.studies.new.camera import new_camera

BASE = {"width_px": 1920, "height_px": 1080, "sensor_format": "1/2.8"}
MINIMUM = {
    "minimum_lux": 0.1,
    "minimum_f_number": 1.4,
    "minimum_shutter_s": "1/25",
    "minimum_gain_db": "max",
    "minimum_level_percent": 50,
    "minimum_reflectance": 0.85,
    "minimum_picture": "colour",
}
RATIO = {"snr_db": 32, "snr_level_percent": 80, "snr_gain_db": 0, "snr_measured_on": "raw"}
RANGE = {"dynamic_range_db": 66, "dynamic_range_kind": "linear"}


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    monkeypatch.setattr(sys, "argv", ["nightproof", *arguments])
    with pytest.raises(SystemExit) as caught:
        main()
    return int(caught.value.code or 0)


def options(given: dict) -> list[str]:
    return [part for key, value in given.items() for part in (option(key), str(value))]


@pytest.mark.by_hand
@pytest.mark.parametrize("figure", [MINIMUM, RATIO, RANGE], ids=["minimum", "snr", "range"])
def test_a_figure_without_any_one_condition_is_refused(figure: dict):
    lead, *conditions = figure
    for missing in conditions:
        given = {k: v for k, v in figure.items() if k != missing}
        with pytest.raises(InputError) as caught:
            read_datasheet({**BASE, **given})
        assert "means nothing" in caught.value.problem
        assert caught.value.argument == lead
        assert option(missing) in caught.value.text()  # and why it matters
        assert needed(lead, given)[missing] in caught.value.text()
    read_datasheet({**BASE, **figure})


@pytest.mark.by_hand
def test_monochrome_needs_its_lamp():
    with pytest.raises(InputError, match="--minimum-light"):
        read_datasheet({**BASE, **MINIMUM, "minimum_picture": "monochrome"})


@pytest.mark.by_hand
def test_conditions_without_their_figure_are_refused():
    with pytest.raises(InputError, match="--snr-db"):
        read_datasheet({**BASE, "snr_gain_db": 0})


@pytest.mark.by_hand
def test_zero_lux_is_a_lamp():
    with pytest.raises(InputError, match="infrared illuminator"):
        read_datasheet({**BASE, **MINIMUM, "minimum_lux": "0"})


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"width_px": None}, "--width-px"),
        ({"width_px": "many"}, "--width-px"),
        ({"width_px": 1920.5}, "--width-px"),
        ({"sensor_format": "large"}, "--sensor-format"),
        ({"sensor_format": "1/0"}, "--sensor-format"),
        ({"sensor_format": None}, "--sensor-format"),
        ({"pixel_pitch_um": 6.0}, "--pixel-pitch-um"),
        ({"technology": "tube"}, "--technology"),
        ({"sensor_format": "2/3"}, "--lens"),  # its image circle is too small
        ({"focal_length_mm": 50}, "--focal-length-mm"),
        ({**MINIMUM, "minimum_level_percent": 120}, "--minimum-level-percent"),
        ({**MINIMUM, "minimum_shutter_s": "1/0"}, "--minimum-shutter-s"),
        ({**MINIMUM, "minimum_lux": "-1"}, "--minimum-lux"),
        ({**MINIMUM, "minimum_lux": "nan"}, "--minimum-lux"),
        ({**MINIMUM, "minimum_gain_db": "lots"}, "--minimum-gain-db"),
        ({**MINIMUM, "minimum_picture": "grey"}, "--minimum-picture"),
        ({**RATIO, "snr_measured_on": "paper"}, "--snr-measured-on"),
        ({**RANGE, "dynamic_range_kind": "huge"}, "--dynamic-range-kind"),
    ],
)
def test_bad_values_name_their_option(changes: dict, key: str):
    with pytest.raises(InputError) as caught:
        new_camera({**BASE, **changes})
    assert option(caught.value.argument) == key
    assert caught.value.allowed or caught.value.fix


@pytest.mark.by_hand
@pytest.mark.parametrize(
    "changes",
    [
        {"lens": "no-such-lens"},
        {"quantum_efficiency": "no-such-table"},
        {**MINIMUM, "minimum_light": "no-such-light"},
    ],
)
def test_names_that_do_not_exist(changes: dict):
    with pytest.raises(NameNotFoundError, match="no-such"):
        new_camera({**BASE, **changes})


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("changes", "words"),
    [
        # 0.001 lx in colour at 1/25 s: a 2.92 um pixel meets about
        # 0.001 x .85 x .88 / (4 x 1.4^2) x 1.2e16 x 8.5e-12 x 0.04 = 0.4 photons
        ({**MINIMUM, "minimum_lux": 0.001, "minimum_gain_db": 42}, "more electrons than photons"),
        ({**MINIMUM, "minimum_lux": 0.0005}, "more electrons than photons"),
        ({**MINIMUM, "minimum_lux": 500}, "even a poor sensor"),
        # shot noise: 60 dB takes 1e6 electrons
        ({**RATIO, "snr_db": 60}, "shot noise"),
        ({**RATIO, "full_well_e": 5000, "snr_db": 40}, "by shot noise"),
        # 10000 / 5 = 66 dB
        ({**RANGE, "dynamic_range_db": 80, "full_well_e": 10000, "read_noise_e": 5}, "full well"),
        # 12 bits: 4096 steps, sigma_q = step / sqrt 12
        ({**RANGE, "dynamic_range_db": 90}, "without any read noise"),
    ],
)
def test_contradictions_are_refused_with_their_reason(changes: dict, words: str):
    with pytest.raises(InputError) as caught:
        new_camera({**BASE, **changes})
    assert "contradicts itself or physics" in caught.value.problem
    assert words in caught.value.problem


@pytest.mark.by_hand
def test_full_well_by_shot_noise():
    # at 80 % of a full well F and no gain, SNR^2 = (0.8 F)^2 / (0.8 F + small): 32 dB -> F = 1981,
    # more for read noise and quantisation; a pitch of 2 um keeps that plausible
    made = new_camera({"width_px": 640, "height_px": 480, "pixel_pitch_um": 2.0, **RATIO})
    sensor = made.camera.model.sensor
    least = 10.0 ** (3.2) / 0.8
    assert least < sensor.full_well_e < 1.03 * least
    assert made.camera.tolerances["sensor.full_well_e"].source == "datasheet"


@pytest.mark.by_hand
def test_read_noise_by_the_range():
    # EMVA: 12 000 / 10^(66/20) = 6.01 e-; (6.01 - .5)^2 = sd^2 + sq^2/K^2 + dark + 1/4 with
    # sq/K = 12 000 / 4031 / sqrt 12 = .859, row .2, dark 10 x 2^(15/7) x .04 = 1.77 -> sd = 5.26
    made = new_camera({**BASE, "full_well_e": 12000, **RANGE})
    assert made.camera.model.sensor.read_noise_e == pytest.approx(5.26, abs=0.01)


@pytest.mark.by_hand
def test_gain_goes_with_the_light():
    # a quarter of the light takes 12.04 dB more gain, whatever else
    gains = [
        new_camera({**BASE, **MINIMUM, "minimum_lux": lux}).camera.model.exposure.gain_max_db
        for lux in (0.4, 0.1)
    ]
    assert gains[1] - gains[0] == pytest.approx(12.04, abs=0.02)


@pytest.mark.by_hand
def test_efficiency_that_no_table_has_goes_to_the_lens():
    given = {**BASE, **MINIMUM, "minimum_gain_db": 45, "full_well_e": 5500}
    made = new_camera(given)
    lens = made.camera.model.lens
    bundled = new_camera(BASE).camera.model.lens
    scale = lens.transmittance / bundled.transmittance
    assert lens.transmittance_infrared / bundled.transmittance_infrared == pytest.approx(
        scale, rel=1e-3
    )
    assert made.solution.origin["transmittance"] == "solved"
    assert any(row.name == "lens transmittance" and row.kind == "solved" for row in rows(made))
    assert "datasheet-open.efficiency-and-lens" in {open_.id for open_ in made.solution.unknowable}


@pytest.mark.by_hand
def test_wide_range_is_a_claim_that_the_exposures_reach():
    made = new_camera({**BASE, "dynamic_range_db": 120, "dynamic_range_kind": "wide"})
    wide = made.camera.model.wide_range
    assert wide.claimed_db == 120.0
    assert wide.method == "exposures"
    assert 2.0 <= wide.ratio <= 64.0
    assert made.camera.model.sensor.read_noise_e == 2.5  # tells nothing about the read noise


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("sensor_format", "diagonal_mm"),
    [("1/2.8", 6.46), ("1/3", 6.0), ("1/4", 4.5), ("1/2", 8.0), ('1/1.8"', 8.93), ("2/3", 11.0)],
)
def test_diagonals_of_types(sensor_format: str, diagonal_mm: float):
    # usual diagonals of sensors of these types (common practice, from memory)
    assert type_diagonal_mm(sensor_format) == pytest.approx(diagonal_mm, rel=0.04)


@pytest.mark.by_hand
def test_everything_is_told(monkeypatch, capsys, tmp_path: Path):
    path = tmp_path / "mine.toml"
    arguments = options({**BASE, **MINIMUM, **RANGE, "minimum_shutter_s": "1/2"})
    assert run(monkeypatch, "new", "camera", str(tmp_path / "mine"), *arguments) == 0
    out = capsys.readouterr().out
    for word in (
        "given",
        "solved",
        "assumed",
        "unknowable",
        "0.1 lx",
        "read noise",
        "slow shutter",
    ):
        assert word in out
    camera = Camera.load(path)
    assert camera.model.exposure.slow_shutter_max_s == 0.5
    assert {t.source for t in camera.tolerances.values()} <= {"datasheet", "assumed"}
    text = path.read_text(encoding="utf-8")
    assert "What they cannot tell" in text
    tomllib.loads(text)
    assert run(monkeypatch, "new", "camera", str(path), *arguments) == 2
    assert "--overwrite" in capsys.readouterr().err


@pytest.mark.by_hand
def test_a_refusal_writes_nothing(monkeypatch, capsys, tmp_path: Path):
    arguments = options({**BASE, "minimum_lux": 0.01})
    assert run(monkeypatch, "new", "camera", str(tmp_path / "mine"), *arguments) == 2
    error = capsys.readouterr().err
    assert "means nothing" in error
    assert "Traceback" not in error
    assert list(tmp_path.iterdir()) == []


@pytest.mark.by_hand
def test_usual_conditions_are_assumed_when_asked_for_and_marked(monkeypatch, tmp_path: Path):
    made = new_camera({**BASE, "minimum_lux": 0.1, "f_number": 1.6, "assume_usual": True})
    # what was assumed does what the same conditions do where they are given
    same = {**MINIMUM, "minimum_f_number": 1.6}
    told = new_camera({**BASE, **same, "f_number": 1.6})
    assert made.camera.model.exposure == told.camera.model.exposure
    assert made.camera.model.sensor == told.camera.model.sensor
    row = next(row for row in rows(made) if row.name == "minimum illumination")
    assert row.kind == "assumed"
    assert row.why == "assumed as usual: f-number, shutter, gain, level, reflectance, colour"
    assert row.why in " ".join(text(made).split("\n#   "))
    given = next(row for row in rows(told) if row.name == "minimum illumination")
    assert (given.kind, given.why) == ("given", "")


@pytest.mark.by_hand
def test_a_bad_answer_is_refused_when_it_is_given(monkeypatch, capsys, tmp_path: Path):
    answers = iter(["My camera", "many", "1920", "1080", "huge", "1/2.8", "varifocal-2.8-12",
                    "1.6", "25", "0.1", "", ""])  # fmt: skip
    asked: list[str] = []

    def prompt(words: str, **_: object) -> str:
        asked.append(words)
        return next(answers)

    monkeypatch.setattr("typer.prompt", prompt)
    monkeypatch.setattr("typer.confirm", lambda words, default: "50" in words)
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    path = tmp_path / "mine.toml"
    assert run(monkeypatch, "new", "camera", str(path)) == 0
    told = capsys.readouterr()
    assert told.err.count("allowed:") == 2
    assert asked[:3] == ["title", "width [px]", "width [px]"]
    assert "f number" in asked
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    assert table["title"] == "My camera"
    assert "assumed as usual" in told.out
