"""Pictures of reports as SVG, to stand in a page: no outside link, the same bytes for the same report.

What is drawn is told apart by hatching, shape and stroke as well as by colour, so that it reads in grey and to the
colour-blind. Text stays text, so that it can be searched and read aloud.
"""

from __future__ import annotations

import re
import warnings
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from typing import TYPE_CHECKING, Any

from specdb.orders.tolerances import TOLERANCES
from specdb.verbs.reports.types import Report

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_INK, _SOFT = "#1a1a1a", "#5c5c5c"
_WIDTH_IN = 9.6
_MOST_BARS = 30
# face and hatch: dark to light in grey, and apart in colour
_USED = ("#2f2f2f", "")
_KEPT = ("#00457a", "")
_SHELF = ("#8fb8d8", "//")
_SHORT = ("#e07b39", "xx")
_MARKS = "osD^vP*X"
_INKS = ("#00457a", "#b8430a", "#2f2f2f", "#5b7f2b", "#7a3e8e", "#0f7f86", "#8a6d00", "#a3195b")


def pictures_of(report: Report) -> list[tuple[str, str]]:
    """The pictures of a report.

    Parameters
    ----------
    report : Report
        The report.

    Returns
    -------
    list of (str, str)
        What each shows, and its SVG without prologue; none where there is nothing to draw.
    """
    drawers = _DRAWERS.get(report.name, ())
    if not report.lines:
        return []
    found = []
    for number, (caption, draw) in enumerate(drawers):
        svg = _drawn(draw, report, f"specdb-{report.name}-{number}")
        cut = draw in _ONE_BY_ONE and len(report.lines) > _MOST_BARS
        if svg:
            found.append((f"{caption} (the first {_MOST_BARS} of {len(report.lines)})" if cut else caption, svg))
    return found


def _drawn(draw: Callable[[Figure, Report], bool], report: Report, salt: str) -> str:
    # half a second, so only when a page is written
    from matplotlib.figure import Figure

    with _settings(salt), BytesIO() as file:
        figure = Figure(figsize=(_WIDTH_IN, 3.0), facecolor="white")
        if not draw(figure, report):
            return ""
        figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
        text = file.getvalue().decode("utf-8")
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    return text.replace("<svg ", '<svg role="img" ', 1).rstrip()


@contextmanager
def _settings(salt: str) -> Iterator[None]:
    """The library's own settings whatever the user's are, and text as text."""
    import matplotlib as mpl

    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()
        mpl.rcParams.update(
            {
                "svg.hashsalt": salt,
                "svg.fonttype": "none",
                "font.family": ["DejaVu Sans", "sans-serif"],
                "hatch.linewidth": 0.6,
                "font.size": 9.0,
            }
        )
        warnings.filterwarnings("ignore", message="Glyph")
        yield


def _axes(figure: Figure, rows: int, *, left_in: float = 2.6, least_in: float = 1.2) -> Axes:
    """Axes high enough for so many rows."""
    height = max(least_in, 0.24 * rows) + 1.0
    figure.set_size_inches(_WIDTH_IN, height)
    return figure.add_axes((left_in / _WIDTH_IN, 0.5 / height, 1.0 - (left_in + 0.25) / _WIDTH_IN, 1.0 - 1.0 / height))


def _dress(axes: Axes, *, along: str, grid: str = "x") -> None:
    axes.set_xlabel(along, color=_INK)
    axes.grid(visible=True, axis="x" if grid == "x" else "both", color="#dddddd", linewidth=0.7)
    axes.set_axisbelow(True)
    axes.tick_params(colors=_INK, length=2.5)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _legend(axes: Axes, columns: int) -> None:
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=columns, frameon=False, fontsize=8.5)


def _names(axes: Axes, names: Sequence[str]) -> None:
    axes.set_yticks(range(len(names)))
    for label in axes.set_yticklabels(names):
        label.set_parse_math(False)
    axes.set_ylim(len(names) - 0.4, -0.6)


def _stack(axes: Axes, rows: Sequence[Sequence[int]], parts: Sequence[tuple[str, tuple[str, str]]]) -> None:
    """Bars in pieces, one below the other."""
    left = [0] * len(rows)
    for number, (label, (face, hatch)) in enumerate(parts):
        widths = [row[number] for row in rows]
        if not any(widths):
            continue
        axes.barh(
            range(len(rows)),
            widths,
            left=left,
            height=0.7,
            color=face,
            hatch=hatch or None,
            edgecolor="white",
            linewidth=0.6,
            label=label,
        )
        left = [a + b for a, b in zip(left, widths, strict=True)]


