"""Curves of shafts, and their pictures as files."""

from __future__ import annotations

import os
import re
import struct
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from specdb.errors import BuildError, UsageError
from specdb.verbs.stiffness import pictures
from specdb.verbs.stiffness.pictures import ShaftPicture, check_target, picture_bytes, write_picture
from specdb.verbs.stiffness.shaft_curves import ShaftCurve, Station, key_of, text_picture


def _curve(name: str = "reed-60-s", level: float = 20.0, stations: tuple[Station, ...] = ()) -> ShaftCurve:
    place = np.linspace(0.0, 46.0, 181)
    ei = level + 0.02 * place**2
    place_in, mean, low, high = (tuple(c.tolist()) for c in (place, ei, 0.95 * ei, 1.06 * ei))
    return ShaftCurve(name, place_in, mean, low, high, stations, ((22.0, 1.0), (33.0, 1.0), (52.0, 2.0)))


GOOD = Station("EI at 11 in, published", 11.0, 22.5, 0.3, outlier=False)
ODD = Station("EI at 31 in, piece 2", 31.0, 51.0, 4.1, outlier=True)
PICTURE = ShaftPicture(
    "Bending stiffness of shaft reed-60-s",
    "Quillback Tubeworks (invented) Reed $60$ _S_, 46 in raw",
    (_curve(stations=(GOOD, ODD)),),
    ("Made from: data sheet (raw length); 8 EI.", "The band holds the true stiffness."),
)


def _texts(svg: bytes) -> list[str]:
    """Texts of an SVG file: letters are drawn as outlines, with what they say in a comment before them."""
    return [re.sub(r"\s+", " ", t).strip() for t in re.findall(r"<!--(.*?)-->", svg.decode(), re.DOTALL)]


def test_svg_is_well_formed_and_says_what_is_what() -> None:
    svg = picture_bytes(PICTURE, ".svg")
    root = ET.fromstring(svg)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    said = " | ".join(_texts(svg))
    for text in (
        PICTURE.title,
        PICTURE.subtitle,  # letters that mean something in a formula stay as they are
        "distance from the raw tip, in",
        "bending stiffness EI, N·m²",
        "tip third",
        "mean 33.0 ± 1.0 N·m² (1 sd)",
        "butt third",
        "90 % band",
        "EI reading to be asked about",
        "EI at 31 in, piece 2: 51",
        "4.1 sd above what all else leads to",
        *PICTURE.caption,
    ):
        assert text in said
    assert f"<dc:title>{PICTURE.title}</dc:title>" in svg.decode()


def test_png_is_one_of_a_size_to_print() -> None:
    """A4 is 11.69 in wide; 150 dots per inch is a usual least for print (common practice, no source)."""
    png = picture_bytes(PICTURE, ".png")
    # W3C PNG specification, third edition, 5.2 and 11.2.1: signature, then IHDR with width and height
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", png[16:24])
    assert 10.0 <= width / 150 <= 11.69
    assert 7.0 <= height / 150 <= 8.27


_IN_ITS_OWN_PROCESS = """
import sys
sys.path.insert(0, sys.argv[1])
from tests.verbs.test_pictures import PICTURE
from specdb.verbs.stiffness.pictures import picture_bytes
data = picture_bytes(PICTURE, sys.argv[2])
assert "matplotlib.pyplot" not in sys.modules
sys.stdout.buffer.write(data)
"""


@pytest.mark.parametrize("suffix", [".svg", ".png"])
def test_the_same_picture_is_the_same_file(suffix: str, tmp_path: Path) -> None:
    """Whatever the hour, the seed of hashes and the user's own settings of the drawing library."""
    (tmp_path / "matplotlibrc").write_text("lines.linewidth: 9\nfont.size: 20\nsvg.fonttype: none\nsavefig.dpi: 30\n")
    other = {"PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland", "MATPLOTLIBRC": str(tmp_path), "SOURCE_DATE_EPOCH": "7"}
    done = subprocess.run(
        [sys.executable, "-c", _IN_ITS_OWN_PROCESS, str(Path(__file__).parents[2]), suffix],
        capture_output=True,
        env={**os.environ, **other},
        timeout=60,
        check=True,
    )
    assert done.stdout == picture_bytes(PICTURE, suffix)
    assert not re.search(rb"20\d\d-\d\d-\d\d", done.stdout)


