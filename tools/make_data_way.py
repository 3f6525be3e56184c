"""Draw docs/data-way.svg: the rooms of the house from top to bottom, and what goes from one to the
next. Run it after a room or what it hands on has changed; a test does the same and compares.
"""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import NamedTuple

PICTURE = Path(__file__).parents[1] / "docs" / "data-way.svg"
WIDTH, ROW, GAP, TOP = 1120, 62, 42, 52
LEFT, MIDDLE, RIGHT = 16, 274, 764
MIDDLE_WIDTH, RIGHT_WIDTH = 424, 340
"""Sizes and columns in units of the picture, which are pixels of a screen."""
INK, SOFT, EDGE, FILL, ARROW = "#1b2026", "#5b6570", "#7f95a6", "#eef3f7", "#1f5f8b"


class Room(NamedTuple):
    """A room: what it does, what comes in from outside, its registries, and what it hands down."""

    name: str
    does: str
    inputs: str
    records: str
    gives: str


MAIN = (
    Room("light", "spectra, lamps, sky, sun and moon, flicker",
         "data/: spectra", "SPECTRUM_KINDS",
         "Spectrum, LightSource [lx or W/m²]"),
    Room("scene", "scene file checked; cards, materials, air; rays traced",
         "scene.toml, light profiles", "materials",
         "World; how much of every light reaches a pixel"),
    Room("camera", "lens, exposure, sensor, processing, stream",
         "camera.toml, lens profiles", "",
         "CameraInScene, State; light [e⁻/s]; frames [8 bit]"),
    Room("judge", "readers, people, colours; what limits them",
         "", "IMPAIRMENTS, FIGURES",
         "Verdict: probability, figures, limits, messages"),
    Room("studies", "session, predict, quick, sweep, remedies, lighting",
         "values to set, keys to sweep", "LEVERS, LESSONS",
         "results: verdicts, tables, pictures, messages"),
    Room("report", "words made last; sheets, charts, document",
         "catalogue and templates of words", "",
         "result folder: pictures, sheet, verdict.json, tables"),
)  # fmt: skip
BENCH = Room("bench", "a camera before charts", "", "", "")
API = Room("api", "the studies as functions", "", "", "")
APP = Room("app", "commands, one file each", "", "", "")
BENCH_ROW, API_ROW, APP_ROW = 3, 5, 6


def text(x: float, y: float, words: str, size: int, colour: str, **more: str) -> str:
    """A line of words."""
    style = "".join(f' {key.replace("_", "-")}="{value}"' for key, value in more.items())
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size}" fill="{colour}"{style}>'
        f"{escape(words)}</text>"
    )


def arrow(points: str, colour: str) -> str:
    """A line through points, with a head at its end."""
    head = "blue" if colour == ARROW else "grey"
    return (
        f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="2"'
        f' marker-end="url(#{head})"/>'
    )


def box(x: float, y: float, width: float, room: Room) -> list[str]:
    """A room with its name and what it does."""
    return [
        f'<rect x="{x}" y="{y}" width="{width}" height="{ROW}" rx="4" fill="{FILL}"'
        f' stroke="{EDGE}"/>',
        text(x + 16, y + 26, f"{room.name}/", 18, INK, font_weight="bold"),
        text(x + 16, y + 48, room.does, 14, SOFT),
        text(x + width - 14, y + 26, room.records, 14, INK, text_anchor="end"),
    ]


def row_y(i: int) -> float:
    """Upper end of a room of the main way."""
    return TOP + i * (ROW + GAP)


def main_way() -> list[str]:
    """The rooms from top to bottom, and what goes from each to the next."""
    out = []
    for i, room in enumerate(MAIN):
        y = row_y(i)
        out += box(MIDDLE, y, MIDDLE_WIDTH, room)
        if room.inputs:
            out.append(text(LEFT, y + 24, room.inputs, 14, INK))
            out.append(arrow(f"{LEFT},{y + 36} {MIDDLE - 3},{y + 36}", EDGE))
        x = MIDDLE + 40
        out.append(arrow(f"{x},{y + ROW} {x},{y + ROW + GAP - 3}", ARROW))
        out.append(text(x + 14, y + ROW + 27, room.gives, 14, ARROW))
    return out


def side_way() -> list[str]:
    """Bench beside the main way; the doors of Python and of the command line."""
    edge, x = MIDDLE + MIDDLE_WIDTH, RIGHT + 170
    bench, studies = row_y(BENCH_ROW), row_y(BENCH_ROW + 1)
    api, app, camera = row_y(API_ROW), row_y(APP_ROW), row_y(BENCH_ROW - 1) + ROW / 2
    left, width = RIGHT + 48, RIGHT_WIDTH - 96
    return [
        *box(left, bench, width, BENCH),
        arrow(f"{edge},{camera} {x},{camera} {x},{bench - 3}", ARROW),
        arrow(f"{x},{bench + ROW} {x},{studies + 18} {edge + 3},{studies + 18}", ARROW),
        text(edge + 16, studies + 10, "measured response", 14, ARROW),
        *box(left, api, width, API),
        arrow(f"{x},{api} {x},{studies + ROW - 18} {edge + 3},{studies + ROW - 18}", EDGE),
        text(edge + 16, studies + ROW - 2, "what is asked for", 14, INK),
        arrow(f"{left},{api + ROW / 2} {edge + 3},{api + ROW / 2}", EDGE),
        text(edge + 10, api + ROW / 2 - 8, "save", 14, INK),
        *box(left, app, width, APP),
        arrow(f"{x},{app} {x},{api + ROW + 3}", EDGE),
        text(left, app + ROW + 24, "command line, and what it prints", 14, SOFT),
    ]


def drawn() -> str:
    """The picture as the text of an SVG file."""
    height = row_y(APP_ROW) + ROW + 40
    heads = "".join(
        f'<marker id="{name}" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="6"'
        f' markerHeight="6" orient="auto"><path d="M 0 0 L 10 5 L 0 10 z" fill="{colour}"/>'
        "</marker>"
        for name, colour in (("blue", ARROW), ("grey", EDGE))
    )
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:g}"'
        ' font-family="DejaVu Sans, Verdana, sans-serif">',
        "<title>The way of the data through the rooms of the house</title>",
        f"<defs>{heads}</defs>",
        f'<rect width="{WIDTH}" height="{height:g}" fill="#ffffff"/>',
        text(LEFT, 28, "from outside", 14, SOFT),
        text(MIDDLE, 28, "rooms, each importing only from rooms above it", 14, SOFT),
        text(MIDDLE + MIDDLE_WIDTH - 14, 28, "registries", 14, SOFT, text_anchor="end"),
        *main_way(),
        *side_way(),
    ]
    return "\n".join([*parts, "</svg>\n"])


if __name__ == "__main__":
    PICTURE.write_text(drawn(), encoding="utf-8")
