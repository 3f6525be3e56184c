"""A line that shows how far the work is."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress_line(*, time_left: bool = False) -> Iterator[Callable[[str, float], None]]:
    """Function that shows how far the work is, on a terminal only, on stderr."""
    if not sys.stderr.isatty():
        yield lambda _text, _share: None
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        Progress,
        ProgressColumn,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    columns: list[ProgressColumn] = [BarColumn(bar_width=24), TextColumn("{task.description}")]
    columns.append(TimeRemainingColumn() if time_left else TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("reading the files", total=1.0)
        yield lambda text, share: progress.update(task, description=text, completed=share)
