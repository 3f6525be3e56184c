"""Write docs/naming.md: every command, option, key, label and colour, and where its term is from.

    python tools/make_naming.py

Commands and options follow from the command tree, keys from the file models, labels from the
figures, colours from `report/inks.py`. A term is the trade's where a standard or the trade's own
sheets use it, a standard's where one defines it, and else ours; the lists below say which.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import ClassVar

import typer.main

from simulator.api.explaining import keys
from simulator.app.cli import app
from simulator.app.web import controls
from simulator.camera.load import Camera
from simulator.files import bundled_names
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.named_figures import FIGURES
from simulator.report import inks
from simulator.scene.load import Scene
from simulator.studies.short_names import SHORT_NAMES

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
    "ITU-T H.264, H.265": r"codec|bitrate|keyframe|quantiser",
    "IEC 62471": r"eye_safety|hazard",
    "ISO/CIE 11664": r"ciede2000|lab",
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
    r"power|lumens|watts|resolution|trials|sweep|measure|cache|predict|compare|specify|undo|redo|"
    r"tolerance|tolerances|raw|probability|interval|pixels|lighting|web|host|port|token|file|files|"
    r"read_noise|signal|level|levels|defocus|diffraction|motion|haze|fog|dirt|compression|"
    r"demosaicing|clipping|quantisation|density|electrical|efficiency|save|scale|export|open|"
    r"exposure|diameter|room|body|light|dynamic_range|length|gap|horizon|task|shadow|natural_light|"
    r"geometry|resume|copy|overwrite|start|modulation|skyglow|cloud|dark|obstruction|hash|focused|"
    r"relative_illumination|reader|phase|background|label|frame|size|use|variant|pole|settings|"
    r"specification|plan|utc_offset|sideways|logo|appendix|hours|limit|unit|glare"
)
"""Terms of the trade: what data sheets, handbooks and tools of every kind call these things."""


EXACT = {
    "Class of density": "standard: IEC 62676-4",
    "Colour shift from daylight": "standard: ISO/CIE 11664-6",
    "Fixed noise": "standard: EMVA 1288",
    "Infrared": "trade",
    "Light on the target": "trade",
    "Modulation": "standard: ISO 15529",
    "PSNR behind the codec": "trade",
    "Resolved cycles": "trade",
    "SSIM behind the codec": "trade",
    "Signal to noise": "standard: EMVA 1288",
}
"""Terms whose words alone tell the wrong origin."""


def found(pattern: str, words: str) -> bool:
    """Whether a term, its words joined by underscores, holds a pattern as whole words."""
    return re.search(rf"(?:^|_)(?:{pattern})(?:e?s)?(?:_|$)", words) is not None


def source(term: str) -> str:
    """Where a term comes from; a command's option goes by its own name."""
    if term in EXACT:
        return EXACT[term]
    own = term.rpartition(" ")[2] if "--" in term or term[-1:].isupper() else term
    words = re.sub(r"[\s-]+", "_", own.rpartition(".")[2].lower().strip("-"))
    for standard, pattern in STANDARD.items():
        if found(pattern, words):
            return f"standard: {standard}"
    return "trade" if found(TRADE.pattern, words) else "ours"


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


class _Labels(HTMLParser):
    """What the workbench's page writes on buttons, labels and heads."""

    TELLING: ClassVar[set[str]] = {"button", "h1", "h2", "label", "summary", "option"}

    def __init__(self) -> None:
        super().__init__()
        self.inside: list[str] = []
        self.found: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        """Remember what is open."""
        if tag not in ("input", "meta", "link", "img", "br"):
            self.inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Forget what is closed."""
        if tag in self.inside:
            del self.inside[len(self.inside) - 1 - self.inside[::-1].index(tag) :]

    def handle_data(self, data: str) -> None:
        """Keep the words of what tells something."""
        words = " ".join(data.split())
        if (
            any(letter.isalpha() for letter in words)
            and self.inside
            and self.inside[-1] in self.TELLING
        ):
            what = {"h1": "head", "h2": "head", "summary": "head", "option": "choice"}
            self.found.append((words, what.get(self.inside[-1], self.inside[-1])))


def page_labels() -> Iterator[tuple[str, str]]:
    """Labels of the workbench: those of its page, then those of its sliders."""
    reader = _Labels()
    reader.feed((Path(controls.__file__).parent / "static" / "index.html").read_text("utf-8"))
    yield from reader.found
    scenes = bundled_names("scenes")
    shown = [
        one
        for scene in scenes
        for one in controls.controls(Scene.load(scene), Camera.load("doorway-2mp-wide"))
        if one.key.count(".") < 2
    ]
    for one in shown:
        yield one.label, f"slider of `{one.key}`" + (f" [{one.unit}]" if one.unit else "")


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
    shorts = [(name, short.meaning) for name, short in SHORT_NAMES.items()]
    lines += table("Short names of --set", shorts)
    lines += table("What costs pictures", [(one.noun, one.cause) for one in IMPAIRMENTS])
    labels = [(f.quantity.label, f.meaning) for f in FIGURES if f.quantity.label]
    lines += table("Labels", labels)
    lines += table("Labels of the workbench", list(page_labels()))
    lines += ["", "## Colours", "", "All are ours (`simulator/report/inks.py`).", ""]
    lines += ["| Name | Value |", "|---|---|"]
    lines += [f"| `{name}` | `{value}` |" for name, value in colours()]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    TO.write_text(text(), encoding="utf-8")
