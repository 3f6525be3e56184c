"""`nightproof survey`: a site with many cameras."""

from __future__ import annotations

import sys
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
    folder_for,
)


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
    from simulator.studies.folder import check_writable
    from simulator.studies.kept import kept_file
    from simulator.studies.survey.site_file import SiteFile
    from simulator.studies.survey.study import survey as run

    loaded = SiteFile.load(site)
    folder = folder_for(context, out, "survey", loaded.name)
    check_writable(folder)
    keep = kept_file(folder)
    with progress_line(time_left=True) as progress:
        try:
            found = run(
                loaded, seed=seed, trials=trials, keep=keep, resume=resume, workers=workers,
                cluster=cluster, remedies=remedies, progress=progress,
            )  # fmt: skip
        except KeyboardInterrupt:
            print(
                f"Interrupted. The points that are done stay in {keep};"
                " the same command with --resume goes on.",
                file=sys.stderr,
            )
            raise
        from simulator.report.survey.plan import save_survey
        from simulator.report.survey.words import lines_of, verdict_table

        save_survey(folder, found)
    keep.unlink(missing_ok=True)
    told = verdict_table(found)
    if as_json:
        import json

        typer.echo(json.dumps(told, indent=2, ensure_ascii=False))
        return
    print(told["answer"])
    for line in lines_of(found):
        print(f"  {line}")
    for line in told["changes"]:
        print(f"  {line}")
    if told["changes"] and not remedies:
        print("  Hint: --remedies seeks the least change that works (some minutes a position)")
    print(f"result: {folder}")


COMMAND = Command("survey", survey, 70)
