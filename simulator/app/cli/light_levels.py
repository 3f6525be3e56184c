"""`nightproof ladder`: cameras before the same charts as the light falls."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.options import (
    CamerasOption,
    JsonOption,
    LensOption,
    OutOption,
    SameFramingOption,
    SceneArgument,
    SeedOption,
    folder_for,
    split_numbers,
)


def light_levels(
    context: typer.Context,
    scene: SceneArgument = "light-ladder-bench",
    *,
    cameras: CamerasOption,
    lux: Annotated[
        list[str] | None,
        typer.Option(
            "--lux",
            metavar="A,B,...",
            callback=split_numbers,
            help="Illuminance of every level (default: 300 lx and half-decades down to 0.1 lx).",
        ),
    ] = None,
    lens: LensOption = None,
    same_framing: SameFramingOption = False,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what goes first as the light falls: noise, colour, the mode, trails."""
    from simulator.app.cli.progress import progress_line
    from simulator.scene.load import Scene
    from simulator.studies.compare import load_cameras
    from simulator.studies.folder import check_writable

    with progress_line() as progress:
        loaded = Scene.load(scene)
        found_cameras = load_cameras(cameras, lens=lens, same_framing=same_framing)
        folder = folder_for(context, out, "light-levels", loaded.name)
        check_writable(folder)

        from simulator.report.light_levels_sheet import save_light_levels
        from simulator.studies.light_levels.pictures import ladder_pictures
        from simulator.studies.light_levels.study import STEPS_LUX

        steps = STEPS_LUX if lux is None else [float(text) for text in lux]
        found = ladder_pictures(loaded, found_cameras, steps, seed=seed, progress=progress)
        save_light_levels(folder, found)
    if as_json:
        import json

        typer.echo(json.dumps(found.to_dict(), indent=2, ensure_ascii=False))
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
