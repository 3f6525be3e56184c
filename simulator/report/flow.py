"""A page laid out by flow: blocks of words, rows and bars, one below the other, column by column.

Every block knows its height at a width, so that rows are placed by what stands above them and never
by numbers of their own. What does not fit is counted and told, or goes to the next column or page.
Lengths are in inches from the upper left corner of the page; three sizes of type and two weights.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from simulator.report.fitting import POINTS_PER_IN, wrapped
from simulator.report.inks import INK, PAPER, RULE, SOFT, TRACK

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN, HEIGHT_IN = 297.0 / 25.4, 210.0 / 25.4
"""A4 landscape."""
MARGIN_IN = 12.0 / 25.4
INNER_IN = WIDTH_IN - 2.0 * MARGIN_IN
"""Width between the margins of a page in landscape."""
TITLE_PT, BODY_PT, SMALL_PT = 15.0, 9.5, 8.0
LINE = 1.25
"""Height of a line over the size of its letters."""
ASCENT = 1.0
"""How far the base line lies below the upper end of a line, over the size of its letters."""
SLACK = 0.97
"""Share of a width that lines fill at most: letters on a coarse grid of pixels run wider."""
Align = Literal["left", "right", "center"]


class Box(NamedTuple):
    """Left, top, width and height [in]."""

    left: float
    top: float
    width: float
    height: float


class Page:
    """A figure of A4, landscape or portrait, drawn on in inches from its upper left corner."""

    def __init__(self, dpi: float, *, portrait: bool = False) -> None:
        from matplotlib.figure import Figure

        self.dpi = dpi
        self.written: list[str] = []
        """Every text, whole, in the order in which it was written."""
        self.pictures: list[Box] = []
        """Where pictures lie."""
        self.size_in = (HEIGHT_IN, WIDTH_IN) if portrait else (WIDTH_IN, HEIGHT_IN)
        # a page of whole pixels, so that pictures lie on them
        self.size_px = round(self.size_in[0] * dpi), round(self.size_in[1] * dpi)
        self.figure: Figure = Figure(
            figsize=(self.size_px[0] / dpi, self.size_px[1] / dpi), dpi=dpi, facecolor=PAPER
        )

    def place(self, x: float, y: float) -> tuple[float, float]:
        """A place as shares of the figure, from its lower left corner."""
        return x * self.dpi / self.size_px[0], 1.0 - y * self.dpi / self.size_px[1]

    def text(
        self, x: float, y: float, text: str, size: float, *, bold: bool = False,
        colour: str = INK, align: Align = "left",
    ) -> None:  # fmt: skip
        """Write lines, each on its own base line, the first one's upper end at y."""
        self.written.append(text.replace("\n", " "))
        for k, line in enumerate(text.splitlines()):
            self.figure.text(
                *self.place(x, y + k * line_in(size) + ASCENT * size / POINTS_PER_IN), line,
                size=size, color=colour, ha=align, va="baseline",
                weight="bold" if bold else "normal", parse_math=False,
            )  # fmt: skip

    def rectangle(self, box: Box, colour: str | None, edge: str | None = None) -> None:
        """Fill a box, or draw its edge."""
        from matplotlib.patches import Rectangle

        (x0, y0), (x1, y1) = (
            self.place(box.left, box.top + box.height), self.place(box.left + box.width, box.top)
        )  # fmt: skip
        self.figure.add_artist(
            Rectangle(
                (x0, y0), x1 - x0, y1 - y0, facecolor=colour or "none", edgecolor=edge or "none",
                linewidth=1.2,
            )
        )  # fmt: skip

    def line(self, x0: float, y0: float, x1: float, y1: float, colour: str, points: float) -> None:
        """Draw a straight line of a width [pt]."""
        from matplotlib.lines import Line2D

        (left, a), (right, b) = self.place(x0, y0), self.place(x1, y1)
        self.figure.add_artist(
            Line2D([left, right], [a, b], color=colour, linewidth=points, solid_capstyle="butt")
        )

    def picture(self, x: float, y: float, pixels: NDArray[np.uint8]) -> Box:
        """Lay a picture down pixel by pixel with its upper left corner at a place."""
        rows, columns = pixels.shape[:2]
        left = round(x * self.dpi)
        low = self.size_px[1] - round(y * self.dpi) - rows
        self.figure.figimage(pixels, xo=left, yo=low, origin="upper")
        self.pictures.append(Box(x, y, columns / self.dpi, rows / self.dpi))
        return self.pictures[-1]

    def axes(self, box: Box) -> Axes:
        """Axes for a drawing in a box."""
        left, low = self.place(box.left, box.top + box.height)
        right, top = self.place(box.left + box.width, box.top)
        return self.figure.add_axes((left, low, right - left, top - low))

    def foot(self, text: str) -> float:
        """Write the foot of the page; returns where it begins."""
        width = self.size_in[0] - 2.0 * MARGIN_IN
        words = Words(text, SMALL_PT, colour=SOFT)
        top = self.size_in[1] - MARGIN_IN - words.height(width)
        words.draw(self, MARGIN_IN, top, width)
        return top


