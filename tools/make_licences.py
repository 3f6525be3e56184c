"""Write simulator/data/LICENCES.md: where each bundled table comes from and how sure it is.

    python tools/make_licences.py

The table follows from the heads of the files; the notices of the libraries that some numbers were
taken from stand below it, as their licence asks.
"""

from __future__ import annotations

from pathlib import Path

from simulator.data import KINDS, names, read_table

TO = Path(__file__).resolve().parents[1] / "simulator" / "data" / "LICENCES.md"
HEAD = """# Where the tables come from, and their licences

Written by `tools/make_licences.py` from the heads of the files; the whole origin of a table stands there. The shapes
that we drew and the numbers that we chose are under the licence of this package (BSD-3-Clause). Published measurements
and standard tables are facts, quoted with their source.

| Basis | Means |
|---|---|
| measured | published measurements, at the wavelengths named in the head |
| computed | follows from a formula or from other tables |
| published minimum | the least that a standard demands |
| from memory, not checked | levels or shapes recalled from the literature, compared with no copy of it |
| chosen by us | a definition or a plain assumption |

| Table | Basis | Taken from |
|---|---|---|
"""
SOURCES = (
    ("colour-science", "colour-science"),
    ("pvlib", "pvlib"),
    ("ECOSTRESS", "ECOSTRESS spectral library (NASA/JPL, public)"),
    ("NIST", "NIST, J. Res. NIST 122 (2017) 026 (public)"),
    ("ASTM D4956", "ASTM D4956, minimum values"),
)
"""What an origin names, and how it is told."""
NOTICES = """
## Notices

Numbers of the tables named so above were taken from two libraries under the BSD-3-Clause licence:

- colour-science, Copyright 2013 Colour Developers
- pvlib, Copyright (c) 2023 pvlib python Contributors, (c) 2014 PVLIB python Development Team, (c) 2013 Sandia National
  Laboratories

Redistribution and use in source and binary forms, with or without modification, are permitted provided that the
following conditions are met:

- Redistributions of source code must retain the above copyright notice, this list of conditions and the following
  disclaimer.
- Redistributions in binary form must reproduce the above copyright notice, this list of conditions and the following
  disclaimer in the documentation and/or other materials provided with the distribution.
- Neither the name of the copyright holder nor the names of its contributors may be used to endorse or promote products
  derived from this software without specific prior written permission.

THIS SOFTWARE IS PROVIDED BY THE COPYRIGHT HOLDERS AND CONTRIBUTORS "AS IS" AND ANY EXPRESS OR IMPLIED WARRANTIES,
INCLUDING, BUT NOT LIMITED TO, THE IMPLIED WARRANTIES OF MERCHANTABILITY AND FITNESS FOR A PARTICULAR PURPOSE ARE
DISCLAIMED. IN NO EVENT SHALL THE COPYRIGHT HOLDER OR CONTRIBUTORS BE LIABLE FOR ANY DIRECT, INDIRECT, INCIDENTAL,
SPECIAL, EXEMPLARY, OR CONSEQUENTIAL DAMAGES (INCLUDING, BUT NOT LIMITED TO, PROCUREMENT OF SUBSTITUTE GOODS OR SERVICES;
LOSS OF USE, DATA, OR PROFITS; OR BUSINESS INTERRUPTION) HOWEVER CAUSED AND ON ANY THEORY OF LIABILITY, WHETHER IN
CONTRACT, STRICT LIABILITY, OR TORT (INCLUDING NEGLIGENCE OR OTHERWISE) ARISING IN ANY WAY OUT OF THE USE OF THIS
SOFTWARE, EVEN IF ADVISED OF THE POSSIBILITY OF SUCH DAMAGE.
"""


def basis(status: str, origin: str) -> str:
    """How sure a table is, in the words of the file."""
    word = status.split(maxsplit=1)[0].rstrip(",;:")
    told = f"{status} {origin}".lower()
    if word == "datasheet":
        return "published minimum"
    if word in ("measured", "computed"):
        return status
    return "from memory, not checked" if "from memory" in told else "chosen by us"


def text() -> str:
    """The whole file."""
    rows = []
    for kind in KINDS:
        for name in names(kind):
            header = read_table(kind, name).header
            sources = [told for word, told in SOURCES if word in header["origin"]]
            rows.append(
                f"| {kind}/{name} | {basis(header['status'], header['origin'])} |"
                f" {'; '.join(sources) or '-'} |"
            )
    return HEAD + "\n".join(rows) + "\n" + NOTICES


if __name__ == "__main__":
    TO.write_text(text(), encoding="utf-8")
