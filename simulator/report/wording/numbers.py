"""Numbers and quantities as the trade writes them; nothing else formats a figure for people."""

from __future__ import annotations

import math
from collections.abc import Sequence

SLOW_SHUTTER_S = 0.3
"""From here on a shutter is written in seconds (common practice, no source) [s]."""
FRACTION_ERROR = 0.03
"""A shutter is written as 1/n s where that is right to this share."""
SMALL_WATTS = 0.01
"""Below this, watts are written in milliwatts [W]."""
SHADES = (
    (1.0, "the same shade"),
    (3.0, "hardly a different shade"),
    (6.0, "a slightly different shade"),
    (12.0, "a different shade"),
)
"""Colour difference CIEDE2000 below which a shade is called so (common practice, no source: about 1
is just seen side by side, some 6 is still taken for a match)."""
NOTHING_LEFT_DB = -40.0
"""Signal to noise below which a picture holds nothing of the target (chosen by us) [dB]."""
PRACTICALLY = 0.005
"""A probability this close to 0 or 1 is that of practically no, or every, picture."""


def digits(value: float, count: int = 3) -> str:
    """Significant digits without exponents above a thousandth: 33 000, 24.8, 0.0107.

    Parameters
    ----------
    value
        Any number.
    count
        Significant digits.

    Examples
    --------
    >>> digits(33012.0), digits(219.6, 2), digits(0.4)
    ('33 000', '220', '0.4')
    """
    if value == 0.0 or not math.isfinite(value):
        return f"{value:g}"
    if abs(value) < 1e-3:
        return f"{value:.{count}g}"
    rounded = round(value, count - 1 - math.floor(math.log10(abs(value))))
    places = count - 1 - math.floor(math.log10(abs(rounded)))
    if places <= 0:
        return f"{rounded:,.0f}".replace(",", " ")
    return f"{rounded:.{places}f}".rstrip("0").rstrip(".")


def three_digits(value: float) -> str:
    """Three significant digits; see `digits`."""
    return digits(value, 3)


def with_unit(value: float, unit: str) -> str:
    """Three significant digits with their unit; small watts, also per steradian or square metre, in
    milliwatts.

    Examples
    --------
    >>> with_unit(0.0042, "W/m²"), with_unit(12.0, "")
    ('4.2 mW/m²', '12')
    """
    if unit.startswith("W") and 0.0 < abs(value) < SMALL_WATTS:
        return f"{digits(1000.0 * value)} m{unit}"
    return f"{digits(value)} {unit}".rstrip()


def quantity(value: float | str, unit: str) -> str:
    """A setting as it is set: a number with its unit, a shutter as a fraction, or a word.

    Examples
    --------
    >>> quantity(0.002, "s"), quantity(12.0, "mm"), quantity("highlight", "")
    ('1/500 s', '12 mm', 'highlight')
    """
    if isinstance(value, str):
        return value
    return shutter(value) if unit == "s" else with_unit(value, unit)


def lux(value_lx: float) -> str:
    """An illuminance to two digits.

    Examples
    --------
    >>> lux(216.0), lux(0.0213)
    ('220 lx', '0.021 lx')
    """
    return f"{digits(value_lx, 2)} lx"


def shutter(shutter_s: float) -> str:
    """An exposure time: 1/500 s, and in seconds where a fraction would not be the same time.

    Examples
    --------
    >>> shutter(0.002), shutter(0.4), shutter(0.15)
    ('1/500 s', '0.4 s', '0.15 s')
    """
    if 0.0 < shutter_s < SLOW_SHUTTER_S:
        n = round(1.0 / shutter_s)
        if abs(n * shutter_s - 1.0) < FRACTION_ERROR:
            return f"1/{float(f'{n:.3g}'):.0f} s"
    return f"{digits(shutter_s, 2)} s"


def f_number(value: float) -> str:
    """An aperture: f/1.6."""
    return f"f/{digits(value, 2)}"


