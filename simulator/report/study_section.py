"""What the document says of a study: its own words, tables and pictures."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from simulator.messages import Message
from simulator.reading import is_file
from simulator.report.section import WORDS, Picture, Section, Table, data_uri, inputs, origin
from simulator.report.wording import percent

WIDEST_PX = 1700
_STUDY_PICTURES = {
    "chart.png": "Chart of the study; its figures stand in the files beside it",
    "strip.png": "Strip of pictures along the first axis",
    "course.png": "Course of shutter, gain and level over time",
    "sheet.png": "Sheet of the study",
    "map.png": "Map of the study",
    "plan.png": "Plan of the site",
}


def study_section(folder: Path, v: Mapping[str, Any]) -> Section:
    """Section of a study's result folder.

    The pictures are those that its verdict.json lists under `pictures` (file, alt, caption, wide),
    else all of the folder.
    """
    name = str(v.get("study", "comparison"))
    title = str(v.get("title") or f"{name.capitalize()}: {v.get('scene', folder.name)}")
    tables = [
        Table(row["caption"], list(row["head"]), [[str(c) for c in r] for r in row["rows"]])
        for row in v.get("tables", [])
    ]
    if "scenes" in v and not tables:
        tables = _comparison_tables(v)
    orders = []
    if name == "survey" and v.get("positions"):
        orders = [_verdicts(v)]
    elif name == "sweep":
        orders, tables = tables[:1], tables[1:]
    plan = None
    changes = [str(x) for x in v.get("changes", [])]
    drawn = folder / str(v.get("plan"))
    if name == "specify" and is_file(drawn) and _inside(drawn, folder):
        alt = f"Plan and side view: {title}"
        plan = Picture(data_uri(drawn, WIDEST_PX), alt, "Where it is mounted.", wide=True)
        own = [table for table in tables if table.caption.startswith(f"{v['ways'][0]['title']}: ")]
        orders, tables = own, [table for table in tables if table not in own]
        changes = changes[1:]
    return Section(
        title, str(v.get("question", "")), "", WORDS.get(str(v.get("verdict")), ("", ""))[1],
        str(v.get("answer", "")), str(v.get("engineer", "")), _pictures(folder, v, name, title),
        [str(x) for x in v.get("why", [])], changes,
        [str(x) for x in v.get("conditions", v.get("held_fixed", []))],
        [str(x) for x in v.get("cautions", [])],
        [Message.from_row(row) for row in v.get("messages", {}).get("cautions", [])],
        tables, origin(v), inputs(folder), plan, orders,
        "Other ways" if name == "specify" else "What to change",
    )  # fmt: skip


def _inside(path: Path, folder: Path) -> bool:
    """Whether a file lies in a folder, wherever links lead."""
    return path.resolve().is_relative_to(folder.resolve())


def _verdicts(v: Mapping[str, Any]) -> Table:
    """Every position of a survey with its answer at its worst hour."""
    return Table(
        "Every position at its worst hour, the greatest risk first",
        ["position", "answer", "success", "target"],
        [
            [
                row["name"], WORDS[row["worst"]["verdict"]][0],
                percent(row["worst"]["probability"]), percent(row["wanted_probability"]),
            ]
            for row in v["positions"]
        ],
    )  # fmt: skip


def _pictures(folder: Path, v: Mapping[str, Any], name: str, title: str) -> list[Picture]:
    listed = [
        row
        for row in v.get("pictures", [])
        if is_file(folder / row["file"]) and _inside(folder / row["file"], folder)
    ]
    if listed:
        return [
            Picture(
                data_uri(folder / row["file"], WIDEST_PX), f"{row['alt']}: {title}", row["caption"],
                bool(row.get("wide")),
            )
            for row in listed
        ]  # fmt: skip
    known = [n for n in _STUDY_PICTURES if (folder / n).exists()]
    known += [p.name for p in sorted(folder.glob("*.png")) if p.name not in _STUDY_PICTURES]
    return [
        Picture(
            data_uri(folder / n, WIDEST_PX),
            f"{_STUDY_PICTURES.get(n, f'{name} of {n[:-4]}')}: {title}", "",
            n in _STUDY_PICTURES,
        )
        for n in known
    ]  # fmt: skip


def _comparison_tables(v: Mapping[str, Any]) -> list[Table]:
    return [
        Table(
            f"{row['title']}: rank by probability, target {row['wanted_probability']:.2f}",
            ["camera", "rank", "verdict", "probability", "interval"],
            [
                [
                    s["camera"], f"{s['rank']}{' (tie)' if s['tied'] else ''}", s["verdict"],
                    f"{s['probability']:.2f}",
                    f"{s['probability_low']:.2f} to {s['probability_high']:.2f}",
                ]
                for s in row["standings"]
            ],
        )
        for row in v["scenes"]
    ]  # fmt: skip
