"""Write docs/naming.md: every command, option, key, label and colour, and where its term is from.

    python tools/make_naming.py

Commands and options follow from the command tree, keys from the file models, labels from the
figures, colours from `report/inks.py`. A term is the trade's where a standard or the trade's own
sheets use it, a standard's where one defines it, and else ours; the lists below say which.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import typer.main

from simulator.api.explaining import keys
from simulator.app.cli import app
from simulator.judge.named_figures import FIGURES
from simulator.report import inks

TO = Path(__file__).resolve().parents[1] / "docs" / "naming.md"
STANDARD = {
    "EMVA 1288": r"quantum_efficiency|full_well|read_noise|dark_current|prnu|dsnu|bit_depth|"
    r"saturation|snr|electrons|dark_doubling|gain_db",
    "ISO 9358": r"glare_index",
    "IEC 62676-4": r"density_class|pixels_per_m|pixel_density|detect|recognise|identify|"
    r"operational",
    "IES LM-63": r"photometry|c0_azimuth|tilt_factor",
    "SI and CIE S 017": r"illuminance|luminance|luminous|intensity|irradiance|radiant|spectrum|"
    r"reflectance|transmittance|wavelength|bandwidth|lux",
    "WMO No. 8": r"visibility|rain_mm_per_h|cloud_cover",
    "ASTM D4956": r"sheeting",
    "IEC 61966-2-1, ITU-R BT.709": r"tone|gamma|black_level",
    "ITU-T H.264, H.265": r"codec|bitrate|keyframe",
    "IEC 62471": r"eye_safety|hazard",
}
"""Standards by the terms that they define, as patterns of the last part of a key."""
TRADE = re.compile(
    r"camera|lens|focal|f_number|focus|aperture|iris|shutter|gain|metering|window|backlight|"
    r"highlight|sensor|pixel|width_px|height_px|pitch|mount|image_circle|distortion|aberration|"
    r"infrared|illuminator|lamp|beam|dimming|flicker|mains|day|night|wide_range|exposures|ratio|"
    r"knee|claimed|noise|sharpening|white_balance|colou?r|contrast|frame_rate|frames|stream|"
    r"processing|defect|blooming|smear|rolling|line_time|hot_pixel|temperature|dome|cover|price|"
    r"height|position|distance|aim|speed|heading|facing|tilt|bearing|plate|face|person|vehicle|"
    r"sign|parcel|chart|text|material|gate|wall|ground|surface|target|scene|station|"
    r"width|depth|hysteresis|priority|latitude|longitude|date|time|altitude|azimuth|moon|sun|"
    r"headlights|tail_lamps|paint|glasses|headwear|hair|skin|pose|air|kind|name|title|question|"
    r"seed|out|json|help|version|year|place|timezone|site|report|survey|calendar|schema|list|"
    r"workers|cluster|pdf|client|author|mode|tv_lines|saturation|delay|clipped|blur|budget|"
    r"power|lumens|watts|resolution|trials"
)
"""Terms of the trade: what data sheets, handbooks and tools of every kind call these things."""


def source(term: str) -> str:
    """Where a term comes from."""
    last = term.rpartition(".")[2].lower().strip("-").replace("-", "_")
    for standard, pattern in STANDARD.items():
        if re.search(pattern, last):
            return f"standard: {standard}"
    return "trade" if TRADE.search(last) else "ours"


def commands() -> Iterator[tuple[str, str]]:
    """Every command and option, and what its help says."""
    root = typer.main.get_command(app)

    def walk(command: object, words: str) -> Iterator[tuple[str, str]]:
        for one in getattr(command, "params", []):
            if one.name in ("help", "install_completion", "show_completion"):
                continue
            name = next((o for o in one.opts if o.startswith("--")), str(one.name).upper())
            yield f"{words} {name}".strip(), getattr(one, "help", "") or ""
        for name, inner in sorted(getattr(command, "commands", {}).items()):
            yield f"{words} {name}".strip(), inner.get_short_help_str(90)
            yield from walk(inner, f"{words} {name}".strip())

    yield from walk(root, "")


def table(head: str, rows: list[tuple[str, str]]) -> list[str]:
    """A table of terms with their sources."""
    lines = ["", f"## {head}", "", "| Term | From | Meaning |", "|---|---|---|"]
    for term, meaning in dict(rows).items():
        told = " ".join(meaning.replace("|", "\\|").split())
        lines.append(f"| `{term}` | {source(term)} | {told} |")
    return lines


def colours() -> list[tuple[str, str]]:
    """Names and values of the inks."""
    return [
        (name, value)
        for name, value in vars(inks).items()
        if name.isupper() and isinstance(value, str) and value.startswith("#")
    ]


def text() -> str:
    """The whole page."""
    lines = [
        "# Names and where they come from",
        "",
        "Written by `tools/make_naming.py` from the command tree, the file models, the figures and"
        ' the inks. "trade" is what',
        'data sheets and handbooks call a thing, "standard" a term that the named standard'
        ' defines (from memory), "ours" a word',
        "that we chose because neither has one. No name, label, layout or colour is taken from"
        " another program.",
        *table("Commands and options", list(commands())),
    ]
    for where in ("scene", "camera", "site", "verdict.json"):
        rows = [(one.key, one.meaning) for one in keys() if one.where == where]
        lines += table(f"Keys of {where}", rows)
    labels = [(f.quantity.label, f.meaning) for f in FIGURES if f.quantity.label]
    lines += table("Labels", labels)
    lines += ["", "## Colours", "", "All are ours (`simulator/report/inks.py`).", ""]
    lines += ["| Name | Value |", "|---|---|"]
    lines += [f"| `{name}` | `{value}` |" for name, value in colours()]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    TO.write_text(text(), encoding="utf-8")
