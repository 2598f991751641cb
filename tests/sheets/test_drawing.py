"""The profile picture of a sheet: letters that are read at arm's length, nothing over the edge."""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET
from collections.abc import Sequence

import pytest

from specdb.sheets.drawing import Line, profile_svg

_SVG = "{http://www.w3.org/2000/svg}"


def drawn(name: str, ei: Sequence[float]) -> ET.Element:
    """The drawing of one shaft."""
    places = [40.0 * i / (len(ei) - 1) for i in range(len(ei))]
    return ET.fromstring(profile_svg([Line(name, places, ei, [1.0] * len(ei))]))


def test_the_letters_are_at_least_seven_point_on_an_a4_sheet() -> None:
    """Seven point is about the least that is read without trouble on paper (common practice, no source)."""
    svg = drawn("hollin-reach-holm-60-s", [20.0, 40.0, 60.0])
    width = float(svg.attrib["viewBox"].split()[2])
    # A4 is 210 mm wide (ISO 216); less margins of 13 mm and a gap of 6 mm, the picture has one part of 2.25
    millimetres = (210.0 - 2 * 13.0 - 6.0) / 2.25
    assert float(svg.attrib["font-size"]) / width * millimetres * 72.0 / 25.4 >= 7.0


@pytest.mark.parametrize("name", ["trine", "a" * 80])
@pytest.mark.parametrize("top", [4.0, 65.0, 240.0])
def test_nothing_stands_over_the_edge_or_over_each_other(name: str, top: float) -> None:
    svg = drawn(name, [top / 3, top / 2, top])
    width, height = (float(n) for n in svg.attrib["viewBox"].split()[2:])
    size = float(svg.attrib["font-size"])
    texts = [t for t in svg.iter(f"{_SVG}text") if "transform" not in t.attrib]
    for text in texts:
        long = 0.602 * size * len(text.text or "")  # a letter of the typeface is 0.602 of its size wide
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        left = {"end": x - long, "middle": x - long / 2}.get(text.attrib.get("text-anchor", ""), x)
        assert left >= 0.0, text.text
        assert left + long <= width, text.text
        assert size * 0.7 <= y <= height
    scale = sorted(float(t.attrib["y"]) for t in texts if t.attrib.get("text-anchor") == "end")
    assert all(b - a >= size for a, b in itertools.pairwise(scale)), "numbers of the scale overlap"
    assert any("…" in (t.text or "") for t in texts) is (len(name) > 30)