def _open_orders(figure: Figure, report: Report) -> bool:
    lines = report.lines[:_MOST_BARS]
    axes = _axes(figure, len(lines))
    rows = [(o.used, o.kept, o.on_shelf, o.short) for o in lines]
    _stack(axes, rows, [("built in", _USED), ("kept", _KEPT), ("on the shelf, in turn", _SHELF), ("short", _SHORT)])
    _names(axes, [f"{o.order_id}  {o.wanted_on.isoformat() if o.wanted_on else 'no day'}" for o in lines])
    for row, line in enumerate(lines):
        if line.late_days:
            axes.text(sum(rows[row]) + 0.2, row, f"{line.late_days} days late", va="center", size=8, color=_INK)
    _whole(axes)
    _dress(axes, along="parts")
    _legend(axes, 4)
    return True


def _open_weeks(figure: Figure, report: Report) -> bool:
    """Orders by the week they are wanted, where there are too many to show one by one."""
    if len(report.lines) <= _MOST_BARS:
        return False
    ready: Counter[str] = Counter()
    waiting: Counter[str] = Counter()
    for line in report.lines:
        if line.wanted_on is None:
            week = "no day"
        else:
            year, number, _ = line.wanted_on.isocalendar()
            week = f"{year}, week {number:02d}"
        (ready if line.ready else waiting)[week] += 1
    weeks = sorted({*ready, *waiting})[:_MOST_BARS]
    axes = _axes(figure, len(weeks))
    _stack(
        axes, [(ready[w], waiting[w]) for w in weeks], [("can be built today", _KEPT), ("waiting for a part", _SHORT)]
    )
    _names(axes, weeks)
    _whole(axes)
    _dress(axes, along="open orders by the week they are wanted")
    _legend(axes, 2)
    return True


def _shortages(figure: Figure, report: Report) -> bool:
    lines = report.lines[:_MOST_BARS]
    axes = _axes(figure, len(lines), left_in=3.6)
    covered = [min(s.short, s.ordered) for s in lines]
    rows = [(c, s.short - c) for c, s in zip(covered, lines, strict=True)]
    _stack(axes, rows, [("short, on order", _SHELF), ("short, not on order", _SHORT)])
    _names(axes, [f"{s.kind} {s.item_id}" for s in lines])
    for row, line in enumerate(lines):
        orders = f"{len(line.orders)} order{'s' if len(line.orders) > 1 else ''}"
        day = f", {line.covered_on.isoformat()}" if line.covered_on else ""
        axes.text(line.short + 0.03 * max(s.short for s in lines), row, orders + day, va="center", size=8, color=_INK)
    axes.set_xlim(0, 1.45 * max(s.short for s in lines))
    _whole(axes)
    _dress(axes, along="pieces short, with the orders held up and the day all are expected")
    _legend(axes, 2)
    return True


def _whole(axes: Axes) -> None:
    from matplotlib.ticker import MaxNLocator

    axes.xaxis.set_major_locator(MaxNLocator(integer=True))


def _reorder(figure: Figure, report: Report) -> bool:
    lines = [line for line in report.lines if line.order][:_MOST_BARS]
    if not lines:
        return False
    axes = _axes(figure, len(lines), left_in=3.6)
    free = [max(r.on_hand - r.held - r.needed, 0) for r in lines]
    _stack(
        axes,
        [(f, r.ordered, r.order) for f, r in zip(free, lines, strict=True)],
        [("free after open orders", _KEPT), ("on order", _SHELF), ("to order", _SHORT)],
    )
    axes.plot(
        [r.level for r in lines], range(len(lines)), "|", color=_INK, markersize=13, markeredgewidth=2.0,
        label="reorder below", zorder=5,
    )  # fmt: skip
    _names(axes, [f"{r.kind} {r.item_id}" for r in lines])
    _whole(axes)
    _dress(axes, along="pieces")
    _legend(axes, 4)
    return True


