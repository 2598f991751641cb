"""Stiffness pictures as SVG or PNG files, to be pinned above a bench or put into a document.

The same picture is the same file, byte for byte: no time, no version, nothing of the machine is in it. What is drawn
is told apart by stroke, hatching and shape as well as by colour, so that it reads in grey and to the colour-blind.
"""

from __future__ import annotations

import textwrap
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.errors import UsageError
from specdb.verbs.stiffness.shaft_curves import BAND, Y_TITLE, ShaftCurve, Station, curve_of_answer, x_title

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from specdb.verbs.stiffness.profiles import ProfileAnswer

SUFFIXES = (".svg", ".png")
_SIZE_IN = (10.6, 7.4)
_DPI = 150
_HASH_SALT = "specdb"
_CAPTION_LETTERS = 140
_LINE_IN = 0.175  # height of a line of the caption
_INK, _SOFT = "#1a1a1a", "#5c5c5c"


@dataclass(frozen=True, slots=True)
class _Look:
    """How one curve is drawn: dark strokes over light bands, so that both stay apart in grey."""

    line: str
    band: str
    dash: str | tuple[int, tuple[int, ...]]
    hatch: str
    sign: str


# blue and vermilion differ to every kind of colour vision
_LOOKS = (
    _Look("#00457a", "#bcd6ea", "-", "", "o"),
    _Look("#b8430a", "#f2d3bf", (0, (6, 3)), "////", "s"),
    _Look("#2f2f2f", "#dcdcdc", (0, (1, 2)), "....", "D"),
)


@dataclass(frozen=True, slots=True)
class ShaftPicture:
    """A picture to be written.

    Attributes
    ----------
    title, subtitle : str
        Above the picture.
    curves : tuple of ShaftCurve
        One to three, all cut or all raw; the first is the one that the others are held against.
    caption : tuple of str
        Sentences below it: what it was made from.
    """

    title: str
    subtitle: str
    curves: tuple[ShaftCurve, ...]
    caption: tuple[str, ...] = ()


def picture_of(answer: ProfileAnswer) -> ShaftPicture:
    """The picture of one shaft's estimated stiffness.

    Parameters
    ----------
    answer : ProfileAnswer
        The answer of :func:`specdb.verbs.stiffness.profiles.profile_of`.
    """
    shaft, found = answer.shaft, answer.estimate
    named = " ".join(text for text in (shaft.maker, shaft.model, shaft.flex) if text)
    facts = [f"{shaft.raw_length_in:g} in raw", f"{shaft.weight_g:g} g" if shaft.weight_g is not None else ""]
    made_from = "; ".join(f"{source.name} ({', '.join(source.known)})" for source in answer.known)
    band = (
        f"The band holds the true stiffness of the nominal shaft with {100.0 * BAND:.0f} % probability; a single "
        f"piece differs from it by about {100.0 * found.piece_sd:.1f} % more."
    )
    caption = [f"Made from: {made_from}; {taught(answer)}.", band]
    elsewhere = [f"{e.name} ({e.off:+.1f} sd)" for e in found.outliers if e.place_m is None]
    if elsewhere:
        caption.append(f"Not on the picture, but to be asked about too: {', '.join(elsewhere)}.")
    if found.refused:
        caption.append(f"Refused as impossible: {', '.join(r.name for r in found.refused)}.")
    return ShaftPicture(
        title=f"Bending stiffness of shaft {shaft.id}",
        subtitle=", ".join(text for text in (named, *facts) if text),
        curves=(curve_of_answer(answer),),
        caption=tuple(caption),
    )


def taught(answer: ProfileAnswer) -> str:
    """What shafts usually are like, and from whom that was learned, in words.

    Parameters
    ----------
    answer : ProfileAnswer
        The answer.
    """
    if not answer.teachers:
        return "usual shafts: no other shaft here has a stiffness table; built-in figures with wide bands are used"
    shafts = f"{answer.teachers} shaft{'' if answer.teachers == 1 else 's'}"
    makers = f"{answer.makers} well-known maker{'' if answer.makers == 1 else 's'} among them"
    own = "this maker is one of those" if answer.maker_known else "too few of this maker, so that the bands are wider"
    return f"usual shafts: learned from the stiffness tables of {shafts}, {makers}; {own}"


