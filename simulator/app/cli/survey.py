"""`nightproof survey`: a site with many cameras."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer


def survey(
    site: Annotated[
        str, typer.Argument(metavar="SITE", help="Site file (.toml, .csv) or bundled name.")
    ],
    *,
    trials: Annotated[
        int, typer.Option(min=8, max=2000, help="Repetitions of the camera at every point.")
    ] = 90,
    workers: Annotated[
        int | None, typer.Option(min=1, help="Processes (default: one for each processor).")
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option("--cluster", metavar="TCP://...", help="Run on this dask scheduler."),
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Seed of all randomness.")] = 0,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Result folder (default: outputs/survey--...)."),
    ] = None,
    resume: Annotated[
        bool, typer.Option("--resume", help="Go on with the points of an interrupted survey.")
    ] = False,
    remedies: Annotated[
        bool,
        typer.Option(
            "--remedies",
            help="Seek what would mend the positions that fail (some minutes each).",
        ),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Judge every camera of SITE at its worst and typical hour, the greatest risk first."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.folder import check_writable
    from simulator.studies.survey.site_file import find_site, load_site
    from simulator.studies.survey.study import survey as run
    from simulator.studies.sweep import kept_file

    file = find_site(site)
    loaded = load_site(file)
    folder = out or Path("outputs") / f"survey--{file.stem}"
    check_writable(folder)
    keep = kept_file(folder)
    with progress_line(time_left=True) as progress:
        try:
            found = run(
                loaded, file, seed=seed, trials=trials, keep=keep, resume=resume, workers=workers,
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
    print(f"result: {folder}")
