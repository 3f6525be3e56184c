"""Words, made last: numbers as the trade writes them, one catalogue, and templates.

What a judge or a study has to say comes here as `messages.Message` or as a typed result; no other
room writes sentences, and none takes one apart.
"""

from simulator.report.wording.catalogue import entry, filled, rendered, say, say_all
from simulator.report.wording.numbers import (
    capital,
    decibels,
    digits,
    f_number,
    listed,
    lowered,
    lux,
    percent,
    percent_range,
    pictures,
    quantity,
    shutter,
    snr,
    three_digits,
    with_unit,
)

__all__ = [
    "capital",
    "decibels",
    "digits",
    "entry",
    "f_number",
    "filled",
    "listed",
    "lowered",
    "lux",
    "percent",
    "percent_range",
    "pictures",
    "quantity",
    "rendered",
    "say",
    "say_all",
    "shutter",
    "snr",
    "three_digits",
    "with_unit",
]
