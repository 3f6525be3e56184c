"""The picture of the way of the data shows the house as it stands."""

from __future__ import annotations

import runpy
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import simulator

ROOT = Path(__file__).parents[1]
TOOL = runpy.run_path(str(ROOT / "tools" / "make_data_way.py"))


@pytest.mark.invariant
def test_the_picture_is_the_one_that_the_tool_draws():
    assert TOOL["PICTURE"].read_text(encoding="utf-8") == TOOL["drawn"](), (
        "run tools/make_data_way.py"
    )


@pytest.mark.invariant
def test_every_room_is_in_it():
    texts = [node.text for node in ET.fromstring(TOOL["drawn"]()).iter() if node.text]
    house = Path(simulator.__file__).parent
    rooms = {path.name for path in house.iterdir() if (path / "__init__.py").exists()}
    assert {text.removesuffix("/") for text in texts if text.endswith("/")} == rooms - {"data"}


@pytest.mark.invariant
def test_no_words_run_over_the_edge():
    picture = ET.fromstring(TOOL["drawn"]())
    wide = float(picture.attrib["viewBox"].split()[2])
    for node in picture.iter("{http://www.w3.org/2000/svg}text"):
        # a letter of DejaVu Sans is 0.64 of its size wide on the mean at most
        long = 0.64 * float(node.attrib["font-size"]) * len(node.text or "")
        left = float(node.attrib["x"]) - (long if node.attrib.get("text-anchor") == "end" else 0.0)
        assert left >= 0.0 and left + long <= wide, node.text
