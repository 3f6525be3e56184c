"""What results of the public functions have in common: how they show and save themselves."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple, Self

import numpy as np
from numpy.typing import NDArray
from PIL import Image as PillowImage

from simulator.report.wording import digits

if TYPE_CHECKING:
    from xarray import Dataset

MOST_ROWS = 12
"""Rows of a table that are shown; `table()` holds them all."""
WIDEST_PX = 720


class Picture(np.ndarray):
    """An eight-bit picture (rows, columns, 3) that shows itself in a notebook; else an array."""

    @classmethod
    def of(cls, array: NDArray[np.uint8]) -> Picture:
        """A view of an array as a picture."""
        return np.asarray(array, np.uint8).view(cls)

    def _repr_png_(self) -> bytes | None:
        if self.ndim != 3 or self.shape[2] != 3 or not self.size:
            return None  # a part of the array that is no picture any more
        return png_bytes(self)


def png_bytes(picture: NDArray[np.uint8]) -> bytes:
    """A picture (rows, columns, 3) as the bytes of a PNG file.

    Examples
    --------
    >>> import numpy as np
    >>> png_bytes(np.zeros((4, 6, 3), np.uint8))[1:4]
    b'PNG'
    """
    out = io.BytesIO()
    PillowImage.fromarray(np.ascontiguousarray(picture)).save(out, "PNG")
    return out.getvalue()


class Shown:
    """A result of a public function: what the study found, and how it is shown."""

    @classmethod
    def of(cls, result: Any) -> Self:
        """The same result, able to show itself."""
        return cls(**vars(result))

    def _repr_html_(self) -> str:
        heading, sentence = self._said()
        parts = [f"<p><b>{escape(heading)}</b><br>{escape(sentence)}</p>"]
        rows = self._rows()
        if rows:
            parts.append(html_table(rows[:MOST_ROWS]))
        if len(rows) > MOST_ROWS:
            parts.append(f"<p>{len(rows) - MOST_ROWS} more rows in table()</p>")
        parts += [html_picture(picture, alt) for alt, picture in self._pictures().items()]
        return f"<div>{''.join(parts)}</div>"

    def _said(self) -> tuple[str, str]:
        """Heading and sentence."""
        raise NotImplementedError

    def table(self) -> list[dict[str, Any]]:
        """Rows that pandas takes."""
        raise NotImplementedError

    _COLUMNS: ClassVar[tuple[str, ...]] = ()
    """Columns of the table that are shown; all of them if none is named."""

    def _rows(self) -> Sequence[Mapping[str, Any]]:
        """Rows of the table that is shown."""
        rows = self.table()
        return (
            [{name: row[name] for name in self._COLUMNS} for row in rows] if self._COLUMNS else rows
        )

    def _pictures(self) -> Mapping[str, NDArray[np.uint8]]:
        """Pictures that are shown, by what stands for them."""
        return {}


class Report(NamedTuple):
    """What a study says of its result: verdict.json as a table, and the writer of its folder."""

    table: Callable[[Any], dict[str, Any]]
    write: Callable[[Path, Any], object]


class Reported(Shown):
    """The result of a study, with its verdict.json and its folder."""

    def _report(self) -> Report:
        """Where its words and files are made; imported here, when they are asked for."""
        raise NotImplementedError

    def to_dict(self) -> dict[str, Any]:
        """What verdict.json holds of it.

        Returns
        -------
        dict
            Plain dictionaries, lists, numbers and texts.
        """
        return self._report().table(self)

    def save(self, folder: str | Path) -> Path:
        """Write what the command writes, with the inputs and verdict.json, whole or not at all.

        Parameters
        ----------
        folder
            A new folder, an empty one, or an earlier result, whose files are replaced.

        Returns
        -------
        pathlib.Path
            The folder.

        Raises
        ------
        OutputError
            If it cannot be written there.
        """
        self._report().write(Path(folder), self)
        return Path(folder)

    def _said(self) -> tuple[str, str]:
        record = self.to_dict()
        return record["title"], record["answer"]


class Labelled(Reported):
    """The result of a study over labelled axes."""

    def _dataset(self) -> Dataset:
        """Its arrays; made when they are asked for."""
        raise NotImplementedError

    def to_xarray(self) -> Dataset:
        """Figures over the axes of the study, after the CF conventions.

        Returns
        -------
        xarray.Dataset
            Units, long names and the version in attributes; names without dots.
        """
        return self._dataset()


def html_table(rows: Sequence[Mapping[str, Any]]) -> str:
    """Rows as an HTML table, numbers to three digits.

    Examples
    --------
    >>> html_table([{"lux": 0.3, "verdict": "legible"}])
    '<table><tr><th>lux</th><th>verdict</th></tr><tr><td>0.3</td><td>legible</td></tr></table>'
    """
    head = "".join(f"<th>{escape(str(name))}</th>" for name in rows[0])
    body = "".join(
        f"<tr>{''.join(f'<td>{escape(_cell(value))}</td>' for value in row.values())}</tr>"
        for row in rows
    )
    return f"<table><tr>{head}</tr>{body}</table>"


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float | np.floating):
        return digits(float(value))
    return str(value)


def html_picture(picture: NDArray[np.uint8], alt: str) -> str:
    """A picture (rows, columns, 3) inside the HTML text itself."""
    text = base64.b64encode(png_bytes(picture)).decode()
    style = f"max-width:min(100%,{WIDEST_PX}px);image-rendering:pixelated"
    return f'<img src="data:image/png;base64,{text}" alt="{escape(alt)}" style="{style}">'