def check_target(path: Path, *, force: bool = False) -> None:
    """Refuse a file that a picture cannot or must not be written to.

    Parameters
    ----------
    path : Path
        The file; its ending says the kind.
    force : bool
        Whether a file that is there may be overwritten.

    Raises
    ------
    UsageError
        If the ending is no picture's, the folder is not there, or the file is.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise UsageError(f"a picture is written as {' or '.join(SUFFIXES)}; '{path.name}' ends in neither")
    if not path.parent.is_dir():
        raise UsageError(f"there is no folder {path.parent}")
    if path.is_dir() or (path.exists() and not force):
        raise UsageError(f"{path} is there already; name another file" + ("" if path.is_dir() else ", or use --force"))


def write_picture(picture: ShaftPicture, path: Path, *, force: bool = False) -> None:
    """Write a picture to a file, all of it or nothing.

    Parameters
    ----------
    picture : ShaftPicture
        The picture.
    path : Path
        The file, ending in ``.svg`` or ``.png``.
    force : bool
        Whether a file that is there may be overwritten.

    Raises
    ------
    UsageError
        If the file cannot or must not be written to, or cut and raw shafts are mixed.
    """
    check_target(path, force=force)
    data = picture_bytes(picture, path.suffix.lower())
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def picture_bytes(picture: ShaftPicture, suffix: str) -> bytes:
    """A picture as the contents of a file.

    Parameters
    ----------
    picture : ShaftPicture
        The picture.
    suffix : str
        ``.svg`` or ``.png``.

    Raises
    ------
    UsageError
        If there is no curve to draw, or more than three.
    BuildError
        If cut and raw shafts are mixed.
    """
    if not 1 <= len(picture.curves) <= len(_LOOKS):
        raise UsageError(f"a picture holds one to {len(_LOOKS)} curves, not {len(picture.curves)}")
    # 0.5 s, so only when a picture is written; the figure is our own, nothing of pyplot's state is touched
    from matplotlib.figure import Figure

    with _own_settings(), BytesIO() as file:
        figure = Figure(figsize=_SIZE_IN, dpi=_DPI, facecolor="white")
        _compose(figure, picture)
        undated = {"Date": None, "Creator": None} if suffix == ".svg" else {"Software": None}
        figure.savefig(file, format=suffix[1:], dpi=_DPI, metadata={**undated, "Title": picture.title})
        return file.getvalue()


@contextmanager
def _own_settings() -> Iterator[None]:
    """The library's own settings whatever the user's are, so that the same picture is the same file."""
    import matplotlib as mpl

    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()
        mpl.rcParams.update({"svg.hashsalt": _HASH_SALT, "font.family": "DejaVu Sans", "hatch.linewidth": 0.5})
        # a name in letters that the font lacks is drawn with boxes for them
        warnings.filterwarnings("ignore", message="Glyph")
        yield


def _compose(figure: Figure, picture: ShaftPicture) -> None:
    sentences = list(picture.caption)
    odd = _outliers(picture.curves)
    if len(odd) > 1:
        names = (f"{n} {s.name}: {s.ei_n_m2:.4g} ({s.off:+.1f} sd)" for n, s in enumerate(odd, start=1))
        sentences.append(f"EI readings to be asked about, from the tip: {', '.join(names)}.")
    lines = [line for sentence in sentences for line in textwrap.wrap(sentence, _CAPTION_LETTERS)]
    height = _SIZE_IN[1] + max(0, len(lines) - 4) * _LINE_IN
    figure.set_size_inches(_SIZE_IN[0], height)
    below = 0.62 + 0.15 + len(lines) * _LINE_IN  # axis, gap, caption, in
    axes = figure.add_axes((0.075, below / height, 0.9, 1.0 - (below + 0.85) / height))
    figure.text(0.075, 1.0 - 0.36 / height, picture.title, size=15, weight="bold", color=_INK, parse_math=False)
    figure.text(0.075, 1.0 - 0.62 / height, picture.subtitle, size=10.5, color=_SOFT, parse_math=False)
    start = (0.10 + (len(lines) - 1) * _LINE_IN) / height
    for number, line in enumerate(lines):
        at = start - number * _LINE_IN / height
        figure.text(0.075, at, line, size=8.5, color=_SOFT, parse_math=False, va="bottom")
    _draw(axes, picture.curves)


def _draw(axes: Axes, curves: Sequence[ShaftCurve]) -> None:
    reach = max(c.length_in for c in curves)
    top = max(max(c.high_n_m2) for c in curves)
    top = 1.06 * max(top, *(s.ei_n_m2 for c in curves for s in c.stations), 0.0)
    axes.set_xlim(0.0, reach)
    axes.set_ylim(0.0, top * (1.1 if len(curves) == 1 else 1.0))
    for curve, look in zip(curves, _LOOKS, strict=False):
        _draw_curve(axes, curve, look, alone=len(curves) == 1)
    if len(curves) == 1:
        _draw_thirds(axes, curves[0])
    _name_outliers(axes, _outliers(curves))
    _dress(axes, x_title(curves))


def _draw_curve(axes: Axes, curve: ShaftCurve, look: _Look, *, alone: bool) -> None:
    name = "estimate" if alone else curve.name
    band = f"{100 * BAND:.0f} % band" if alone else f"{100 * BAND:.0f} % band of {curve.name}"
    axes.fill_between(
        curve.place_in,
        curve.low_n_m2,
        curve.high_n_m2,
        facecolor=look.band,
        edgecolor=look.line,
        linewidth=0.6,
        hatch=look.hatch or None,
        alpha=1.0 if alone else 0.6,
        label=band,
        zorder=2,
    )
    axes.plot(curve.place_in, curve.ei_n_m2, color=look.line, linestyle=look.dash, linewidth=2.2, label=name, zorder=4)
    whose = "" if alone else f" of {curve.name}"
    for odd, sign, label in ((False, look.sign, "EI reading"), (True, "X", "EI reading to be asked about")):
        some = [s for s in curve.stations if s.outlier is odd]
        if some:
            axes.plot(
                [s.place_in for s in some],
                [s.ei_n_m2 for s in some],
                linestyle="none",
                marker=sign,
                markersize=10 if odd else 6,
                markerfacecolor=look.line if odd else "white",
                markeredgecolor="white" if odd else look.line,
                markeredgewidth=1.0 if odd else 1.4,
                label=label + whose,
                zorder=6 if odd else 5,
            )


def _draw_thirds(axes: Axes, curve: ShaftCurve) -> None:
    """Where the thirds meet, with the mean over each."""
    top = axes.get_ylim()[1]
    for number, (low, high, name) in enumerate(curve.thirds):
        if number:
            axes.axvline(low, color=_SOFT, linestyle=(0, (2, 3)), linewidth=0.9, zorder=1)
        text = name
        if curve.of_thirds:
            mean, sd = curve.of_thirds[number]
            text += f"\nmean {mean:.1f} ± {sd:.1f} N·m² (1 sd)"
        ground = {"facecolor": "white", "edgecolor": "none", "pad": 2.0}
        middle = 0.5 * (low + high)
        axes.text(middle, 0.985 * top, text, ha="center", va="top", size=9.5, color=_INK, zorder=3, bbox=ground)


def _name_outliers(axes: Axes, outliers: Sequence[Station]) -> None:
    """Names beside outliers, towards the middle of the picture; numbers where names would cover one another."""
    (left, right), (_, top) = axes.get_xlim(), axes.get_ylim()
    named = _can_be_named(outliers, right - left, top)
    for number, s in enumerate(outliers, start=1):
        to_right = s.place_in < 0.5 * (left + right)
        below = s.ei_n_m2 > 0.75 * top
        side = "above" if s.off > 0 else "below"
        said = f"{s.name}: {s.ei_n_m2:.4g}\n{abs(s.off):.1f} sd {side} what all else leads to"
        axes.annotate(
            said if named else str(number),
            (s.place_in, s.ei_n_m2),
            xytext=((12 if to_right else -12) if named else 7, -8 if below else 8),
            textcoords="offset points",
            ha="left" if to_right or not named else "right",
            va="top" if below else "bottom",
            size=9,
            weight="normal" if named else "bold",
            color=_INK,
            zorder=7,
            parse_math=False,
            bbox={
                "facecolor": "white",
                "edgecolor": _SOFT if named else "none",
                "linewidth": 0.6,
                "pad": 2.5 if named else 0.8,
            },
        )


def _can_be_named(outliers: Sequence[Station], width: float, height: float) -> bool:
    """Whether there is room for the names of outliers beside them."""
    return all(
        abs(a.place_in - b.place_in) > 0.45 * width or abs(a.ei_n_m2 - b.ei_n_m2) > 0.15 * height
        for a, b in combinations(outliers, 2)
    )


def _outliers(curves: Sequence[ShaftCurve]) -> list[Station]:
    return [s for c in curves for s in sorted(c.stations, key=lambda s: s.place_in) if s.outlier]


def _dress(axes: Axes, places: str) -> None:
    from matplotlib.ticker import MultipleLocator

    axes.set_xlabel(places, size=11, color=_INK)
    axes.set_ylabel(f"bending stiffness {Y_TITLE}", size=11, color=_INK)
    axes.xaxis.set_major_locator(MultipleLocator(4))
    axes.xaxis.set_minor_locator(MultipleLocator(1))
    axes.yaxis.set_minor_locator(MultipleLocator(5))
    axes.grid(visible=True, which="major", color="#d0d0d0", linewidth=0.7, zorder=0)
    axes.grid(visible=True, which="minor", color="#ececec", linewidth=0.4, zorder=0)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=10, colors=_INK)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    legend = axes.legend(loc="lower right", fontsize=9.5, framealpha=1.0, edgecolor="#bbbbbb", handlelength=3.2)
    for text in legend.get_texts():
        text.set_parse_math(False)
