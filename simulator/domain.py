"""Where a law holds: what refuses numbers outside its domain."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from simulator.errors import InputError


def require(
    argument: str,
    value: ArrayLike,
    *,
    above: float | None = None,
    least: float | None = None,
    most: float | None = None,
    unit: str = "",
) -> None:
    """Refuse a number, or an array with a number, that lies outside the domain of a law.

    NaN stands for a number that is missing and passes, as it does through the law itself.

    Parameters
    ----------
    argument
        The caller's argument.
    value
        A number or an array of any shape.
    above, least, most
        The domain: above a number, from one upwards, up to one.
    unit
        Of the number.

    Raises
    ------
    InputError
        With the argument, the first number that lies outside and the domain.

    Examples
    --------
    >>> require("f_number", [1.4, 2.0], above=0.0)
    >>> require("distance_m", -2.0, above=0.0, unit="m")
    Traceback (most recent call last):
    simulator.errors.InputError: This lies outside the domain of the law.
      argument: distance_m
      given:    -2.0
      allowed:  above 0 m
    """
    numbers = np.atleast_1d(np.asarray(value, dtype=np.float64))
    outside = np.zeros(numbers.shape, dtype=bool)
    ends = []
    for end, word, wrong in (
        (above, "above", np.less_equal),
        (least, "at least", np.less),
        (most, "at most", np.greater),
    ):
        if end is not None:
            outside |= wrong(numbers, end)
            ends.append(f"{word} {end:g}")
    if np.any(outside):
        raise InputError(
            "This lies outside the domain of the law.",
            argument=argument,
            given=float(numbers[outside][0]),
            allowed=f"{' and '.join(ends)} {unit}".strip(),
        )
