"""`nightproof warm`: compiles what predictions need before the first one."""

from __future__ import annotations

from simulator.app.cli.command import Command
from simulator.app.cli.options import WorkersOption


def warm(
    *,
    workers: WorkersOption = None,
) -> None:
    """Compile what predictions need, in several processes, so that the first one is fast.

    What is compiled already is left as it is.
    """
    from simulator.app.cli.progress import progress_line

    with progress_line() as progress:
        progress("compiling", 0.0)
        from simulator.studies.warm import warm_up

        warm_up(workers, progress)


COMMAND = Command("warm", warm, 150)
