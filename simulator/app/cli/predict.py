"""`nightproof predict`: the picture and the verdict of one scene seen by one camera."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    AtOption,
    CameraOption,
    JsonOption,
    OtherCamerasOption,
    OutOption,
    PlaceOption,
    RemediesOption,
    ReserveOption,
    SceneArgument,
    SeedOption,
    SetOption,
    TimezoneOption,
    TolerancesOption,
)
from simulator.app.cli.outcome import at_time, new_folder, print_json

if TYPE_CHECKING:
    from simulator.judge.result import Verdict
    from simulator.studies.predict import Count


def predict(
    context: typer.Context,
    scene: SceneArgument,
    *,
    camera: CameraOption,
    sets: SetOption = None,
    at: AtOption = None,
    place: PlaceOption = None,
    timezone: TimezoneOption = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    raw: Annotated[
        bool, typer.Option("--raw", help="Write raw.tiff and electrons-per-second.tiff too.")
    ] = False,
    remedies: RemediesOption = True,
    tolerances: TolerancesOption = True,
    reserve: ReserveOption = True,
    others: OtherCamerasOption = None,
    frames: Annotated[
        int | None,
        typer.Option(
            "--frames", min=2, max=2000, metavar="N", help="Render N frames of a film instead."
        ),
    ] = None,
    before: Annotated[
        list[str] | None,
        typer.Option(
            "--before",
            metavar="KEY=VALUE",
            help="With --frames: what the scene was like when the camera settled. Repeatable.",
        ),
    ] = None,
    start_s: Annotated[
        float | None,
        typer.Option(
            "--start",
            metavar="SECONDS",
            help="With --frames: moment of the first one; 0 is the scene as written.",
        ),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Predict what CAMERA shows of SCENE, judge it, and write a result folder.

    With --frames the scene is rendered as a film: exposure that settles, trails, the switch to
    night, the codec of the profile.
    """
    if frames is not None:
        if at is not None:
            raise typer.BadParameter("--at does not go with --frames; set the date in the scene")
        _film(context, scene, camera, sets or [], before or [], frames, start_s, seed, out, as_json)
        return
    if before or start_s is not None:
        raise typer.BadParameter("--before and --start belong to --frames")
    from simulator.app.cli.progress import progress_line
    from simulator.camera.load import Camera
    from simulator.studies.overrides import load_pair

    with ExitStack() as line:
        lines = [line.enter_context(progress_line())]
        scene_, camera_ = load_pair(scene, camera, sets or [])
        scene_ = at_time(scene_, at, place, timezone)
        folder = new_folder(context, out, scene_.name, camera_.name)

        from simulator.api.prediction import predict as run
        from simulator.app.cli.verdict_text import (
            print_count,
            print_reserve,
            print_result,
            print_verdict,
        )

        said: list[Verdict] = []

        def progress(text: str, share: float) -> None:
            lines[-1](text, share)

        def counted(count: Count) -> None:
            """Print how often it succeeds at once: limits, tolerances and remedies take longer."""
            if (tolerances or remedies) and not as_json:
                line.close()
                print_count(count)
                lines.append(line.enter_context(progress_line()))

        def answered(verdict: Verdict) -> None:
            """Print the answer at once: the reserve and the sheet take as long again."""
            if not as_json:
                line.close()
                print_verdict(verdict, scene_.model.question, sought=remedies)
                said.append(verdict)

        result = run(
            scene_,
            camera_,
            seed=seed,
            progress=progress,
            remedies=remedies,
            cameras=None if others is None else [Camera.load(name) for name in others],
            tolerances=tolerances,
            reserve=reserve,
            answered=answered,
            counted=counted,
        )
    if as_json:
        typer.echo(result.verdict.to_json(), nl=False)
        sys.stdout.flush()
        result.save(folder, raw=raw)
        return
    if not said:
        print_verdict(result.verdict, scene_.model.question, sought=remedies)
    elif result.verdict.reserve is not None:
        print_reserve(result.verdict.reserve)
    result.save(folder, raw=raw)
    print_result(folder)


def _film(
    context: typer.Context,
    scene: str,
    camera: str,
    sets: list[str],
    before: list[str],
    frames: int,
    start_s: float | None,
    seed: int,
    out: Path | None,
    as_json: bool,
) -> None:
    from simulator.app.cli.progress import progress_line
    from simulator.studies.overrides import load_pair

    with progress_line() as progress:
        loaded, body = load_pair(scene, camera, sets)
        earlier = load_pair(scene, camera, [*sets, *before])[0] if before else None
        folder = new_folder(context, out, "frames", loaded.name, body.name)

        from simulator.api.film import film as run

        film = run(
            loaded, body, frames, before=earlier, start_s=start_s, seed=seed, progress=progress
        )
        film.save(folder)
    if as_json:
        print_json(film)
        return
    from simulator.report.sequence_files import began_words, settled_words
    from simulator.report.wording import shutter

    first, last = film.frames[0], film.frames[-1]
    print(f"verdict:  {settled_words(film)}")
    print(f"frames:   {len(film.frames)}, {first.time_s:+.2f} s to {last.time_s:+.2f} s")
    print(f"began:    {began_words(film)}")
    print(
        f"ended:    {last.mode} mode, {shutter(last.exposure.shutter_s)},"
        f" {last.exposure.gain_db:.1f} dB"
    )
    settling = film.path.settling_s()
    print(
        "settling: "
        + ("not settled at the end" if settling is None else f"{settling:.2f} s to within 1 dB")
    )
    print(f"result:   {folder}")


COMMAND = Command("predict", predict, 10)