def _stand_ins(figure: Figure, report: Report) -> bool:
    measures = (
        ("off_expected_cpm", "frequency less expected, cpm", "o"),
        ("off_fitted_cpm", "frequency less the fitted club's, cpm", "s"),
        ("off_swingweight", "swingweight less expected, points", "D"),
    )
    lines = [s for s in report.lines if any(getattr(s, name) is not None for name, _, _ in measures)][:_MOST_BARS]
    if not lines:
        return False
    axes = _axes(figure, 2 * len(lines), left_in=3.6)
    axes.axvspan(-2.0, 2.0, color="#e8eef3", zorder=0, label="± 2 (frequency tolerance)")
    axes.axvline(0.0, color=_SOFT, linewidth=0.8)
    for number, (name, label, mark) in enumerate(measures):
        known = [(getattr(s, name), row) for row, s in enumerate(lines) if getattr(s, name) is not None]
        places = [row + 0.22 * (number - 1) for _, row in known]
        axes.plot([v for v, _ in known], places, mark, color=_INKS[number], label=label, markersize=7)
    _names(axes, [f"{s.club_id}\n{s.stand_in}" for s in lines])
    _dress(axes, along="off")
    _legend(axes, 2)
    return True


def _errors(figure: Figure, report: Report) -> bool:
    """Every measured value against its expectation, in build tolerances, by quantity and instrument."""
    points = report.more.get("readings", ())
    if not points:
        return False
    quantities = [q for q in TOLERANCES if any(p.quantity == q for p in points)]
    used = {q: sorted({p.instrument for p in points if p.quantity == q}) for q in quantities}
    instruments = sorted({p.instrument for p in points})
    axes = _axes(figure, 3 * len(quantities), left_in=1.6)
    axes.axvspan(-1.0, 1.0, color="#e8eef3", zorder=0, label="within tolerance")
    axes.axvline(0.0, color=_SOFT, linewidth=0.8)
    for number, instrument in enumerate(instruments):
        own = [p for p in points if p.instrument == instrument]
        lift = {
            q: 0.3 * (names.index(instrument) - 0.5 * (len(names) - 1))
            for q, names in used.items()
            if instrument in names
        }
        look: dict[str, Any] = {"color": _INKS[number % len(_INKS)], "marker": _MARKS[number % len(_MARKS)]}
        axes.plot(
            [p.in_tolerances for p in own], [quantities.index(p.quantity) + lift[p.quantity] for p in own],
            linestyle="none", markersize=5.5, markerfacecolor="white", label=instrument, **look,
        )  # fmt: skip
        for row, quantity in enumerate(quantities):
            some = [p.in_tolerances for p in own if p.quantity == quantity]
            if len(some) > 1:
                mean = sum(some) / len(some)
                axes.plot([mean], [row + lift[quantity]], linestyle="none", markersize=9, **look)
    _names(axes, [TOLERANCES[q].title for q in quantities])
    _dress(axes, along="measured less expected, in build tolerances; filled: mean of an instrument")
    _legend(axes, 3)
    return True


def _errors_in_time(figure: Figure, report: Report) -> bool:
    points = [p for p in report.more.get("readings", ()) if p.quantity == "frequency" and p.taken_on is not None]
    if len({p.taken_on for p in points}) < 2:
        return False
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    axes = _axes(figure, 9, left_in=0.9)
    axes.axhspan(-2.0, 2.0, color="#e8eef3", zorder=0, label="within 2 cpm")
    axes.axhline(0.0, color=_SOFT, linewidth=0.8)
    for number, instrument in enumerate(sorted({p.instrument for p in points})):
        own = [p for p in points if p.instrument == instrument]
        days: list[Any] = [p.taken_on for p in own]
        axes.plot(
            days, [p.off for p in own], linestyle="none", marker=_MARKS[number % len(_MARKS)],
            color=_INKS[number % len(_INKS)], label=instrument, markersize=6,
        )  # fmt: skip
    locator = AutoDateLocator()  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
    axes.set_ylabel("frequency less expected, cpm", color=_INK)
    _dress(axes, along="", grid="both")
    _legend(axes, 3)
    return True


_DRAWERS: dict[str, tuple[tuple[str, Callable[[Figure, Report], bool]], ...]] = {
    "open": (
        ("Open orders by the week they are wanted", _open_weeks),
        ("Parts of the open orders, those wanted first at the top", _open_orders),
    ),
    "shortages": (("What is short, and what it holds up", _shortages),),
    "reorder": (("What is there against the level at which it is reordered", _reorder),),
    "stand-ins": (("How the clubs with stand-ins measured", _stand_ins),),
    "errors": (
        ("Every measured value against what was expected", _errors),
        ("Frequency against expected, over time", _errors_in_time),
    ),
}
_ONE_BY_ONE = (_open_orders, _shortages, _reorder, _stand_ins)