class Block(Protocol):
    """Something that is laid below what stands above it."""

    @property
    def keep(self) -> bool:
        """Whether it must not be the last of a column."""

    def height(self, width: float) -> float:
        """Its height at a width, the gap below it included [in]."""

    def draw(self, page: Page, x: float, y: float, width: float) -> None:
        """Draw it with its upper left corner at a place."""


def line_in(size: float) -> float:
    """Height of a line of a size [in]."""
    return size * LINE / POINTS_PER_IN


@dataclass(frozen=True)
class Words:
    """A paragraph; words wrap and never shrink."""

    text: str
    size: float = BODY_PT
    bold: bool = False
    colour: str = INK
    gap: float = 0.03
    keep: bool = False
    align: Align = "left"

    def lines(self, width: float) -> list[str]:
        """The text in lines of a width."""
        return wrapped(self.text, SLACK * width, self.size, bold=self.bold)

    def height(self, width: float) -> float:
        """Its lines and the gap below."""
        return len(self.lines(width)) * line_in(self.size) + self.gap

    def draw(self, page: Page, x: float, y: float, width: float) -> None:
        """Write it."""
        at = {"left": x, "right": x + width, "center": x + width / 2.0}[self.align]
        text = "\n".join(self.lines(width))
        page.text(
            at, y, text, self.size, bold=self.bold, colour=self.colour, align=self.align
        )  # fmt: skip


def heading(text: str) -> Words:
    """The title of a block of rows."""
    return Words(text, bold=True, gap=0.05, keep=True)


@dataclass(frozen=True)
class Row:
    """Cells side by side under a rule; each wraps within its share of the width."""

    cells: tuple[str, ...]
    shares: tuple[float, ...]
    right: tuple[int, ...] = ()
    """Cells that end at the right of their share, as figures do."""
    colours: tuple[str, ...] = ()
    size: float = SMALL_PT
    bold: bool = False
    rule: bool = True
    gap: float = 0.035
    keep: bool = False

    def _parts(self, width: float) -> Iterator[tuple[float, float, list[str]]]:
        left = 0.0
        for cell, share in zip(self.cells, self.shares, strict=True):
            room = width * share - (GUTTER_IN if left + width * share < width - 1e-6 else 0.0)
            yield left, room, wrapped(cell, SLACK * room, self.size, bold=self.bold)
            left += width * share

    def height(self, width: float) -> float:
        """The most lines of a cell, and the gaps about them."""
        lines = max(max(1, len(part[2])) for part in self._parts(width))
        return lines * line_in(self.size) + 2.0 * self.gap

    def draw(self, page: Page, x: float, y: float, width: float) -> None:
        """Write it, a rule above."""
        if self.rule:
            page.line(x, y, x + width, y, RULE, 0.6)
        colours = self.colours or (SOFT, *[INK] * (len(self.cells) - 1))
        for i, (left, room, lines) in enumerate(self._parts(width)):
            at, align = (x + left + room, "right") if i in self.right else (x + left, "left")
            page.text(
                at, y + self.gap, "\n".join(lines), self.size, bold=self.bold, colour=colours[i],
                align=align,  # type: ignore[arg-type]
            )  # fmt: skip


GUTTER_IN = 0.08
"""Gap between two cells."""


@dataclass(frozen=True)
class Bar:
    """One line: a name, a bar of a share, and a text behind it."""

    name: str
    share: float
    text: str
    colour: str
    names_in: float
    """Width of the names of all bars of a block."""
    texts_in: float
    size: float = SMALL_PT
    gap: float = 0.03
    keep: bool = False

    def height(self, width: float) -> float:
        """A line and the gaps about it."""
        return line_in(self.size) + 2.0 * self.gap

    def draw(self, page: Page, x: float, y: float, width: float) -> None:
        """Draw it; a share below 0 has no bar."""
        page.text(x, y + self.gap, self.name, self.size)
        left = x + self.names_in + GUTTER_IN
        room = width - self.names_in - self.texts_in - 2.0 * GUTTER_IN
        long = max(0.0, min(1.0, self.share)) * room
        high = 0.62 * line_in(self.size)
        top = y + self.gap + 0.19 * line_in(self.size)
        page.rectangle(Box(left, top, room, high), TRACK)
        page.rectangle(Box(left, top, long, high), self.colour)
        page.text(x + width, y + self.gap, self.text, self.size, align="right")


