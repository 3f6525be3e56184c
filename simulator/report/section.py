"""What the document says of one result: section, picture, table."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from PIL import Image as PillowImage

from simulator.messages import Message
from simulator.reading import text_of
from simulator.report.wording.verdict import yes_or_no

WIDEST_PX = 1500
JPEG_QUALITY = 90
TONES = {"legible": "good", "marginal": "fair", "not legible": "poor"}
WORDS = {word: (yes_or_no(word), tone) for word, tone in TONES.items()}
"""Word and tone of the answer by verdict."""


@dataclass(frozen=True)
class Picture:
    """A picture inside the document, with the text that stands for it."""

    uri: str
    alt: str
    caption: str
    wide: bool = False
    """Whether it takes the whole width of a page, as charts with small text do."""


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
    messages: list[Message]
    """Cautions that are known by their identity."""
    tables: list[Table]
    origin: str
    inputs: list[tuple[str, str]] = field(default_factory=list)
    plan: Picture | None = None
    """Plan and side view of what is mounted."""
    orders: list[Table] = field(default_factory=list)
    """Tables for who buys and mounts: parts and settings."""
    changes_title: str = "What to change"


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


def origin(v: Mapping[str, Any]) -> str:
    """Scene, camera, seed and versions in a line."""
    parts = [f"{key} {v[key]}" for key in ("scene", "camera", "seed", "input_hash") if key in v]
    if isinstance(v.get("versions"), Mapping):
        parts += [f"{k} {x}" for k, x in v["versions"].items()]
    return "; ".join(parts)


def inputs(folder: Path) -> list[tuple[str, str]]:
    """Name and text of the input files of a result."""
    inner = folder / "inputs"
    if not inner.is_dir() or inner.is_symlink():
        return []
    # a link could name any file of this computer, which would then stand in a customer's document
    own = [p for p in sorted(inner.glob("*.toml")) if p.is_file() and not p.is_symlink()]
    return [(p.name, text_of(p, "input")) for p in own]
