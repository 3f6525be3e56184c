"""One meaning of colour for the share of pictures that succeed, in every map and bar."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.report.inks import FAILS, SUCCEEDS, UNDECIDED

if TYPE_CHECKING:
    from matplotlib.colors import LinearSegmentedColormap


def success_colours() -> LinearSegmentedColormap:
    """From none (dark red) over half (sand) to all (teal): poor to good, never night to day."""
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("success", [FAILS, UNDECIDED, SUCCEEDS])
