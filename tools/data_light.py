"""Spectra of sunlight, twilight and some lamps for make_data.py.

A table of the ASTM G173-03 spectra says by how much to multiply it for W/m2/nm
(`full_scale_w_m2_nm`), because the light of other air masses is computed from their ratios.
"""

from __future__ import annotations

import colour
import numpy as np
from numpy.typing import NDArray
from pvlib.spectrum import get_reference_spectra

Array = NDArray[np.float64]
Spectra = dict[str, tuple[dict[str, str], Array]]

GRID = np.arange(380.0, 1101.0)
COLOUR = "colour-science 0.4.7"

TWILIGHT_RAYLEIGH_MASSES = 6.0
"""Air masses of molecular scattering that the light of the twilight sky has lost (assumed)."""
TWILIGHT_OZONE_MASSES = 10.0
"""Ozone columns that it has crossed (assumed); the column is 300 Dobson units."""

# Ozone absorption in the Chappuis band [1e-21 cm2 a molecule], from memory, +-10 percent.
OZONE = (
    (380.0, 0.0), (420.0, 0.03), (450.0, 0.18), (480.0, 0.70), (505.0, 1.6), (530.0, 2.8),
    (550.0, 3.35), (575.0, 4.7), (588.0, 4.5), (603.0, 5.1), (625.0, 3.8), (650.0, 2.5),
    (675.0, 1.5), (700.0, 0.90), (750.0, 0.42), (800.0, 0.15), (850.0, 0.05), (900.0, 0.0),
    (1100.0, 0.0),
)  # fmt: skip
DOBSON_PER_CM2 = 2.687e16


def head(title: str, origin: str, status: str) -> dict[str, str]:
    return {
        "title": title,
        "origin": origin,
        "status": status,
        "units": "wavelength_nm in nm; relative_power per nm, any scale (peak 1)",
        "range": "380 to 1100 nm",
    }


def twilight(extraterrestrial: Array) -> Array:
    """Single Rayleigh scattering of sunlight that has grazed the air and crossed the ozone."""
    um = GRID / 1000.0
    rayleigh = 0.00864 * um ** -(3.916 + 0.074 * um + 0.05 / um)  # Leckner 1978
    ozone = np.interp(GRID, *np.array(OZONE).T) * 1e-21 * 300.0 * DOBSON_PER_CM2
    lost = TWILIGHT_RAYLEIGH_MASSES * rayleigh + TWILIGHT_OZONE_MASSES * ozone
    return np.asarray(extraterrestrial * rayleigh * np.exp(-lost))


def planck(kelvin: float) -> Array:
    sd = colour.sd_blackbody(kelvin, colour.SpectralShape(380, 1100, 1))
    return np.asarray(sd.values)


def sun_and_lamp_spectra() -> Spectra:
    """Header and power on the grid, by name."""
    table = get_reference_spectra()
    made: Spectra = {}
    for name, column, title in (
        ("g173-global", "global", "Sun and sky, ASTM G173-03 global at air mass 1.5"),
        ("g173-direct", "direct", "Direct sun, ASTM G173-03 direct at air mass 1.5"),
        ("g173-extraterrestrial", "extraterrestrial", "Sun above the air, as in ASTM G173-03"),
    ):
        power = np.interp(GRID, table.index.to_numpy(), table[column].to_numpy())
        where = ", on a surface tilted 37 degrees" if column == "global" else ""
        header = head(title, f"ASTM G173-03 as shipped with pvlib 0.16.1{where}", "computed")
        header["full_scale_w_m2_nm"] = f"{power.max():.9g}"
        made[name] = header, power
    made["twilight"] = (
        head(
            "Clear sky with the sun well below the horizon",
            "computed: ASTM G173-03 extraterrestrial (pvlib 0.16.1) x Rayleigh scattering (Leckner"
            f" 1978) x transmission of {TWILIGHT_RAYLEIGH_MASSES:g} Rayleigh air masses and"
            f" {TWILIGHT_OZONE_MASSES:g} ozone columns of 300 Dobson units (Chappuis absorption"
            " from memory); masses assumed, no aerosol and no multiple scattering",
            "computed from assumed paths; the near infrared is the least sure part",
        ),
        twilight(made["g173-extraterrestrial"][1]),
    )
    made["filament-2700k"] = (
        head(
            "Filament lamp, 2700 K",
            f"Planck's law at 2700 K, by {COLOUR}; the emissivity of tungsten, which falls by some"
            " 15 percent from 500 to 1000 nm (from memory), is left out",
            "computed",
        ),
        planck(2700.0),
    )
    for name, key, kelvin in (("led-2700k", "LED-B1", 2733), ("led-6500k", "LED-B5", 6598)):
        sd = colour.SDS_ILLUMINANTS[key]
        power = np.interp(GRID, np.asarray(sd.wavelengths), np.asarray(sd.values), right=0.0)
        made[name] = (
            head(
                f"White LED {kelvin} K",
                f"CIE illuminant {key} (CIE 015:2018), as distributed with {COLOUR}; zero beyond"
                " 780 nm, where the table ends",
                "measured in the visible (published table); near infrared assumed to be nothing",
            ),
            power,
        )
    return made
