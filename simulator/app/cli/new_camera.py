"""`nightproof new camera`: write a commented camera profile from datasheet figures."""

from __future__ import annotations

import sys
import textwrap
from pathlib import Path
from typing import Annotated, Any

import typer


def _option(text: str) -> Any:
    return typer.Option(help=text)


def toml_name(name: Path) -> Path:
    """The file of a name; commands find files by their ending."""
    return name if name.suffix == ".toml" else name.with_name(name.name + ".toml")


def camera(
    name: Annotated[Path, typer.Argument(metavar="NAME", help="Profile to write, NAME.toml.")],
    title: Annotated[str | None, _option("Title of the camera.")] = None,
    width_px: Annotated[str | None, _option("Pixels across.")] = None,
    height_px: Annotated[str | None, _option("Pixels down.")] = None,
    sensor_format: Annotated[str | None, _option("Type in inches, such as 1/2.8.")] = None,
    pixel_pitch_um: Annotated[str | None, _option("Pixel pitch [um], instead.")] = None,
    technology: Annotated[str | None, _option("cmos or ccd.")] = None,
    quantum_efficiency: Annotated[str | None, _option("Name of a table, if known.")] = None,
    full_well_e: Annotated[str | None, _option("Full well [e-], if known.")] = None,
    read_noise_e: Annotated[str | None, _option("Read noise [e-], if known.")] = None,
    gain_max_db: Annotated[str | None, _option("Largest gain [dB], if known.")] = None,
    bit_depth: Annotated[str | None, _option("Bits of the converter.")] = None,
    lens: Annotated[str | None, _option("Lens profile.")] = None,
    focal_length_mm: Annotated[str | None, _option("Focal length [mm].")] = None,
    f_number: Annotated[str | None, _option("F-number the lens is set to.")] = None,
    frame_rate_hz: Annotated[str | None, _option("Frames a second.")] = None,
    minimum_lux: Annotated[str | None, _option("Minimum illumination [lx].")] = None,
    minimum_f_number: Annotated[str | None, _option("... at this f-number.")] = None,
    minimum_shutter_s: Annotated[str | None, _option("... this shutter [s], such as 1/25.")] = None,
    minimum_gain_db: Annotated[str | None, _option("... this gain [dB], or max.")] = None,
    minimum_level_percent: Annotated[
        str | None, _option("... this level of the picture [% of white, IRE].")
    ] = None,
    minimum_reflectance: Annotated[str | None, _option("... a card of this reflectance.")] = None,
    minimum_picture: Annotated[str | None, _option("... in colour or monochrome.")] = None,
    minimum_light: Annotated[
        str | None, _option("... under this spectrum; cie-a in colour if not said.")
    ] = None,
    assume_usual: Annotated[
        bool,
        typer.Option(
            "--assume-usual",
            help="Assume the usual conditions of the minimum illumination where none is given.",
        ),
    ] = False,
    snr_db: Annotated[str | None, _option("Signal-to-noise ratio [dB].")] = None,
    snr_level_percent: Annotated[str | None, _option("... at this level [% of white].")] = None,
    snr_gain_db: Annotated[str | None, _option("... and this gain [dB].")] = None,
    snr_measured_on: Annotated[
        str | None,
        _option("... on raw, picture (noise reduction off) or picture-reduced (on)."),
    ] = None,
    dynamic_range_db: Annotated[str | None, _option("Dynamic range [dB].")] = None,
    dynamic_range_kind: Annotated[str | None, _option("... linear or wide.")] = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace the file.")] = False,
) -> None:
    """Write a commented camera profile from datasheet figures.

    A figure needs its conditions; one without them is refused, but that --assume-usual takes those
    of the minimum illumination as they are usual and marks them so. On a terminal it asks for what
    no option gives.
    """
    given = {k: v for k, v in locals().items() if k not in ("name", "overwrite")}
    from simulator.api.new import new_camera
    from simulator.studies.folder import refuse_overwriting

    file = toml_name(name)
    refuse_overwriting(file, overwrite, "--overwrite")
    if sys.stdin.isatty():
        _ask(given, file.stem)
    if given["title"] is None:
        given["title"] = f"{file.stem} (from a datasheet)"
    made = new_camera(**given)
    made.save(file, overwrite=overwrite)
    kind = ""
    for row in made.rows:
        text = row.value + (f" ({row.why})" if row.value and row.why else "")
        line = f"{row.name}: {text}" if text else row.name
        head = f"{row.kind if row.kind != kind else '':<12}"
        print(textwrap.fill(line, 100, initial_indent=head, subsequent_indent=" " * 14))
        kind = row.kind
    for text in made.cautions:
        print(textwrap.fill(text, 100, initial_indent="beware      ", subsequent_indent=" " * 14))
    print(f"{file}")
    print(f"next: nightproof predict colour-chart-bench --camera {file}")


def _ask(given: dict[str, Any], name: str) -> None:
    """Ask for what is missing; an empty answer means that it is not known. A bad answer is refused
    at once and asked for again."""
    from simulator.studies.datasheet.figures import LEADS, needed, with_usual_conditions

    def ask(key: str, why: str = "", default: str = "") -> None:
        if given[key] is None:
            if why:
                typer.echo(f"  {why}")
            given[key] = _answer(key, default)

    ask("title", default=f"{name} (from a datasheet)")
    ask("width_px", default="1920")
    ask("height_px", default="1080")
    if given["pixel_pitch_um"] is None:
        ask("sensor_format", default="1/2.8")
    ask("lens", default="varifocal-2.8-12")
    ask("f_number")
    ask("frame_rate_hz", default="25")
    for lead in LEADS:
        ask(lead)
        if given[lead] is None:
            continue
        missing = [key for key in needed(lead, given) if given[key] is None]
        if lead == "minimum_lux" and missing and not given["assume_usual"]:
            usual = with_usual_conditions(given)[0]
            values = ", ".join(f"{_words(key)} {usual[key]}" for key in missing if key in usual)
            given["assume_usual"] = typer.confirm(
                f"assume the usual conditions ({values})", default=False
            )
        if lead == "minimum_lux" and given["assume_usual"]:
            continue
        for key in needed(lead, given):
            ask(key, needed(lead, given)[key])
        if lead == "minimum_lux" and given["minimum_picture"] == "monochrome":
            ask("minimum_light", needed(lead, given)["minimum_light"])


def _words(key: str) -> str:
    words = key.replace("_", " ")
    for unit in ("px", "um", "mm", "db", "hz", "lux", "percent"):
        words = words.removesuffix(f" {unit}") + f" [{unit}]" * words.endswith(f" {unit}")
    return words.removeprefix("minimum ") if "[lux]" not in words else words


def _answer(key: str, default: str) -> str | None:
    """An answer from the terminal, asked again until it is possible; None for an empty one."""
    from simulator.errors import InputError
    from simulator.studies.datasheet.figures import check_figure

    while True:
        said = typer.prompt(_words(key), default=default, show_default=bool(default))
        text = str(said).strip()
        try:
            if text:
                check_figure(key, text)
        except InputError as error:
            print(error.text(), file=sys.stderr)
            continue
        return text or None