def decibels(value_db: float) -> str:
    """A gain [dB] without decimals that nobody sets."""
    return f"{value_db:.0f} dB"


def snr(snr_db: float) -> str:
    """A ratio of signal to noise; "none left" where it is too small to mean anything."""
    return f"{snr_db:.1f} dB" if snr_db > NOTHING_LEFT_DB else "none left"


def snr_in_words(snr_db: float) -> str:
    """A ratio of signal to noise within a sentence."""
    return f"SNR {snr_db:.0f} dB" if snr_db > NOTHING_LEFT_DB else "no contrast left"


def shade(ciede2000: float) -> str:
    """How far a shown colour lies from that of the material by daylight.

    That a colour can be named is another matter: a very different shade of red may still be red.
    """
    return next((words for below, words in SHADES if ciede2000 < below), "a very different shade")


def metres_to(near_m: float, far_m: float | None) -> str:
    """A range of distances; without an end where there is none: from 3 m on."""
    if far_m is None:
        return f"from {digits(near_m, 2)} m on"
    return f"from {digits(near_m, 2)} to {digits(far_m, 2)} m"


def percent(share: float, beside: float | None = None) -> str:
    """A share in per cent, with decimals only where it would else read the same as `beside`.

    Examples
    --------
    >>> percent(0.72), percent(0.898, beside=0.9)
    ('72 %', '89.8 %')
    """
    for places in (0, 1, 2):
        text = f"{100.0 * share:.{places}f} %"
        if beside is None or share == beside or text != f"{100.0 * beside:.{places}f} %":
            break
    return text


def percent_range(low: float, high: float, beside: float | None = None) -> str:
    """Two shares in per cent: 80 to 93 %; one where both are written alike."""
    ends = percent(low, beside), percent(high, beside)
    return ends[0] if ends[0] == ends[1] else f"{ends[0].removesuffix(' %')} to {ends[1]}"


def per_thousand(share: float) -> str:
    """A small share as people count it.

    Examples
    --------
    >>> per_thousand(0.01), per_thousand(0.001)
    ('one in 100', 'one in 1 000')
    """
    return f"one in {digits(1.0 / share)}"


def pictures(probability: float, beside: float | None = None) -> str:
    """In how many pictures something succeeds.

    Examples
    --------
    >>> pictures(0.72), pictures(0.999)
    ('72 % of pictures', 'practically every picture')
    """
    if probability >= 1.0 - PRACTICALLY:
        return "practically every picture"
    if probability < PRACTICALLY:
        return "practically no picture"
    return f"{percent(probability, beside)} of pictures"


def duration(years: float) -> str:
    """A time in the unit that suits it.

    Examples
    --------
    >>> duration(0.001), duration(0.0125), duration(0.5), duration(3.0)
    ('1 day', '5 days', '6 months', '3 years')
    """
    if years < 2.0 / 12.0:
        days = max(1.0, 365.25 * years)
        return f"{days:.0f} day{'' if days < 1.5 else 's'}"
    return f"{12.0 * years:.0f} months" if years < 2.0 else f"{digits(years)} years"


def position(latitude_deg: float, longitude_deg: float) -> str:
    """A place on earth.

    Examples
    --------
    >>> position(48.2, -16.4)
    '48.20° N, 16.40° W'
    """
    north, east = "NS"[latitude_deg < 0.0], "EW"[longitude_deg < 0.0]
    return f"{abs(latitude_deg):.2f}° {north}, {abs(longitude_deg):.2f}° {east}"


def listed(names: Sequence[str], last: str = "and") -> str:
    """Names as they are listed in a sentence.

    Examples
    --------
    >>> listed(["light", "glare", "haze"])
    'light, glare and haze'
    """
    if not names:
        return ""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}"


def capital(text: str) -> str:
    """With a capital first letter, the rest as it is."""
    return text[:1].upper() + text[1:]


def lowered(text: str) -> str:
    """With a small first letter, but for abbreviations such as IR."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]
