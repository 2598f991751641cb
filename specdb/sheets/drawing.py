"""Small line drawing of the stiffness along an installed shaft, as SVG, for the corner of a sheet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

_WIDTH, _HEIGHT = 400.0, 190.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 52.0, 10.0, 10.0, 40.0
_LETTERS = 13.0  # of the drawing's width on an A4 sheet, 79 mm, this is 7.3 point
_LETTER_WIDTH = 0.602 * _LETTERS  # of this typeface
_DASHES = ("", "7 4")
_MOST_LINES = 6


@dataclass(frozen=True, slots=True)
class Line:
    """Stiffness along one shaft.

    Attributes
    ----------
    name : str
        The shaft.
    place_in, ei_n_m2, sd_n_m2 : sequence of float
        From the mouth of the hosel; stiffness and its standard deviation.
    """

    name: str
    place_in: Sequence[float]
    ei_n_m2: Sequence[float]
    sd_n_m2: Sequence[float]


def profile_svg(lines: Sequence[Line], *, mouth: str = "hosel") -> str:
    """The drawing: bands of one standard deviation, told apart by stroke, readable in grey.

    Parameters
    ----------
    lines : sequence of Line
        One or two shafts.
    mouth : str
        Of what the shaft comes out: the hosel, or the adapter in it.
    """
    longest = max(line.place_in[-1] for line in lines)
    top = max(e + s for line in lines for e, s in zip(line.ei_n_m2, line.sd_n_m2, strict=True))
    step = 20 * math.ceil(top / (20.0 * _MOST_LINES))
    top = float(step * math.ceil(top / step))
    inner_w, inner_h = _WIDTH - _LEFT - _RIGHT, _HEIGHT - _TOP - _BOTTOM

    def at(place: float, ei: float) -> str:
        return f"{_LEFT + inner_w * place / longest:.1f},{_TOP + inner_h * (1.0 - ei / top):.1f}"

    frame = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" '
    out = [frame + f'font-family="DejaVu Sans Mono" font-size="{_LETTERS:g}">']
    for value in range(0, int(top) + 1, step):
        y = at(0.0, value).split(",")[1]
        out.append(f'<line x1="{_LEFT}" y1="{y}" x2="{_WIDTH - _RIGHT}" y2="{y}" stroke="#cccccc" stroke-width="0.7"/>')
        out.append(f'<text x="{_LEFT - 6}" y="{float(y) + 4.5:.1f}" text-anchor="end">{value}</text>')
    for place in range(0, int(longest) + 1, 10):
        x = at(place, 0.0).split(",")[0]
        out.append(f'<text x="{x}" y="{_HEIGHT - _BOTTOM + 15}" text-anchor="middle">{place}</text>')
    for line in lines:
        upper = [at(p, e + s) for p, e, s in zip(line.place_in, line.ei_n_m2, line.sd_n_m2, strict=True)]
        lower = [at(p, max(e - s, 0.0)) for p, e, s in zip(line.place_in, line.ei_n_m2, line.sd_n_m2, strict=True)]
        out.append(f'<polygon points="{" ".join(upper + lower[::-1])}" fill="#000000" fill-opacity="0.12"/>')
    for line, dash in zip(lines, _DASHES, strict=False):
        points = " ".join(at(p, e) for p, e in zip(line.place_in, line.ei_n_m2, strict=True))
        pattern = f' stroke-dasharray="{dash}"' if dash else ""
        out.append(f'<polyline points="{points}" fill="none" stroke="#000000" stroke-width="1.6"{pattern}/>')
    for i, (line, dash) in enumerate(zip(lines, _DASHES, strict=False)):
        row = _TOP + 14 + 17 * i
        pattern = f' stroke-dasharray="{dash}"' if dash else ""
        out.append(
            f'<line x1="{_LEFT + 8}" y1="{row - 4}" x2="{_LEFT + 44}" y2="{row - 4}" stroke="#000000" '
            f'stroke-width="1.6"{pattern}/>'
        )
        out.append(f'<text x="{_LEFT + 50}" y="{row}">{escape(_short(line.name))}</text>')
    out.append(f'<text x="{_WIDTH / 2}" y="{_HEIGHT - 8}" text-anchor="middle">in from the mouth of the {mouth}</text>')
    out.append(
        f'<text x="14" y="{(_TOP + _HEIGHT - _BOTTOM) / 2}" text-anchor="middle" '
        f'transform="rotate(-90 14 {(_TOP + _HEIGHT - _BOTTOM) / 2})">EI, N·m²</text>'
    )
    out.append("</svg>")
    return "".join(out)


def _short(name: str) -> str:
    """A name as long as there is room for, its begin and its end, which tell variants apart."""
    most = int((_WIDTH - _RIGHT - _LEFT - 50) / _LETTER_WIDTH)
    if len(name) <= most:
        return name
    end = (most - 1) // 2
    return f"{name[: most - 1 - end]}…{name[-end:]}"
