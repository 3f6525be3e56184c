"""The lowest versions that pyproject.toml allows, as requirements: python tools/lowest.py > FILE

Of `name>=1.26` any 1.26 is taken, of `name>=8` any 8.0: the last repair of the lowest release.
Extras whose lowest versions are to be tried are named after the file: `lowest.py test`.
"""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[1] / "pyproject.toml"
LEAST = re.compile(r"([\w.-]+(?:\[[\w,]+\])?)>=([\w.]+)")


def lowest(requirement: str) -> str:
    """A requirement held to its lowest release.

    >>> lowest("numpy>=1.26"), lowest("pytest>=8"), lowest("dask[distributed]>=2024.8")
    ('numpy==1.26.*', 'pytest==8.0.*', 'dask[distributed]==2024.8.*')
    """
    match = LEAST.fullmatch(requirement)
    if match is None:
        return requirement
    release = match[2] if "." in match[2] else f"{match[2]}.0"
    return f"{match[1]}=={release}.*"


def main() -> None:
    """Print the requirements."""
    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
    asked = list(project["dependencies"])
    for extra in sys.argv[1:]:
        asked += project["optional-dependencies"][extra]
    print("\n".join(lowest(one) for one in asked))


if __name__ == "__main__":
    main()
