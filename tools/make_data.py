"""Write the CSV tables of simulator/data again, byte for byte.

Run from the root of the checkout with the test dependencies installed:

    python tools/make_data.py            write into simulator/data
    python tools/make_data.py --to DIR   write somewhere else, to compare
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path

import colour
import data_lamps
import numpy as np
from colour.colorimetry import SDS_LEFS_PHOTOPIC
from data_cameras import (
    BLUE_FILTER,
    GREEN_FILTER,
    INFRARED_CUT,
    REASON,
    RED_FILTER,
    SHEETING,
    SILICON,
)
from data_light import sun_and_lamp_spectra
from data_reflectance import reflectances
from data_signs import SHEETING_PRISMATIC
from numpy.typing import NDArray
from pvlib.spectrum import get_reference_spectra
from scipy.interpolate import PchipInterpolator

Array = NDArray[np.float64]
Anchors = Sequence[tuple[float, float]]

GRID = np.arange(380.0, 1101.0)
COARSE = np.arange(380.0, 1101.0, 5.0)
COLOUR = "colour-science 0.4.7"
NOTHING_BEYOND = "zero beyond 780 nm, where the table ends"

SODIUM_NIR_SHARE = 0.16
"""Power of the sodium doublet at 818.3/819.5 nm over that of 380-780 nm, a rough sum
over a measured high-pressure sodium spectrum in a public repository (aubema/illumina), +-20 %."""

# Disk-equivalent reflectance of the Moon, Kieffer & Stone, AJ 129 (2005) 2887, table 4, as seen in
# public code: wavelength [nm], a0..a3, d1..d3; p1..p4 [deg].
ROLO = (
    (350.0, -2.67511, -1.78539, 0.50612, -0.25578, 0.34185, 0.01441, -0.01602),
    (405.0, -2.35754, -1.72134, 0.40337, -0.21105, 0.35235, -0.03818, -0.00006),
    (441.6, -2.31964, -1.72114, 0.37286, -0.19304, 0.37935, -0.09562, 0.00970),
    (475.0, -2.28999, -1.63180, 0.36193, -0.20381, 0.33024, -0.03131, 0.00222),
    (549.1, -2.10782, -1.66736, 0.41697, -0.22026, 0.36814, -0.09815, -0.00000),
    (665.1, -1.88914, -1.58096, 0.30477, -0.17908, 0.37141, -0.13514, 0.01248),
    (703.6, -1.92103, -1.60151, 0.36924, -0.20567, 0.37155, -0.13989, 0.00412),
    (745.3, -1.86896, -1.57522, 0.33712, -0.19415, 0.36888, -0.14828, 0.00958),
    (774.8, -1.80271, -1.59357, 0.36351, -0.20326, 0.36908, -0.16182, 0.00830),
    (865.3, -1.74561, -1.58482, 0.35009, -0.19569, 0.39200, -0.18837, 0.00978),
    (939.3, -1.76245, -1.49892, 0.07956, -0.07546, 0.47936, -0.29463, 0.04706),
    (1059.5, -1.59323, -1.71358, 0.50599, -0.25178, 0.48160, -0.29486, 0.00116),
    (1243.2, -1.53594, -1.55214, 0.31479, -0.18178, 0.49040, -0.30970, 0.01237),
)
ROLO_P = (4.06054, 12.8802, -30.5858, 16.7498)
MOON_PHASE_DEG = 30.0

# Dark-sky surface brightness [mag arcsec^-2] with the flux of magnitude 0 [W m^-2 nm^-1].
NIGHT_SKY = (
    (366.0, 22.3, 4.175e-11),
    (438.0, 22.6, 6.32e-11),
    (545.0, 21.6, 3.631e-11),
    (641.0, 20.9, 2.177e-11),
    (798.0, 19.7, 1.126e-11),
    (868.0, 19.6, 3631e-26 * 299792458.0 / (868e-9) ** 2 * 1e-9),
    (971.0, 18.6, 3631e-26 * 299792458.0 / (971e-9) ** 2 * 1e-9),
)


def pchip(anchors: Anchors, grid: Array) -> Array:
    """Monotone interpolation between anchors."""
    x, y = np.asarray(anchors, dtype=np.float64).T
    return np.asarray(PchipInterpolator(x, y)(grid))


def write(path: Path, header: Mapping[str, str], columns: Mapping[str, Array]) -> None:
    """One CSV table; six significant digits, line feeds only."""
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = [f"# {key}: {value}" for key, value in header.items()]
    lines.append(",".join(columns))
    lines += [
        ",".join(f"{cell:.6g}" for cell in row) for row in zip(*columns.values(), strict=True)
    ]
    path.write_bytes(("\n".join(lines) + "\n").encode("utf-8"))


def header(title: str, origin: str, status: str, units: str, span: str) -> dict[str, str]:
    return {"title": title, "origin": origin, "status": status, "units": units, "range": span}


def tabulated(sd: object) -> Array:
    """A colour-science spectrum on the grid, linear between its rows, zero outside them."""
    x, y = np.asarray(sd.wavelengths), np.asarray(sd.values)  # type: ignore[attr-defined]
    return np.asarray(np.interp(GRID, x, y, left=0.0, right=0.0))


def line(centre_nm: float, fwhm_nm: float) -> Array:
    shape = np.exp(-4.0 * np.log(2.0) * ((GRID - centre_nm) / fwhm_nm) ** 2)
    return np.asarray(shape / shape.sum())


def moon_reflectance() -> Array:
    """Moon at 30 degrees of phase: a parabola through the bands, which removes their scatter."""
    g = np.radians(MOON_PHASE_DEG)
    p1, p2, p3, p4 = ROLO_P
    bands, reflectance = [], []
    for wavelength, a0, a1, a2, a3, d1, d2, d3 in ROLO:
        logarithm = a0 + a1 * g + a2 * g**2 + a3 * g**3
        logarithm += d1 * np.exp(-MOON_PHASE_DEG / p1) + d2 * np.exp(-MOON_PHASE_DEG / p2)
        logarithm += d3 * np.cos((MOON_PHASE_DEG - p3) / p4)
        bands.append(wavelength)
        reflectance.append(np.exp(logarithm))
    return np.asarray(np.polyval(np.polyfit(bands, reflectance, 2), GRID))


def night_sky() -> Array:
    bands, magnitude, zero = np.array(NIGHT_SKY).T
    log_power = np.log(zero * 10.0 ** (-0.4 * magnitude))
    return np.asarray(np.exp(PchipInterpolator(bands, log_power)(np.minimum(GRID, bands[-1]))))


def spectra() -> dict[str, tuple[dict[str, str], Array]]:
    """Every spectrum: header and relative power on the grid."""
    lamps, sources = colour.SDS_ILLUMINANTS, colour.SDS_LIGHT_SOURCES
    g173_table = get_reference_spectra()
    g173 = np.interp(GRID, g173_table.index.to_numpy(), g173_table["global"].to_numpy())

    shape = colour.SpectralShape(380, 1100, 1)
    cie_a = colour.sd_CIE_standard_illuminant_A(shape).values

    d65 = tabulated(lamps["D65"])
    xy = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    series = colour.sd_CIE_illuminant_D_series(xy)
    tail = np.interp(GRID, series.wavelengths, series.values, left=0.0, right=0.0)
    at_780 = GRID == 780.0
    d65 = np.where(GRID > 780.0, tail * (d65[at_780] / tail[at_780]), d65)
    daylight = np.where(GRID > 780.0, g173 * (d65[at_780] / _level(g173, 780.0)), d65)

    hps = tabulated(lamps["HP1"])
    sodium = (1.0 / 3.0) * line(818.3, 4.0) + (2.0 / 3.0) * line(819.5, 4.0)
    hps = hps + SODIUM_NIR_SHARE * hps.sum() * sodium
    lps = np.zeros_like(GRID)
    lps[GRID == 589.0], lps[GRID == 590.0] = 0.7, 0.3

    def visible(title: str, what: str) -> dict[str, str]:
        return _spectrum_header(
            title,
            f"{what}, as distributed with {COLOUR}; {NOTHING_BEYOND}",
            "measured in the visible (published table); near infrared assumed to be nothing",
        )

    no_gas = "; lines of the filling gas in the near infrared are left out, no table at hand:"
    no_gas += " a night camera sees at least what is predicted"
    return {
        "cie-a": (
            _spectrum_header(
                "Filament lamp, CIE standard illuminant A (2856 K)",
                f"formula of CIE 15 over the whole range, by {COLOUR}",
                "computed",
            ),
            cie_a,
        ),
        "cie-d65": (
            _spectrum_header(
                "CIE standard illuminant D65, nothing beyond 830 nm",
                f"CIE table to 780 nm and CIE D-series to 830 nm, by {COLOUR}; a colour reference:"
                " for pictures use daylight, which has its near infrared",
                "computed",
            ),
            d65,
        ),
        "daylight": (
            _spectrum_header(
                "Daylight with its near infrared",
                f"CIE D65 to 780 nm ({COLOUR}); beyond it the shape of ASTM G173-03 global (pvlib"
                " 0.16.1), joined in level at 780 nm over the mean of 770-790 nm; a lux of it has"
                " .83 of the near infrared of G173 global, as much as G173's own sun and sky have"
                " when mixed to the colour temperature of D65",
                "computed",
            ),
            daylight,
        ),
        "led-3000k": (
            visible("White LED 3000 K", "CIE illuminant LED-B2 (CIE 015:2018)"),
            tabulated(lamps["LED-B2"]),
        ),
        "led-4000k": (
            visible("White LED 4000 K", "CIE illuminant LED-B3 (CIE 015:2018)"),
            tabulated(lamps["LED-B3"]),
        ),
        "led-5000k": (
            visible("White LED 5000 K", "CIE illuminant LED-B4 (CIE 015:2018)"),
            tabulated(lamps["LED-B4"]),
        ),
        "high-pressure-sodium": (
            _spectrum_header(
                "High-pressure sodium lamp, 1950 K",
                f"CIE illuminant HP1 to 780 nm ({COLOUR}); sodium lines 818.3 and 819.5 nm added,"
                f" together {SODIUM_NIR_SHARE} of the power of 380-780 nm, FWHM 4 nm, by a rough"
                " sum (+-20 percent) over a measured lamp spectrum in a public repository"
                " (aubema/illumina, example lights; its calibration not told); nothing else"
                " beyond 780 nm, which is too little rather than too much",
                "measured in the visible (published table); near infrared assumed",
            ),
            hps,
        ),
        "low-pressure-sodium": (
            _spectrum_header(
                "Low-pressure sodium lamp",
                "sodium D lines 589.0 and 589.6 nm as one line at 589.3 nm; weak lines near 820 nm"
                " are left out: a night camera sees at least what is predicted",
                "computed",
            ),
            lps,
        ),
        "metal-halide": (
            visible("Metal halide lamp, 4300 K", "a measured lamp ('Metal Halide')" + no_gas),
            tabulated(sources["Metal Halide"]),
        ),
        "mercury": (
            visible("Mercury lamp with phosphor", "a measured lamp ('Mercury')" + no_gas),
            tabulated(sources["Mercury"]),
        ),
        "fluorescent-4000k": (
            visible("Three-band fluorescent lamp, 4000 K", "CIE illuminant FL11" + no_gas),
            tabulated(lamps["FL11"]),
        ),
        "moonlight": (
            _spectrum_header(
                "Moonlight with moonlit sky",
                "ASTM G173-03 global (pvlib 0.16.1) times the reflectance of the Moon at 30 degrees"
                " of phase: bands of Kieffer & Stone, Astron. J. 129 (2005) 2887, smoothed by a"
                " parabola",
                "computed",
            ),
            g173 * moon_reflectance(),
        ),
        "night-sky": (
            _spectrum_header(
                "Moonless clear night sky: airglow, starlight, zodiacal light",
                "dark-sky brightness U 22.3, B 22.6, V 21.6, R 20.9, I 19.7 mag/arcsec2 (Patat, A&A"
                " 400 (2003) 1183), z 19.6 and y 18.6 AB mag/arcsec2 and all zero points from"
                " memory; joined by PCHIP in the logarithm, so that lines are smeared into their"
                " bands; held level beyond 971 nm",
                "assumed (shape joined from published band brightness)",
            ),
            night_sky(),
        ),
    }


def _level(power: Array, wavelength_nm: float) -> float:
    return float(power[np.abs(GRID - wavelength_nm) <= 10.0].mean())


def _spectrum_header(title: str, origin: str, status: str) -> dict[str, str]:
    units = "wavelength_nm in nm; relative_power per nm, any scale (peak 1)"
    return header(title, origin, status, units, "380 to 1100 nm")


def write_observers_and_chart(folder: Path) -> None:
    end = np.append(np.arange(380.0, 831.0), [831.0, 1100.0])

    def on_end(x: Array, y: Array) -> Array:
        return np.asarray(np.interp(end, x, y, right=0.0))

    v = SDS_LEFS_PHOTOPIC["CIE 1924 Photopic Standard Observer"]
    write(
        folder / "observers" / "cie-1924-photopic.csv",
        header(
            "Photopic luminous efficiency V(lambda)",
            f"CIE 1924 photopic standard observer, by {COLOUR}",
            "measured (published table)",
            "wavelength_nm in nm; v without unit",
            "380 to 830 nm, zero beyond",
        ),
        {"wavelength_nm": end, "v": on_end(v.wavelengths, v.values)},
    )
    xyz = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    columns = {"wavelength_nm": end}
    columns |= {k: on_end(xyz.wavelengths, xyz.values[:, i]) for i, k in enumerate("xyz")}
    write(
        folder / "observers" / "cie-1931-2deg.csv",
        header(
            "Colour-matching functions of the CIE 1931 2 degree observer",
            f"CIE 1931, by {COLOUR}",
            "measured (published table)",
            "wavelength_nm in nm; x, y, z without unit",
            "380 to 830 nm, zero beyond",
        ),
        columns,
    )
    columns = {"wavelength_nm": np.append(np.arange(380.0, 781.0, 5.0), 1100.0)}
    for name, sd in colour.SDS_COLOURCHECKERS["cc_ohta"].items():
        key = name.split("(")[0].strip().replace(" ", "_").replace(".", "")
        columns[key] = np.append(sd.values, sd.values[-1])
    write(
        folder / "charts" / "chart-24.csv",
        header(
            "Reflectance of the 24 patches of the usual colour test chart",
            f"measured by N. Ohta, as distributed with {COLOUR}; held level beyond 780 nm, where"
            " the table ends and a camera in colour sees nothing",
            "measured to 780 nm, assumed beyond",
            "wavelength_nm in nm; reflectance without unit, one column a patch",
            "380 to 1100 nm",
        ),
        columns,
    )


def write_materials(folder: Path) -> None:
    for name, entries, values in reflectances(pchip, COARSE, COLOUR):
        head = header(
            entries.pop("title"),
            entries.pop("origin"),
            entries.pop("status"),
            "wavelength_nm in nm; reflectance without unit, diffuse",
            "380 to 1100 nm",
        )
        columns = {"wavelength_nm": COARSE, "reflectance": values}
        write(folder / "reflectance" / f"{name}.csv", head | entries, columns)


def write_cameras(folder: Path) -> None:
    for name, (title, origin, anchors) in SILICON.items():
        columns = {"wavelength_nm": COARSE}
        for channel, dye in (("red", RED_FILTER), ("green", GREEN_FILTER), ("blue", BLUE_FILTER)):
            columns[channel] = pchip(anchors, COARSE) * pchip(dye, COARSE)
        head = header(
            f"{title} (archetype)",
            f"{origin}; {REASON}",
            "assumed",
            "wavelength_nm in nm; electrons per photon on the pixel, one column a channel",
            "380 to 1100 nm",
        )
        write(folder / "quantum_efficiency" / f"{name}.csv", head, columns)
    fine = np.arange(380.0, 1101.0)
    write(
        folder / "filters" / "infrared-cut.csv",
        header(
            "Infrared-cut filter of a day and night camera (archetype)",
            "usual absorbing or interference filter: .95 to 640 nm, half at 660 nm, under 1 percent"
            " beyond 720 nm (from memory of filter data sheets)",
            "assumed",
            "wavelength_nm in nm; transmittance without unit",
            "380 to 1100 nm",
        ),
        {"wavelength_nm": fine, "transmittance": pchip(INFRARED_CUT, fine)},
    )
    for name, (title, origin, rows) in (SHEETING | SHEETING_PRISMATIC).items():
        observation, near, far = np.array(rows, dtype=np.float64).T
        write(
            folder / "sheeting" / f"{name}.csv",
            header(
                title,
                origin,
                _sheeting_status(name),
                "observation_deg in degrees; coefficient of retroreflection in cd/lx/m2",
                "observation as tabulated, entrance 4 to 30 degrees; beyond that see the code",
            ),
            {"observation_deg": observation, "entrance_4_deg": near, "entrance_30_deg": far},
        )


def _sheeting_status(name: str) -> str:
    if name in SHEETING_PRISMATIC:
        return "assumed (minimum of a standard, from memory)"
    return "datasheet (minimum of a standard)" if "type" in name else "assumed"


def write_lamps(folder: Path) -> None:
    rows = np.array(data_lamps.lamp_rows())
    head = header(
        data_lamps.TITLE, data_lamps.ORIGIN, "assumed", data_lamps.UNITS, data_lamps.RANGE
    )
    columns = dict(zip(data_lamps.COLUMNS, rows.T, strict=True))
    write(folder / "lamps" / "classes.csv", head, columns)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    default = Path(__file__).resolve().parents[1] / "simulator" / "data"
    parser.add_argument("--to", type=Path, default=default)
    folder: Path = parser.parse_args().to
    for name, (head, power) in {**spectra(), **sun_and_lamp_spectra()}.items():
        columns = {"wavelength_nm": GRID, "relative_power": power / power.max()}
        write(folder / "spectra" / f"{name}.csv", head, columns)
    write_observers_and_chart(folder)
    write_materials(folder)
    write_cameras(folder)
    write_lamps(folder)


if __name__ == "__main__":
    main()
