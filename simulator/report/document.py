"""One self-contained document from result folders: for the customer first, the engineer after."""

from __future__ import annotations

import base64
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from PIL import Image as PillowImage

from simulator.errors import FileFormatError, InputError
from simulator.judge.limits import no_single_mending
from simulator.judge.words import (
    cause,
    change,
    customer_sentence,
    engineer_sentence,
    main_limits,
    size_words,
    thing,
)
from simulator.report.numbers import three_digits
from simulator.studies.folder import whole_file
from simulator.studies.provenance import versions

WIDEST_PX = 1500
JPEG_QUALITY = 90
METHOD = (
    ("Light", "Illuminance, irradiance and intensity add up in physical units, lamp by lamp, on a"
     " 1 nm grid from 380 to 1100 nm; daylight and moonlight after US Naval Observatory Circular"
     " 171, solar spectrum after ASTM G173."),
    ("Scene", "Every surface is a measured or assumed spectral reflectance; retroreflective"
     " sheeting by its coefficient of retroreflection at the angles that occur (CIE 54.2)."),
    ("Lens", "Diffraction and defocus together (Stokseth 1969), aberration, stray light after the"
     " veiling glare index of ISO 9358, fall-off by cosine to the fourth power and vignetting."),
    ("Sensor", "The linear model of EMVA 1288: photon noise by exact Poisson draws, dark noise,"
     " dark current, non-uniformity, full well, gain and quantisation."),
    ("Processing", "Demosaic after Malvar, He and Cutler 2004, solved colour matrix, noise"
     " reduction in space and over real frames, tone curve (ITU-R BT.709 or the profile's)."),
    ("Verdict", "Text: repeated noisy pictures of the whole camera are read by a template reader;"
     " the share in which every character is right is the probability. Objects: resolvable cycles"
     " (Johnson 1958) and the target transfer probability function."),
)  # fmt: skip


@dataclass(frozen=True)
class Picture:
    """A picture inside the document, with the text that stands for it."""

    uri: str
    alt: str
    caption: str


@dataclass(frozen=True)
class Table:
    """A table with its caption; the first cell of a row is its heading."""

    caption: str
    head: list[str]
    rows: list[list[str]]


@dataclass(frozen=True)
class Section:
    """What the document says of one result folder."""

    title: str
    question: str
    word: str
    tone: str
    answer: str
    engineer: str
    pictures: list[Picture]
    why: list[str]
    changes: list[str]
    conditions: list[str]
    cautions: list[str]
    tables: list[Table]
    origin: str
    inputs: list[tuple[str, str]] = field(default_factory=list)


def data_uri(path: Path, widest: int = WIDEST_PX) -> str:
    """A picture file as a data URI: PNG where it is small, else JPEG, no wider than `widest`."""
    with PillowImage.open(path) as opened:
        picture = opened.convert("RGB")
    if picture.width > widest:
        size = (widest, round(picture.height * widest / picture.width))
        picture = picture.resize(size, PillowImage.Resampling.LANCZOS)
    best, kind = b"", ""
    for name, options in (("PNG", {"optimize": True}), ("JPEG", {"quality": JPEG_QUALITY})):
        out = io.BytesIO()
        picture.save(out, name, **options)
        if not best or len(out.getvalue()) < 0.6 * len(best):
            best, kind = out.getvalue(), name.lower()
    return f"data:image/{kind};base64,{base64.b64encode(best).decode()}"


def read_result(folder: Path) -> dict[str, Any]:
    """The verdict.json of a result folder.

    Raises
    ------
    InputError
        If it is no result folder.
    """
    path = folder / "verdict.json"
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except OSError:
        raise InputError(
            "This is not a result of nightproof: it holds no verdict.json.",
            file=folder,
            allowed="a folder that predict, compare, sweep or another study wrote",
            mend="run the study first, or name its folder",
        ) from None
    except ValueError as error:
        raise FileFormatError(f"verdict.json cannot be read: {error}.", file=path) from None
    if not isinstance(found, dict) or "schema_version" not in found:
        raise FileFormatError("verdict.json is not that of a result.", file=path)
    return found


def section_of(folder: Path) -> Section:
    """What the document says of a result folder.

    Raises
    ------
    InputError
        If it is no result folder.
    """
    verdict = read_result(folder)
    if "probability" in verdict and "signal" in verdict:
        return _prediction(folder, verdict)
    return _study(folder, verdict)


_WORDS = {
    "legible": ("Yes", "good"),
    "marginal": ("Not surely", "fair"),
    "not legible": ("No", "poor"),
}


