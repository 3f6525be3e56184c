"""`nightproof predict`: the picture and the verdict of one scene seen by one camera."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from simulator.camera.load import Camera


def predict(
    scene: Annotated[
        str, typer.Argument(metavar="SCENE", help="Scene file, or a name of `nightproof list`.")
    ],
    *,
    camera: Annotated[
        str,
        typer.Option(
            "--camera", metavar="PROFILE", help="Camera file, or a name of `nightproof list`."
        ),
    ],
    sets: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Set a value of scene or camera, such as target.plate.speed_kmh=30. Repeatable.",
        ),
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Seed of all randomness.")] = 0,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="DIR", help="Result folder (default: outputs/SCENE--CAMERA)."
        ),
    ] = None,
    raw: Annotated[bool, typer.Option("--raw", help="Write raw.tiff and radiance.tiff too.")] = (
        False
    ),
    remedies: Annotated[
        bool,
        typer.Option(
            "--remedies/--no-remedies",
            help="If it is not legible, search for the least change that would mend it"
            " (the longest part).",
        ),
    ] = True,
    tolerance: Annotated[
        bool,
        typer.Option(
            "--tolerance/--no-tolerance",
            help="Let the interval hold the tolerances of profile and scene.",
        ),
    ] = True,
    others: Annotated[
        list[str] | None,
        typer.Option(
            "--other-camera",
            metavar="PROFILE",
            help="Camera that a remedy may propose (default: all bundled ones). Repeatable.",
        ),
    ] = None,
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
    as_json: Annotated[bool, typer.Option("--json", help="Print only the verdict, as JSON.")] = (
        False
    ),
) -> None:
    """Predict what CAMERA shows of SCENE, judge it, and write a result folder.

    With --frames the scene is rendered as a film: exposure that settles, trails, the switch to
    night, the codec of the profile.
    """
    if frames is not None:
        _film(scene, camera, sets or [], before or [], frames, start_s, seed, out, as_json)
        return
    if before or start_s is not None:
        raise typer.BadParameter("--before and --start belong to --frames")
    from simulator.app.cli.progress import progress_line
    from simulator.studies.folder import check_writable
    from simulator.studies.overrides import load_pair

    with progress_line() as progress:
        scene_, camera_ = load_pair(scene, camera, sets or [])
        folder = out or Path("outputs") / f"{scene_.name}--{camera_.name}"
        check_writable(folder)  # told now, not after the work

        from simulator.report.prediction import predict as run

        result = run(
            scene_,
            camera_,
            seed=seed,
            progress=progress,
            remedies=remedies,
            cameras=[] if not remedies else _cameras(others, camera_.name),
            tolerances=tolerance,
        )
        result.save(folder, raw=raw)
    if as_json:
        typer.echo(result.verdict_json(), nl=False)
        return
    from simulator.app.cli.verdict_text import print_verdict

    print_verdict(result.verdict, scene_.model.question, folder, sought=remedies)


def _cameras(names: list[str] | None, own: str) -> list[Camera]:
    """Cameras that may be proposed: those named, or all bundled ones but the camera itself."""
    from simulator.camera.load import Camera
    from simulator.files import bundled_names

    return [
        Camera.load(name)
        for name in (bundled_names("cameras") if names is None else names)
        if name != own
    ]


def _film(
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
    from simulator.studies.folder import check_writable
    from simulator.studies.overrides import load_pair

    with progress_line() as progress:
        scene_, camera_ = load_pair(scene, camera, sets)
        earlier = load_pair(scene, camera, [*sets, *before])[0] if before else None
        folder = out or Path("outputs") / f"frames--{scene_.name}--{camera_.name}"
        check_writable(folder)

        from simulator.report.sequence_files import save_sequence
        from simulator.studies.sequence import predict_sequence

        found = predict_sequence(
            scene_, camera_, frames, seed=seed, before=earlier, start_s=start_s, judge=True,
            progress=progress,
        )  # fmt: skip
        save_sequence(folder, found)
    if as_json:
        import json

        typer.echo(json.dumps(found.table(), indent=2, ensure_ascii=False))
        return
    first, last = found.frames[0], found.frames[-1]
    print(f"verdict:  {found.verdict_words()}")
    print(f"frames:   {len(found.frames)}, {first.time_s:+.2f} s to {last.time_s:+.2f} s")
    print(f"began:    {found.began}")
    print(
        f"ended:    {last.mode} mode, {last.exposure.shutter_s:.4g} s,"
        f" {last.exposure.gain_db:.1f} dB"
    )
    settling = found.path.settling_s()
    print(
        "settling: "
        + ("not settled at the end" if settling is None else f"{settling:.2f} s to within 1 dB")
    )
    print(f"result:   {folder}")