def _luminance(colour: str) -> float:
    """Relative luminance (W3C, Web Content Accessibility Guidelines 2.2, definition)."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(a: str, b: str) -> float:
    high, low = sorted((_luminance(a), _luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_reads_without_colour() -> None:
    """3:1 for what must be seen to understand a graphic (WCAG 2.2, 1.4.11); curves differ in more than colour."""
    for look in pictures._LOOKS:
        assert _contrast(look.line, look.band) > 3.0
        assert _contrast(look.line, "#ffffff") > 3.0
    for what in ("dash", "hatch", "sign"):
        assert len({getattr(look, what) for look in pictures._LOOKS}) == len(pictures._LOOKS)


def test_two_over_one_another_are_both_named() -> None:
    two = (_curve(stations=(GOOD,)), _curve("sedge-60-s", 22.0))
    said = _texts(picture_bytes(ShaftPicture("Fitted and stand-in", "", two), ".svg"))
    for text in ("reed-60-s", "sedge-60-s", "90 % band of sedge-60-s", "EI reading of reed-60-s"):
        assert text in said
    assert "tip third" not in said  # of which of them?


def test_outliers_near_one_another_are_numbered() -> None:
    near = (ODD, Station("EI at 33 in, piece 2", 33.0, 53.0, 5.0, outlier=True))
    picture = ShaftPicture("t", "", (_curve(stations=near),))
    said = " ".join(_texts(picture_bytes(picture, ".svg")))
    assert "1 EI at 31 in, piece 2: 51 (+4.1 sd), 2 EI at 33 in, piece 2: 53 (+5.0 sd)" in said


@pytest.mark.parametrize("count", [0, 4])
def test_too_few_or_too_many_curves(count: int) -> None:
    with pytest.raises(UsageError, match="one to 3"):
        picture_bytes(ShaftPicture("t", "", (_curve(),) * count), ".svg")


def test_a_cut_and_a_raw_shaft_do_not_go_over_one_another() -> None:
    pair = (_curve(), _curve().trimmed(0.5, 43.0))
    with pytest.raises(BuildError, match="cut both or none"):
        picture_bytes(ShaftPicture("t", "", pair), ".svg")
    with pytest.raises(BuildError, match="cut both or none"):
        text_picture(pair, width=80)


def test_a_file_is_written_whole_and_not_over_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "reed.SVG"
    write_picture(PICTURE, target)
    first = target.read_bytes()
    other = ShaftPicture("another", "", PICTURE.curves)
    with pytest.raises(UsageError, match="there already"):
        write_picture(other, target)
    assert target.read_bytes() == first
    write_picture(other, target, force=True)
    assert target.read_bytes() != first

    def full(self: Path, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    kept = target.read_bytes()
    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(OSError, match="No space"):
        write_picture(PICTURE, target, force=True)
    assert target.read_bytes() == kept
    assert [p.name for p in tmp_path.iterdir()] == ["reed.SVG"]


@pytest.mark.parametrize("name", ["reed.jpg", "reed", "missing/reed.png", "folder.png"])
def test_what_cannot_be_a_picture_is_refused(name: str, tmp_path: Path) -> None:
    (tmp_path / "folder.png").mkdir()
    with pytest.raises(UsageError):
        check_target(tmp_path / name, force=True)


def test_trimmed_is_the_same_shaft_seen_from_the_cut() -> None:
    raw = _curve(stations=(GOOD, ODD, Station("EI at 0.2 in", 0.2, 20.0, 0.0, outlier=False)))
    cut = raw.trimmed(0.73, 43.1)
    assert cut.place_in[0] == 0.0
    assert cut.place_in[-1] == pytest.approx(43.1)
    assert all(a < b for a, b in pairwise(cut.place_in))
    for of_cut, of_raw in (
        (cut.ei_n_m2, raw.ei_n_m2),
        (cut.low_n_m2, raw.low_n_m2),
        (cut.high_n_m2, raw.high_n_m2),
    ):
        assert of_cut == pytest.approx(np.interp(np.array(cut.place_in) + 0.73, raw.place_in, of_raw))
    assert [s.place_in for s in cut.stations] == pytest.approx([11.0 - 0.73, 31.0 - 0.73])
    assert cut.thirds == ()
    for trim, length in ((-0.1, 40.0), (0.0, 0.0), (2.0, 44.5)):
        with pytest.raises(BuildError):
            raw.trimmed(trim, length)


def test_text_picture_says_what_is_what() -> None:
    curve = _curve(stations=(GOOD, ODD))
    lines = text_picture([curve], width=80)
    assert max(map(len, lines)) <= 80
    assert lines[0] == "EI, N·m²"
    assert lines[-1].strip() == "distance from the raw tip, in"
    assert sum(line.count("X") for line in lines) == 1
    assert key_of([curve]).endswith("o: EI reading; X: EI reading to be asked about.")
    two = [_curve(stations=(GOOD, ODD)), _curve("sedge", 23.0, (GOOD,))]
    field = "".join(line.partition("│")[2] or line.partition("┤")[2] for line in text_picture(two, width=80))
    assert (field.count("o"), field.count("X")) == (0, 1)  # marks of several curves would hide their strokes
    assert key_of(two).endswith("dotted: 90 % band; X: EI reading to be asked about.")
    assert key_of([_curve(), _curve("sedge")]) == "unbroken: reed-60-s; dashed: sedge; dotted: 90 % band."
    assert key_of([_curve()], plain=True) == "*: the estimate; .: 90 % band."
