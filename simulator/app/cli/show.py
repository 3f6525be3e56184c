"""`nightproof show`: the site drawing and the table of who lights the target."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    AtOption,
    CameraOption,
    JsonOption,
    PlaceOption,
    SceneArgument,
    SetOption,
    TimezoneOption,
    named_by_options,
)
from simulator.app.cli.outcome import at_time


def show(
    context: typer.Context,
    scene: SceneArgument,
    camera: CameraOption = "fixed-2mp-lowlight",
    sets: SetOption = None,
    at: AtOption = None,
    place: PlaceOption = None,
    timezone: TimezoneOption = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Picture (default: one in outputs/)."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Draw plan, side view and light of SCENE, and tell who lights its target."""
    from simulator.api import site_plan
    from simulator.report.wording import three_digits
    from simulator.report.wording.light import light_words
    from simulator.studies.overrides import load_pair

    scene_, camera_ = load_pair(scene, camera, sets or [])
    scene_ = at_time(scene_, at, place, timezone)
    site = site_plan.show(scene_, camera_)
    path = out or Path("outputs") / f"{scene_.name}--site{named_by_options(context)}.png"
    site.save(path)
    if as_json:
        import json

        typer.echo(
            json.dumps({"picture": str(path), **site.to_dict()}, indent=2, ensure_ascii=False)
        )
        return
    print(f"{'scene:':<32}{light_words(scene_.model)}")
    for row in site.rows:
        where = "" if row.distance_m is None else f" from {row.distance_m:.1f} m"
        value, unit = row.quantity
        if value > 0.0:
            light = f"{three_digits(value)} {unit} ({100 * row.share:.0f} %)"
            print(f"{row.name + ':':<32}{light}{where}")
        elif row.distance_m is not None:
            print(f"{row.name + ':':<32}shaded or turned away{where}")
    total = f"{three_digits(site.lux)} lx"
    if site.irradiance_w_m2 > 0.0:
        total += f" and {three_digits(site.irradiance_w_m2)} W/m²"
    print(f"{'together:':<32}{total}")
    print(f"{'picture:':<32}{path}")


COMMAND = Command("show", show, 120)
