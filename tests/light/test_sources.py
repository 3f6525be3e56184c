"""A light has one quantity that says how strong it is, and it is that of its kind."""

from __future__ import annotations

import pytest

from simulator.light.sources import QUANTITIES, LightSource
from simulator.light.spectra import gaussian_emitter, spectrum

VISIBLE, INFRARED = spectrum("daylight"), gaussian_emitter(850.0, 30.0)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("kind", "given"),
    [
        ("sky", {}),
        ("sky", {"intensity_cd": 3.0}),
        ("sun", {"illuminance_lux": 3.0, "intensity_cd": 3.0}),
        ("point", {"illuminance_lux": 3.0}),
        ("point", {"radiant_intensity_w_per_sr": 3.0}),  # daylight has lux
        ("panel", {"intensity_cd": 3.0}),
    ],
)
def test_another_quantity_or_none_is_refused(kind, given):
    with pytest.raises(ValueError, match=r"needs|does not go"):
        LightSource("x", kind, VISIBLE, **given)


@pytest.mark.by_hand
def test_infrared_has_no_candela():
    with pytest.raises(ValueError, match="does not go"):
        LightSource("x", "point", INFRARED, intensity_cd=3.0)
    light = LightSource("x", "point", INFRARED, radiant_intensity_w_per_sr=3.0)
    assert (light.quantity, light.strength) == ("radiant_intensity_w_per_sr", 3.0)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("kind", "name"), [(k, n) for k, names in QUANTITIES.items() for n in names]
)
def test_a_dimmed_light_keeps_its_quantity(kind, name):
    light = INFRARED if name.startswith("radiant") else VISIBLE
    half = LightSource("x", kind, light, **{name: 8.0}).scaled(0.5)
    assert (half.quantity, half.strength, half.kind) == (name, 4.0, kind)
