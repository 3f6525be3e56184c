"""`nightproof ladder`: cameras before the same charts as the light falls."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def light_levels(
    scene: Annotated[
        str, typer.Argument(metavar="SCENE", help="Scene file or bundled name, with a chart.")
    ] = "light-ladder-bench",
    *,
    cameras: Annotated[
        str, typer.Option("--cameras", metavar="A,B,...", help="Camera profiles or bundled names.")
    ],
    lux: Annotated[
        str, typer.Option("--lux", metavar="A,B,...", help="Illuminance of every step.")
    ] = "300,65,10,5,1,0.1",
    lens: Annotated[
        str | None, typer.Option("--lens", metavar="LENS", help="One lens for every camera.")
    ] = None,
    same_framing: Annotated[
        bool, typer.Option("--same-framing", help="Every camera frames as wide as the first one.")
    ] = False,
    seed: Annotated[int, typer.Option(min=0, help="Seed of all randomness.")] = 0,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Result folder (default: outputs/ladder--...)."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the table as JSON.")] = False,
) -> None:
    """Show what goes first as the light falls: noise, colour, the mode, trails."""
    from simulator.app.cli.progress import progress_line
    from simulator.errors import InputError
    from simulator.scene.load import Scene
    from simulator.studies.compare import load_cameras
    from simulator.studies.folder import check_writable

    try:
        steps = [float(text) for text in lux.split(",")]
    except ValueError:
        raise InputError(
            "A step of the ladder is not a number.", key="--lux", given=lux,
            fix="write numbers with commas between, such as 300,65,10,5,1,0.1",
        ) from None  # fmt: skip
    with progress_line() as progress:
        loaded = Scene.load(scene)
        found_cameras = load_cameras(
            [name.strip() for name in cameras.split(",")], lens=lens, same_framing=same_framing
        )
        folder = out or Path("outputs") / f"ladder--{loaded.name}"
        check_writable(folder)

        from simulator.report.light_levels_sheet import save_light_levels
        from simulator.studies.light_levels.pictures import ladder_pictures

        found = ladder_pictures(loaded, found_cameras, steps, seed=seed, progress=progress)
        save_light_levels(folder, found)
    if as_json:
        import json

        typer.echo(json.dumps(found.table(), indent=2, ensure_ascii=False))
        return
    print(
        f"{'camera':<24} {'light':>9}  {'mode':<6} {'shutter':>9}  {'gain':>8}  {'noise':>8}"
        f"  {'colour':>7}  {'trail':>8}"
    )
    print(
        f"{'':<24} {'[lx]':>9}  {'':<6} {'[s]':>9}  {'[dB]':>8}  {'[levels]':>8}"
        f"  {'[C*ab]':>7}  {'[frames]':>8}"
    )
    for step in found.steps.values():
        r = step.level
        print(
            f"{step.camera:<24} {r.lux:>9g}  {r.mode:<6} {r.shutter_s:>9.4g}  {r.gain_db:>8.1f}"
            f"  {step.noise_temporal_levels:>8.1f}  {step.chroma:>7.1f}  {step.trail_frames:>8.1f}"
        )
    print("noise: temporal, of luma on the chart, levels of 255; colour: mean C*ab of the chart;")
    print("trail: frames until less than a tenth of a mover is left")
    print(f"result: {folder}")
