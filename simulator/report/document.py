"""One self-contained document from result folders: for the customer first, the engineer after."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any, Literal

from simulator.errors import FileFormatError, InputError
from simulator.judge.explanation import (
    cause,
    cost_explained,
    density_note,
    helpers,
    main_limits,
    no_single_fix,
    why_marginal,
)
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.result import Limit, Verdict
from simulator.messages import Message
from simulator.reading import check_layout, is_file, json_of
from simulator.report.figure_rows import figure_rows
from simulator.report.html import html_page
from simulator.report.mounting import parts_table, plan_picture, settings_table, site_of
from simulator.report.section import WORDS, Picture, Section, Table, data_uri, inputs, origin
from simulator.report.study_section import study_section
from simulator.report.wording import (
    capital,
    listed,
    say,
)
from simulator.report.wording.verdict import (
    changes,
    customer_sentence,
    engineer_sentence,
    limit_effect,
    said,
    size_words,
    target_words,
)
from simulator.studies.folder import whole_file

Part = Literal["whole", "customer", "engineer"]
LOGO_PX = 480
STUDY_LAYOUT = 1
"""`schema_version` of every study but a prediction."""
MOST_CHANGES = 5
"""Remedies that are told; the rest stands in verdict.json."""
LEAST_GAIN = 0.05
"""A remedy that gains less than this does not help (chosen by us)."""
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
    ("Verdict", "Text: repeated noisy pictures of the whole camera are read by a reader that knows"
     " letters in other cuts, seeks their place and softness, and has noise of its own, set by"
     " published letter reading (person) or by a general text recogniser (machine); the share in"
     " which every character is right is the probability. Detection and faces: an ideal observer"
     " (prewhitening matched filter) of repeated delivered pictures, made as poor as a person by"
     " noise of his own, with the contrast sensitivity of Barten 1999. Other things: the targeting"
     " task performance metric (TTP; Vollmerhausen and Jacobs 2004), anchored at Johnson 1958."
     " Colours: basic colour terms by CIEDE2000 to their prototypes, above guessing."),
)  # fmt: skip


def read_result(folder: Path) -> dict[str, Any]:
    """The verdict.json of a result folder.

    Raises
    ------
    InputError
        If it is no result folder.
    """
    path = folder / "verdict.json"
    if not is_file(path):
        raise InputError(
            "This is not a result of nightproof: it holds no verdict.json.",
            file=folder,
            allowed="a folder that predict, compare, sweep or another study wrote",
            fix="run the study first, or name its folder",
        )
    table = json_of(path, "verdict.json")
    if "schema_version" not in table:
        raise FileFormatError("verdict.json is not that of a result.", file=path)
    return table


def section_of(folder: Path) -> Section:
    """What the document says of a result folder.

    Raises
    ------
    InputError
        If it is no result folder.
    """
    result, file = read_result(folder), folder / "verdict.json"
    if "signal" in result:
        return _prediction(folder, Verdict.from_dict(result, file))
    check_layout(result, STUDY_LAYOUT, file, "run the study again with the files in its inputs/")
    try:
        return study_section(folder, result)
    except (KeyError, TypeError, AttributeError) as error:
        raise FileFormatError(
            "This result has another layout.",
            file=file,
            key=str(error.args[0]) if isinstance(error, KeyError) else None,
            fix="run the study again",
        ) from None


def _prediction(folder: Path, v: Verdict) -> Section:
    word, tone = WORDS[v.verdict]
    site = site_of(folder)
    why = [
        f"{capital(cause(v, row.factor))}. {limit_effect(row, v.probability, 'customer')}"
        for row in main_limits(v)[:3]
    ]
    why += said(no_single_fix(v.limits), why_marginal(v), v.messages.to_settle, density_note(v))
    pictures = []
    size = v.geometry
    about = (
        f"{v.title}: picture predicted in {v.exposure.mode} mode, a field of"
        f" {size.field_width_m:.1f} m at the target"
    )
    if (folder / "frame.png").exists():
        pictures.append(
            Picture(data_uri(folder / "frame.png"), about, "What the camera will show (predicted).")
        )
    if (folder / "target.png").exists():
        alt = f"The {target_words(v)} enlarged, every pixel of the camera shown as a square"
        pictures.append(
            Picture(
                data_uri(folder / "target.png", 900), alt, f"The {target_words(v)}, pixel by pixel."
            )
        )
    return Section(
        f"{v.title}; camera {v.camera}",
        v.question,
        word,
        tone,
        customer_sentence(v) if v.sentences is None else v.sentences.customer,
        engineer_sentence(v),
        pictures,
        why,
        changes(v, MOST_CHANGES, LEAST_GAIN),
        list(v.conditions),
        list(v.cautions),
        list(v.messages.cautions),
        _prediction_tables(v),
        origin(v.to_dict()),
        inputs(folder),
        None if site is None else plan_picture(site),
        [] if site is None else [parts_table(site), settings_table(site, v)],
    )


def _together(row: Limit) -> str:
    """With which others a limit must be fixed, and the probability then."""
    others = [IMPAIRMENTS[name].noun for name in row.together_with]
    return f"{listed(others)}: P {row.probability_together:.2f}" if others else ""


def _prediction_tables(v: Verdict) -> list[Table]:
    t = v.target
    rows = [[label, text] for label, text in figure_rows(v, "document")]
    rows.append(["What is left of it in the picture", size_words(t)])
    tables = [Table("The target in figures", ["figure", "value"], rows)]
    limits = main_limits(v)
    if limits:
        notes = " ".join(said(cost_explained(v), helpers(v)))
        tables.append(
            Table(
                f"What limits it. {notes}",
                ["impairment", "costs, % of pictures", "P if fixed alone",
                 "P if all else is fixed", "to be fixed together with", "fixed means"],
                [
                    [
                        IMPAIRMENTS[row.factor].noun, f"{100 * row.share:.0f}",
                        f"{row.probability_without:.2f}", f"{row.probability_only:.2f}",
                        _together(row), row.meaning,
                    ]
                    for row in limits
                ],
            )
        )  # fmt: skip
    others = [row for row in v.targets if row.name != t.name]
    if others:
        tables.append(
            Table(
                "Other targets of the scene",
                ["target", "distance", "pixel density", "probability"],
                [
                    [
                        f"{row.kind} {row.name}", f"{row.distance_m:.1f} m",
                        "not visible" if row.box_px is None
                        else f"{row.pixels_per_m:.0f} px/m",
                        "" if row.probability is None else f"{row.probability:.2f}",
                    ]
                    for row in others
                ],
            )
        )  # fmt: skip
    return tables


def merged_cautions(sections: Sequence[Section]) -> list[str]:
    """Cautions of all sections, each once; heights of several cameras in one sentence."""
    heights = {m for part in sections for m in part.messages if m.id == "caution.height"}
    texts = dict.fromkeys(text for part in sections for text in part.cautions)
    if len(heights) < 2:
        return list(texts)
    values = [float(str(m.values["height_m"])) for m in heights]
    both = say(Message("caution.heights", {"low_m": min(values), "high_m": max(values)}))
    each = {say(m) for m in heights}
    return list(dict.fromkeys(both if text in each else text for text in texts))


def render(
    folders: Sequence[Path], *, title: str, client: str = "", author: str = "", day: str = "",
    logo: Path | None = None, part: Part = "whole",
) -> str:  # fmt: skip
    """The document as one HTML text that needs nothing beside it.

    Parameters
    ----------
    folders
        Result folders, in the order of the document.
    day
        Date on the title page; today's without it.
    logo
        Picture file that stands at the top.
    part
        "whole"; or "customer" alone, without the engineer's appendix, or "engineer" alone.

    Raises
    ------
    InputError
        For a folder that is no result, or a logo that is no picture.
    """
    sections = [section_of(folder) for folder in folders]
    return html_page(
        "report.html",
        title=title,
        client=client,
        author=author,
        day=day or date.today().isoformat(),
        sections=sections,
        cautions=merged_cautions(sections),
        method=METHOD,
        logo=None if logo is None else _logo(logo),
        part=part,
    )


def _logo(path: Path) -> str:
    try:
        return data_uri(path, LOGO_PX)
    except (OSError, ValueError):
        raise InputError(
            "The logo is not a picture that can be read.", argument="logo", file=path,
            allowed="a PNG, JPEG, WebP or GIF file",
        ) from None  # fmt: skip


def write_report(path: Path, text: str) -> Path:
    """Write the document, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    with whole_file(path, "The report cannot be written here.", parents=True) as part:
        part.write_text(text, encoding="utf-8")
    return path


