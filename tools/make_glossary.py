"""Write those rows of docs/glossary.md that follow from registries: figures, impairments, levers
and kinds of spectra.

Rows of figures are renewed where they stand; tables of the other registries stand between two
comments and are written whole. Run it after a registry has changed; a test does the same and
compares.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from simulator.judge.impairments import IMPAIRMENTS, TASKS, Impairment
from simulator.judge.named_figures import FIGURES, Figure
from simulator.light.spectrum_kinds import SPECTRUM_KINDS
from simulator.report.wording import say_all
from simulator.studies.remedies.levers import LEVERS

GLOSSARY = Path(__file__).parents[1] / "docs" / "glossary.md"


def row(*cells: str) -> str:
    """One row of a table in Markdown."""
    return "|" + "|".join(f" {cell} " if cell else " " for cell in cells) + "|"


def table(head: Iterable[str], rows: Iterable[str]) -> str:
    """A table in Markdown."""
    cells = list(head)
    return "\n".join([row(*cells), "|" + "---|" * len(cells), *rows])


def figure_row(figure: Figure) -> str:
    """The row of a figure: name, symbol and unit, meaning, where it is computed."""
    q = figure.quantity
    unit = ", ".join(part for part in (q.symbol, "" if q.unit == "1" else q.unit) if part)
    return row(f"`{figure.name}`", unit, figure.meaning, q.source)


def tasks_of(record: Impairment) -> str:
    """Tasks that an impairment can spoil, in few words."""
    others = sorted(TASKS - record.tasks)
    if len(others) > 1:
        return ", ".join(sorted(record.tasks))
    return f"all but {others[0]}" if others else "all"


def impairments() -> str:
    """The table of impairments."""
    rows = [
        (r.name, r.noun, tasks_of(r), r.meaning, r.advice, "judge/impairments") for r in IMPAIRMENTS
    ]
    head = ("Name", "What it is", "Tasks", "Removed, it means", "What is commonly done", "Where")
    return table(head, (row(*cells) for cells in rows))


def levers() -> str:
    """The table of levers."""
    everything = set(IMPAIRMENTS.names())
    rows = [
        (
            kind.name.format(of="..."), kind.unit, kind.effort.name.lower(),
            "anything" if kind.helps == everything else ", ".join(sorted(kind.helps)),
            "; ".join(say_all(kind.side_effects)), "studies/remedies/levers",
        )
        for kind in LEVERS
    ]  # fmt: skip
    head = ("Lever", "Unit", "Effort", "Acts on", "Brings with it", "Where")
    return table(head, (row(*cells) for cells in rows))


def spectra() -> str:
    """The table of kinds of spectra."""
    return table(
        ("Written", "What it is", "Usual flicker", "Where"),
        (
            row(
                ", ".join(f"`{form}`" for form in kind.form.split(", ")), kind.help,
                f"{kind.flicker_depth:g}" if kind.flicker_depth else "", "light/spectrum_kinds",
            )
            for kind in SPECTRUM_KINDS
        ),
    )  # fmt: skip


TABLES = {"impairments": impairments, "levers": levers, "kinds of spectra": spectra}


def renewed(text: str) -> str:
    """The glossary with the rows and tables that follow from registries.

    A figure without a row gets one below the figure before it.

    Raises
    ------
    SystemExit
        For a table without its comments.
    """
    head, mark, rest = text.partition("\n## Impairments\n")
    lines = head.splitlines()
    at = 0
    for figure in FIGURES:
        own = (i for i, line in enumerate(lines) if line.startswith(f"| `{figure.name}` |"))
        found = next(own, None)
        if found is None:
            lines.insert(at + 1, "")
            found = at + 1
        lines[found], at = figure_row(figure), found
    text = "\n".join(lines) + "\n" + mark + rest
    for name, make in TABLES.items():
        begin, end = f"<!-- table of {name} -->\n", "<!-- end of table -->"
        if begin not in text:
            sys.exit(f"docs/glossary.md: there is no comment {begin.strip()}")
        before, _, rest = text.partition(begin)
        text = f"{before}{begin}\n{make()}\n\n{end}{rest.partition(end)[2]}"
    return text


if __name__ == "__main__":
    GLOSSARY.write_text(renewed(GLOSSARY.read_text(encoding="utf-8")), encoding="utf-8")
