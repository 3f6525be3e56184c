"""`nightproof survey`: a site with many cameras."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    JsonOption,
    OutOption,
    RemediesOption,
    ResumeOption,
    SeedOption,
    TrialsOption,
    WorkersOption,
)
from simulator.app.cli.outcome import kept_points, new_folder, print_json


def survey(
    context: typer.Context,
    site: Annotated[
        str, typer.Argument(metavar="SITE", help="Site file (.toml, .csv) or bundled name.")
    ],
    *,
    trials: TrialsOption = 90,
    workers: WorkersOption = None,
    cluster: Annotated[
        str | None,
        typer.Option("--cluster", metavar="TCP://...", help="Run on this dask scheduler."),
    ] = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    resume: ResumeOption = False,
    remedies: RemediesOption = False,
    as_json: JsonOption = False,
) -> None:
    """Judge every camera of SITE at its worst and typical hour, the greatest risk first."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.survey.site_file import SiteFile

    loaded = SiteFile.load(site)
    folder = new_folder(context, out, "survey", loaded.name)
    with progress_line(time_left=True) as progress, kept_points(folder) as keep:
        from simulator.api.surveying import survey as run

        result = run(
            loaded, seed=seed, trials=trials, keep=keep, resume=resume, workers=workers,
            cluster=cluster, remedies=remedies, progress=progress,
        )  # fmt: skip
        result.save(folder)
    if as_json:
        print_json(result)
        return
    from simulator.report.survey.words import lines_of

    record = result.to_dict()
    print(record["answer"])
    for line in (*lines_of(result), *record["changes"]):
        print(f"  {line}")
    if record["changes"] and not remedies:
        print("  Hint: --remedies seeks the least change that works (some minutes a position)")
    print(f"result: {folder}")


COMMAND = Command("survey", survey, 70)