def _prediction(folder: Path, v: Mapping[str, Any]) -> Section:
    word, tone = _WORDS[v["verdict"]]
    limits = main_limits(v)
    why = [
        f"{cause(v, row['factor']).capitalize()}. With that alone mended it would succeed in"
        f" {100 * row['probability_without']:.0f} of 100 pictures."
        for row in limits[:3]
    ]
    sentence = no_single_mending(v["limits"])
    if sentence:
        why.append(sentence)
    changes = []
    for row in v["remedies"]:
        text = f"{change(row)}: {100 * row['probability']:.0f} of 100 pictures."
        effects = row.get("side_effects") or []
        changes.append(text + (" " + " ".join(effects) if effects else ""))
    pictures = []
    size = v["geometry"]
    about = (
        f"{v['title']}: picture predicted in {v['exposure']['mode']} mode, a field of"
        f" {size['field_width_m']:.1f} m at the target"
    )
    if (folder / "frame.png").exists():
        pictures.append(
            Picture(data_uri(folder / "frame.png"), about, "What the camera will show (predicted).")
        )
    if (folder / "target.png").exists():
        alt = f"The {thing(v)} enlarged, every pixel of the camera shown as a square"
        pictures.append(
            Picture(data_uri(folder / "target.png", 900), alt, f"The {thing(v)}, pixel by pixel.")
        )
    return Section(
        f"{v['title']}; camera {v['camera']}", v["question"], word, tone, _own_sentence(v),
        engineer_sentence(v), pictures, why, changes, list(v["conditions"]),
        list(v["cautions"]), _prediction_tables(v), _origin(v), _inputs(folder),
    )  # fmt: skip


def _own_sentence(v: Mapping[str, Any]) -> str:
    said = v.get("sentences")
    return str(said["customer"]) if isinstance(said, Mapping) else customer_sentence(v)


def _prediction_tables(v: Mapping[str, Any]) -> list[Table]:
    e, g, s, t = v["exposure"], v["geometry"], v["signal"], v["target"]
    infrared = f" and {s['irradiance_w_m2']:.3g} W/m² infrared" if s["irradiance_w_m2"] > 0 else ""
    rows = [
        ["Probability", f"{v['probability']:.3f} ({v['probability_low']:.3f} to"
         f" {v['probability_high']:.3f}; wanted {v['task']['wanted_probability']:.2f})"],
        ["Mode", str(e["mode"])],
        ["Shutter", f"{e['shutter_s']:.5g} s"],
        ["Gain", f"{e['gain_db']:.1f} dB"],
        ["F-number", f"{e['f_number']:.2f}"],
        ["Metering", f"{e['metering']}; limited by {e['limited_by']}"],
        ["Distance", f"{g['distance_m']:.2f} m"],
        ["Pixel density", f"{g['pixels_per_m']:.1f} px/m, {g['density_class']}"
         f" ({g['density_edition']})"],
        ["Light on the target", f"{three_digits(s['illuminance_lux'])} lx{infrared}"],
        ["Signal to noise", f"{s['snr_db']:.1f} dB"],
        ["Modulation", f"{s['modulation']:.3f}"],
        ["Motion blur", f"{s['motion_blur_px']:.2f} px"],
        ["Washed out to white", f"{100 * s['clipped_fraction']:.1f} %"],
        ["Left of it", size_words(t)],
    ]  # fmt: skip
    tables = [Table("The target in figures", ["figure", "value"], rows)]
    if v["limits"]:
        tables.append(
            Table(
                "What limits it: probability with each impairment alone removed, alone left, and"
                " its share of the loss",
                ["impairment", "removed", "left", "share", "meaning"],
                [
                    [
                        row["factor"], f"{row['probability_without']:.2f}",
                        f"{row['probability_only']:.2f}", f"{row['share']:.2f}", row["meaning"],
                    ]
                    for row in v["limits"]
                ],
            )
        )  # fmt: skip
    others = [row for row in v.get("targets", []) if row["name"] != t["name"]]
    if others:
        tables.append(
            Table(
                "Other targets of the scene",
                ["target", "distance", "pixel density", "probability"],
                [
                    [
                        f"{row['kind']} {row['name']}", f"{row['distance_m']:.1f} m",
                        "not to be seen" if row["box_px"] is None
                        else f"{row['pixels_per_m']:.0f} px/m",
                        "" if row.get("probability") is None else f"{row['probability']:.2f}",
                    ]
                    for row in others
                ],
            )
        )  # fmt: skip
    return tables