@dataclass(frozen=True)
class Gap:
    """Nothing but room."""

    room: float
    keep: bool = False

    def height(self, width: float) -> float:
        """The room."""
        return self.room

    def draw(self, page: Page, x: float, y: float, width: float) -> None:
        """Leave it empty."""


@dataclass(frozen=True)
class Chart:
    """A drawing, with room for the labels of its axes."""

    paint: Callable[[Axes], None]
    high: float
    left: float = 0.5
    """Room on its left [in]."""
    right: float = 0.0
    """Room on its right [in]."""
    below: float = 0.5
    """Room below it [in]."""
    keep: bool = False

    def height(self, width: float) -> float:
        """The drawing and the room below."""
        return self.high + self.below

    def draw(self, page: Page, x: float, y: float, width: float) -> None:
        """Draw it into axes of its own."""
        inner = width - self.left - self.right
        self.paint(page.axes(Box(x + self.left, y, inner, self.high)))


def total(blocks: Iterable[Block], width: float) -> float:
    """Height of blocks one below the other [in]."""
    return sum(block.height(width) for block in blocks)


def fitting(blocks: Sequence[Block], width: float, room: float) -> int:
    """How many of some blocks fit one below the other; none that must be followed ends them."""
    used, count = 0.0, 0
    for block in blocks:
        used += block.height(width)
        if used > room + 1e-6:
            break
        count += 1
    while count and count < len(blocks) and blocks[count - 1].keep:
        count -= 1
    return count


def stack(
    page: Page, box: Box, blocks: Sequence[Block], more: Callable[[int], Block] | None = None
) -> int:
    """Lay blocks one below the other, as many as fit.

    Parameters
    ----------
    more
        What is written last where blocks are left over, from their number.

    Returns
    -------
    Number of blocks drawn.
    """
    count = fitting(blocks, box.width, box.height)
    last: Block | None = None
    while more is not None and count < len(blocks):
        last = more(len(blocks) - count)
        if total(blocks[:count], box.width) + last.height(box.width) <= box.height or not count:
            break
        count = fitting(blocks[: count - 1], box.width, box.height)
    y = box.top
    for block in (*blocks[:count], *([last] if last else [])):
        block.draw(page, box.left, y, box.width)
        y += block.height(box.width)
    return count


@dataclass(frozen=True)
class Columns:
    """Blocks that fill column after column, page after page."""

    box: Box
    count: int
    gap: float = 0.25

    def boxes(self) -> list[Box]:
        """The columns of a page."""
        width = (self.box.width - (self.count - 1) * self.gap) / self.count
        lefts = (self.box.left + i * (width + self.gap) for i in range(self.count))
        return [self.box._replace(left=left, width=width) for left in lefts]

    def lay(self, new_page: Callable[[], Page], blocks: Sequence[Block]) -> list[Page]:
        """Lay blocks onto as many pages as they take."""
        pages: list[Page] = []
        left = list(blocks)
        while left:
            pages.append(new_page())
            before = len(left)
            for box in self.boxes():
                count = stack(pages[-1], box, left)
                del left[:count]
            if len(left) == before:  # taller than a column: drawn all the same, and seen by tests
                left[0].draw(pages[-1], self.box.left, self.box.top, self.boxes()[0].width)
                del left[0]
        return pages


def side_by_side(
    top: float, height: float, shares: Sequence[float], gap: float = Columns.gap
) -> list[Box]:
    """Boxes over the width of a page in landscape, by their shares of it."""
    room = INNER_IN - (len(shares) - 1) * gap
    out, left = [], MARGIN_IN
    for share in shares:
        out.append(Box(left, top, share * room, height))
        left += share * room + gap
    return out


def listed(title: str, texts: Iterable[str], gap: float = 0.06) -> list[Block]:
    """A title and paragraphs; nothing without paragraphs."""
    paragraphs = [Words(text, SMALL_PT, gap=gap) for text in texts]
    return [heading(title), *paragraphs] if paragraphs else []


def word_pages(dpi: float, parts: Mapping[str, Iterable[str]], count: int, foot: str) -> list[Page]:
    """Pages of titles and paragraphs in columns, with a foot."""
    blocks: list[Block] = []
    for title, texts in parts.items():
        part = listed(title, texts)
        blocks += [*part, Gap(0.12)] if part else []
    box = Box(MARGIN_IN, MARGIN_IN, INNER_IN, HEIGHT_IN - 2.0 * MARGIN_IN - 0.35)
    pages = Columns(box, count).lay(lambda: Page(dpi), blocks)
    for page in pages:
        page.foot(foot)
    return pages
