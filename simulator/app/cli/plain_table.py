"""A table of a study as aligned lines."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def print_table(table: Mapping[str, Any]) -> None:
    """Print the caption, the head and the rows of a table of verdict.json."""
    rows = [table["head"], *table["rows"]]
    wide = [max(len(row[k]) for row in rows) for k in range(len(table["head"]))]
    print(f"{table['caption']}:")
    for row in rows:
        cells = (f"{cell:<{width}}" for cell, width in zip(row, wide, strict=True))
        print(f"  {'  '.join(cells)}".rstrip())