def check_pdf() -> None:
    """Say so before the work where no PDF can be written.

    Raises
    ------
    InputError
        If WeasyPrint (the extra `pdf`) is not installed.
    """
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError):
        raise InputError(
            "PDF needs WeasyPrint and its libraries, which are not installed.",
            argument="pdf",
            allowed='the extra: pip install "nightproof[pdf]"',
            fix="install the extra, or print the HTML file from a browser",
        ) from None


def write_pdf(path: Path, text: str) -> Path:
    """Write the document as PDF.

    Raises
    ------
    InputError
        If WeasyPrint (the extra `pdf`) is not installed.
    OutputError
        If it cannot be written there.
    """
    check_pdf()
    import weasyprint

    with whole_file(path, "The PDF cannot be written here.", parents=True) as part:
        weasyprint.HTML(string=text, url_fetcher=_fetcher()).write_pdf(str(part))
    return path


def _fetcher() -> Any:
    """Fetches what the document itself holds, and nothing from a disk or a network."""
    import weasyprint.urls

    made = getattr(weasyprint.urls, "URLFetcher", None)
    return _only_inside if made is None else made(allowed_protocols=("data",))


def _only_inside(url: str, *_options: Any, **_more: Any) -> Any:
    """The same for versions of WeasyPrint whose fetchers are plain functions."""
    import weasyprint

    if not url.startswith("data:"):
        raise ValueError("a document holds all that it shows")
    return weasyprint.default_url_fetcher(url)