_STUDY_PICTURES = {
    "chart.png": "Chart of the study; its figures stand in the files beside it",
    "strip.png": "Strip of pictures along the first axis",
    "course.png": "Course of shutter, gain and level over time",
    "sheet.png": "Sheet of the study",
    "map.png": "Map of the study",
    "plan.png": "Plan of the site",
}


def _study(folder: Path, v: Mapping[str, Any]) -> Section:
    """Studies other than a prediction: their own words, tables and pictures."""
    known = [name for name in _STUDY_PICTURES if (folder / name).exists()]
    known += [
        path.name for path in sorted(folder.glob("*.png")) if path.name not in _STUDY_PICTURES
    ]
    name = str(v.get("study", "comparison"))
    title = str(v.get("title") or f"{name.capitalize()}: {v.get('scene', folder.name)}")
    pictures = [
        Picture(
            data_uri(folder / n, 1700), f"{_STUDY_PICTURES.get(n, f'{name} of {n[:-4]}')}: {title}",
            "",
        )
        for n in known
    ]  # fmt: skip
    tables = [
        Table(row["caption"], list(row["head"]), [[str(c) for c in r] for r in row["rows"]])
        for row in v.get("tables", [])
    ]
    if "scenes" in v and not tables:
        tables = _comparison_tables(v)
    return Section(
        title, str(v.get("question", "")), "", "fair", str(v.get("answer", "")),
        str(v.get("engineer", "")), pictures, [str(x) for x in v.get("why", [])],
        [str(x) for x in v.get("changes", [])],
        [str(x) for x in v.get("conditions", v.get("held_fixed", []))],
        [str(x) for x in v.get("cautions", [])], tables, _origin(v), _inputs(folder),
    )  # fmt: skip


def _comparison_tables(v: Mapping[str, Any]) -> list[Table]:
    return [
        Table(
            f"{row['title']}: rank by probability, wanted {row['wanted_probability']:.2f}",
            ["camera", "rank", "verdict", "probability", "interval"],
            [
                [
                    s["camera"], f"{s['rank']}{' (tie)' if s['tied'] else ''}", s["verdict"],
                    f"{s['probability']:.2f}", f"{s['low']:.2f} to {s['high']:.2f}",
                ]
                for s in row["standings"]
            ],
        )
        for row in v["scenes"]
    ]  # fmt: skip


def _origin(v: Mapping[str, Any]) -> str:
    parts = [f"{key} {v[key]}" for key in ("scene", "camera", "seed", "input_hash") if key in v]
    if isinstance(v.get("versions"), Mapping):
        parts += [f"{k} {x}" for k, x in v["versions"].items()]
    return "; ".join(parts)


def _inputs(folder: Path) -> list[tuple[str, str]]:
    inner = folder / "inputs"
    if not inner.is_dir():
        return []
    return [(p.name, p.read_text(encoding="utf-8")) for p in sorted(inner.glob("*.toml"))]


def render(
    folders: Sequence[Path], *, title: str, client: str = "", author: str = "", day: str = ""
) -> str:
    """The document as one HTML text that needs nothing beside it.

    Parameters
    ----------
    folders
        Result folders, in the order of the document.
    day
        Date on the title page; today's without it.

    Raises
    ------
    InputError
        For a folder that is no result.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    sections = [section_of(folder) for folder in folders]
    environment = Environment(
        loader=PackageLoader("simulator.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    cautions = list(dict.fromkeys(c for section in sections for c in section.cautions))
    return environment.get_template("report.html").render(
        title=title,
        client=client,
        author=author,
        day=day or date.today().isoformat(),
        sections=sections,
        cautions=cautions,
        method=METHOD,
        version=versions()["nightproof"],
    )


def write_report(path: Path, text: str) -> Path:
    """Write the document, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    with whole_file(path, "The report cannot be written here.") as part:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(text, encoding="utf-8")
    return path


def write_pdf(path: Path, text: str) -> Path:
    """Write the document as PDF.

    Raises
    ------
    InputError
        If WeasyPrint (the extra `pdf`) is not installed.
    OutputError
        If it cannot be written there.
    """
    try:
        import weasyprint
    except (ImportError, OSError):
        raise InputError(
            "PDF needs WeasyPrint and its libraries, which are not installed.",
            key="--pdf",
            allowed='the extra: pip install "nightproof[pdf]"',
            mend="install the extra, or print the HTML file from a browser",
        ) from None
    with whole_file(path, "The PDF cannot be written here.") as part:
        path.parent.mkdir(parents=True, exist_ok=True)
        weasyprint.HTML(string=text).write_pdf(str(part))
    return path
