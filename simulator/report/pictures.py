"""Pictures on disk: PNG with its origin written inside, TIFF for measurements."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image as PillowImage
from PIL.PngImagePlugin import PngInfo

from simulator.errors import OutputError
from simulator.judge.result import Verdict

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TARGET_WIDTH_PX = 960
ROOM_SHARE = 0.35
QUICK_PNG: dict[str, Any] = {"compress_level": 1}
"""Options of the PNG writer: an eighth larger than at its usual level, in a third of the time."""


def save_figure(figure: Figure, path: Path, **options: Any) -> None:
    """Write a drawing, as a PNG unless `format` says otherwise.

    Parameters
    ----------
    options
        As `Figure.savefig` takes them.
    """
    as_texts(figure)
    options.setdefault("format", "png")
    figure.savefig(path, **options)


def as_texts(figure: Figure) -> None:
    """Let titles and names be drawn as they stand: a dollar sign begins no formula.

    Numbers of logarithmic axes are formulas of matplotlib's own.
    """
    from matplotlib.axes import Axes
    from matplotlib.text import Text

    numbers = {
        id(label)
        for axes in figure.findobj(Axes)
        for axis in (axes.xaxis, axes.yaxis)
        for label in axis.get_ticklabels(which="both")
    }
    for text in figure.findobj(Text):
        if id(text) not in numbers:
            text.set_parse_math(False)


def origin_text(result: Verdict | Mapping[str, Any]) -> dict[str, str]:
    """What is written into every picture: seed, versions, hash of the inputs.

    Parameters
    ----------
    result
        A verdict, or the table of another study's verdict.json.
    """
    table = result.to_dict() if isinstance(result, Verdict) else result
    return {
        "Software": f"nightproof {table['versions']['nightproof']}",
        "Title": str(table["title"]),
        "Comment": (
            f"scene {table['scene']}; camera {table['camera']}; seed {table['seed']};"
            f" inputs {table['input_hash']}; "
            + ", ".join(f"{k} {v}" for k, v in table["versions"].items())
        ),
    }


def write_png(path: Path, picture: NDArray[np.uint8], text: dict[str, str]) -> None:
    """Write an eight-bit RGB picture with text chunks."""
    info = PngInfo()
    for key, value in text.items():
        info.add_itxt(key, value)
    PillowImage.fromarray(np.ascontiguousarray(picture)).save(path, pnginfo=info, **QUICK_PNG)


def refuse_foreign_picture(path: Path) -> None:
    """Make sure that a picture overwrites nothing but an earlier picture of ours.

    Raises
    ------
    OutputError
        If something else is in the way.
    """
    if not path.exists():
        return
    try:
        with PillowImage.open(path, formats=["PNG"]) as picture:
            ours = str(picture.info.get("Software", "")).startswith("nightproof")
    except (OSError, ValueError, SyntaxError):
        ours = False
    if not ours:
        raise OutputError(
            "Something else is in the way, which stays untouched.",
            file=path,
            given="a folder" if path.is_dir() else "a file that is no picture of nightproof",
            allowed="a new file, or an earlier picture of nightproof",
            fix="name another file with --out",
        )


def target_window(
    box_px: tuple[int, int, int, int], shape: tuple[int, int], share: float = ROOM_SHARE
) -> tuple[int, int, int, int]:
    """The target's box with a share of room around it, inside a picture (rows, columns)."""
    x0, y0, x1, y1 = box_px
    room = round(share * max(x1 - x0, 2 * (y1 - y0)) / 2) + 4
    return (
        max(0, x0 - room),
        max(0, y0 - room),
        min(shape[1], x1 + room),
        min(shape[0], y1 + room),
    )


def scaled(picture: NDArray[np.uint8], factor: float) -> NDArray[np.uint8]:
    """A picture with its pixels repeated so often, or put together by area below 1."""
    rows, columns = picture.shape[:2]
    if factor >= 1.0:
        k = round(factor)
        return np.repeat(np.repeat(picture, k, axis=0), k, axis=1)
    size = (max(1, round(columns * factor)), max(1, round(rows * factor)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def enlarged(frame: NDArray[np.uint8], box_px: tuple[int, int, int, int]) -> NDArray[np.uint8]:
    """The target with room around it, whole pixels repeated so that every pixel can be seen."""
    x0, y0, x1, y1 = target_window(box_px, (frame.shape[0], frame.shape[1]))
    part = frame[y0:y1, x0:x1]
    factor = max(1, round(TARGET_WIDTH_PX / part.shape[1]))
    size = (part.shape[1] * factor, part.shape[0] * factor)
    return np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_NEAREST), dtype=np.uint8)
