"""Pages as one HTML text from the templates beside this file."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from simulator.report import inks
from simulator.studies.provenance import versions

if TYPE_CHECKING:
    from jinja2 import Environment


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("simulator.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["inks"] = inks
    return made


def html_page(template: str, **values: Any) -> str:
    """A template of report/templates filled with values; a value that is missing is an error."""
    text = _environment().get_template(template)
    return text.render(version=versions()["nightproof"], **values)
