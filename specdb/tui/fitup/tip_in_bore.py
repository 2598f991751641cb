"""Tip in bore, drawn to scale in characters, with its figures beside it.

A section through the axis: the mouth of the bore at the top, its bottom below, the wall to both sides. Down
and across each have one scale of their own; across is enlarged so that a clearance of 0.002 in is seen, and
the middle of the shaft is left out. Every half column and half row is looked at by its centre, so an edge
stands within a quarter of a column (or row) of its number. Nothing is told by colour alone: the wall is
solid, the tip dotted with a solid skin, a sleeve half dense with one, a ferrule dense; where tip and wall want the same
place there are crosses.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from specdb.tui.fitup.tip_scene import Place, Scene

COLUMN_IN = (0.0005, 0.001, 0.002, 0.005, 0.01)  # in of radius a column
ROWS_PER_IN = (32, 24, 20, 16, 12, 10, 8, 6, 5, 4, 3, 2)
LABELS = 46  # columns of figures
MIDDLE = 3  # columns for the axis, where the middle of the shaft is left out
_CORE, _WALL_COLUMNS = 2, 2  # columns of shaft and of wall that are seen at least
_MOST_CORE, _MOST_WALL = 5, 3
_ROWS_ABOVE, _ROWS_FLOOR = 2, 1.5
_FRAME = 3  # a line of headings above, two of scales below

EMPTY, WALL, TIP, SKIN, SLEEVE, SLEEVE_SKIN, FERRULE, CLASH = range(8)
ROLES = ("plain", "wall", "tip", "tip", "sleeve", "sleeve", "ferrule", "clash")
_INK = (WALL, SKIN, SLEEVE_SKIN)
_SHADE = {EMPTY: " ", TIP: "░", SLEEVE: "▒", FERRULE: "▓"}
_QUADRANTS = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"  # by bits: top left 1, top right 2, bottom left 4, bottom right 8
Cells = npt.NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class Run:
    """A piece of a line of one role: ``plain``, ``wall``, ``tip``, ``sleeve``, ``ferrule``, ``clash`` or ``bad``."""

    text: str
    role: str


@dataclass(frozen=True, slots=True)
class Scales:
    """Where numbers stand in the drawing.

    Attributes
    ----------
    column_in : float
        Radius a column, in.
    rows_per_in : int
        Rows an inch of depth.
    core_in : float
        Radius at which the drawing begins, beside the middle that is left out, in.
    half_columns : int
        Columns on either side of the middle.
    rows_above : int
        Rows above the mouth.
    rows : int
        Rows of the drawing.
    """

    column_in: float
    rows_per_in: int
    core_in: float
    half_columns: int
    rows_above: int
    rows: int

    @property
    def width(self) -> int:
        """Columns of the drawing."""
        return 2 * self.half_columns + MIDDLE

    @property
    def enlarged(self) -> float:
        """How many times larger across than down, a row taken as high as two columns are wide."""
        return 1.0 / (2.0 * self.rows_per_in * self.column_in)

    def column_of(self, radius_in: float) -> float:
        """Columns from the left edge of the right half to a radius.

        Parameters
        ----------
        radius_in : float
            Radius, in.
        """
        return (radius_in - self.core_in) / self.column_in

    def row_of(self, depth_in: float) -> float:
        """Rows from the top of the drawing to a depth below the mouth.

        Parameters
        ----------
        depth_in : float
            Depth, in.
        """
        return self.rows_above + depth_in * self.rows_per_in


@dataclass(frozen=True, slots=True)
class Picture:
    """A finished drawing.

    Attributes
    ----------
    lines : tuple of tuple of Run
        Line by line: headings, the drawing with its figures, scales.
    scales : Scales
        Of the drawing.
    first_row : int
        Line on which the drawing begins.
    """

    lines: tuple[tuple[Run, ...], ...]
    scales: Scales
    first_row: int = 1

    @property
    def text(self) -> str:
        """The whole as plain text."""
        return "\n".join("".join(run.text for run in line).rstrip() for line in self.lines)


def draw(scene: Scene, width: int = 78, height: int = 16) -> Picture:
    """Draw a tip in its bore.

    Parameters
    ----------
    scene : Scene
        What to draw.
    width, height : int
        Columns and lines there are; at least 72 by 12 are taken.
    """
    scales = scales_for(scene, max(width, 72) - LABELS - 1, max(height, 12) - _FRAME)
    half = _half(scene, scales)
    labels = _labels(scene, scales)
    lines: list[tuple[Run, ...]] = [(Run(" " * (scales.width + 1), "plain"), Run(_headings(scene), "head"))]
    for row in range(scales.rows):
        beside = labels.get(row)
        pair = half[2 * row : 2 * row + 2]
        lines.append((*_merged(_line(pair)), Run(" ", "plain"), *([] if beside is None else [beside])))
    lines += [(Run(text, "note"),) for text in _scale_lines(scene, scales)]
    return Picture(tuple(lines), scales)


def scales_for(scene: Scene, columns: int, rows: int) -> Scales:
    """The finest scales at which everything that matters is seen.

    Parameters
    ----------
    scene : Scene
        What to draw.
    columns, rows : int
        Room for the drawing.
    """
    deepest = max(scene.insertion_in, scene.depth_in if math.isfinite(scene.depth_in) else 0.0)
    room = rows - _ROWS_ABOVE - _ROWS_FLOOR
    per_in = next((n for n in ROWS_PER_IN if deepest * n <= room), ROWS_PER_IN[-1])
    low, high = _radii(scene)
    half = (columns - MIDDLE) // 2
    fits = (c for c in COLUMN_IN if (high - low) / c + _CORE + _WALL_COLUMNS <= half)
    column = next(fits, COLUMN_IN[-1])
    span = math.ceil((high - low) / column)
    wall = min(_MOST_WALL, max(half - span - _CORE, _WALL_COLUMNS))
    core = min(_MOST_CORE, max(half - span - wall, _CORE))
    half = min(half, core + span + wall)
    above = rows - math.ceil(deepest * per_in + _ROWS_FLOOR)
    # an edge of the grid on a round number keeps the picture still while the trim changes
    start = math.floor(low / column) * column - core * column
    return Scales(column, per_in, start, half, min(above, 6), rows - above + min(above, 6))


def _radii(scene: Scene) -> tuple[float, float]:
    """Smallest and largest radius to be seen, in: of the raw tip, the tip as cut, sleeve and bore."""
    depths = np.linspace(0.0, scene.insertion_in, 9)
    raw = scene.seat.tip.tip_dia_in[0] / 2.0
    inner, outer = scene.sleeve_radii_in(depths)
    found = np.concatenate([[raw], scene.tip_radius_in(depths), scene.bore_radius_in(depths), inner, outer])
    return float(np.nanmin(found)), float(np.nanmax(found))


def _half(scene: Scene, scales: Scales) -> Cells:
    """The right half of the drawing by half rows and half columns."""
    depth = (np.arange(2 * scales.rows) + 0.5) / (2 * scales.rows_per_in) - scales.rows_above / scales.rows_per_in
    radius = scales.core_in + (np.arange(2 * scales.half_columns) + 0.5) * scales.column_in / 2.0
    r, d = radius[None, :], depth[:, None]
    cells = np.full((len(depth), len(radius)), EMPTY, dtype=np.int8)
    bore = scene.bore_radius_in(depth)[:, None]
    wall = (r >= bore) & (d >= 0.0)
    floor = (d > scene.depth_in) & (d > 0.0)  # of an unknown depth there is no floor
    cells[wall | floor] = WALL
    inner, outer = (side[:, None] for side in scene.sleeve_radii_in(depth))
    sleeve = (r >= inner) & (r < outer)
    cells[sleeve] = np.where(_inside(sleeve) & _inside(sleeve[:, ::-1])[:, ::-1], SLEEVE, SLEEVE_SKIN)[sleeve]
    ferrule = scene.question.ferrule
    if ferrule is not None:
        length = math.inf if ferrule.length_in is None else ferrule.length_in
        cells[(r >= ferrule.inner_dia_in / 2.0) & (d < 0.0) & (d >= -length)] = FERRULE
    tip = r < scene.tip_radius_in(depth)[:, None]
    clash = (tip & (wall | floor | sleeve)) | (sleeve & (wall | floor))
    cells[tip] = TIP
    cells[tip & ~_inside(tip)] = SKIN
    cells[clash] = CLASH
    return cells


def _inside(solid: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Where a solid goes on to the right and downward; the edge of the drawing is no end of it."""
    padded = np.pad(solid, ((0, 1), (0, 1)), mode="edge")
    return np.asarray(padded[:-1, 1:] & padded[1:, :-1], dtype=np.bool_)


def _line(pair: Cells) -> Iterator[Run]:
    """One line: the left half mirrored, the axis, the right half."""
    columns = pair.shape[1] // 2
    for c in reversed(range(columns)):
        yield _cell(pair[:, 2 * c : 2 * c + 2][:, ::-1])
    yield Run(" ┊ ", "axis")
    for c in range(columns):
        yield _cell(pair[:, 2 * c : 2 * c + 2])


def _cell(four: Cells) -> Run:
    """One character from its four quarters."""
    quarters = [int(q) for q in four.ravel()]
    if quarters.count(CLASH) >= 2:
        return Run("╳", ROLES[CLASH])
    if CLASH in quarters:
        others = [q for q in quarters if q != CLASH]
        quarters[quarters.index(CLASH)] = max(others, key=others.count)
    ink = [i for i, q in enumerate(quarters) if q in _INK]
    if ink:
        materials = [quarters[i] for i in ink]
        most = max(set(materials), key=materials.count)
        return Run(_QUADRANTS[sum(1 << i for i in ink)], ROLES[most])
    most = max(sorted(set(quarters), reverse=True), key=quarters.count)
    return Run(_SHADE[most], ROLES[most])


def _merged(runs: Iterator[Run]) -> list[Run]:
    """Neighbours of one role joined."""
    found: list[Run] = []
    for run in runs:
        if found and found[-1].role == run.role:
            found[-1] = Run(found[-1].text + run.text, run.role)
        else:
            found.append(run)
    return found


def _headings(scene: Scene) -> str:
    hole = "bore" if scene.question.sleeve is None else "hole"
    part = "tip" if scene.question.sleeve is None else "part"
    return f"{'diameters, inch':<17}{hole:>7}{part:>8}{'clear':>8}"


def _labels(scene: Scene, scales: Scales) -> dict[int, Run]:
    """Figures by row, each as near to its place as there is room."""
    wanted = [(scales.row_of(p.depth_in), _figures(p)) for p in scene.places()]
    wanted += [(row, Run(text, "note")) for row, text in _notes(scene, scales)]
    wanted.sort(key=lambda item: item[0])
    rows: dict[int, Run] = {}
    after = 0
    for i, (row, run) in enumerate(wanted):
        at = min(max(int(row), after), scales.rows - (len(wanted) - i))
        rows[at] = run
        after = at + 1
    return rows


def _figures(place: Place) -> Run:
    def number(value: float, width: int) -> str:
        return f"{'?':>{width}}" if math.isnan(value) else f"{value:>{width}.4f}"

    text = f"{place.name:<17}{number(place.hole_in, 7)}{number(place.part_in, 8)}{number(place.clearance_in, 8)}"
    return Run(f"{text} {place.verdict}".rstrip(), "plain" if place.verdict == "ok" else "bad")


def _notes(scene: Scene, scales: Scales) -> Iterator[tuple[float, str]]:
    """Sentences beside the drawing, with the row they belong to."""
    end = scales.row_of(scene.insertion_in)
    ferrule, shaft = scene.question.ferrule, scene.question.shaft
    if ferrule is not None:
        play = ferrule.inner_dia_in - 2.0 * float(scene.tip_radius_in(np.zeros(1))[0])
        if math.isfinite(play):
            how = f"{-play:.4f} pressed" if play < 0 else f"{play:.4f} play"
            yield scales.rows_above - 1, f"ferrule hole {ferrule.inner_dia_in:.4f}, {how}"
    growth = shaft.tip_growth_in_per_in
    if growth:
        left = scene.parallel_left_in
        if shaft.tip_form == "taper":
            yield 0.0, f"tip grows {growth:.4f} in per in"
        elif left == 0.0:
            yield 0.0, f"no parallel part left: grows {growth:.4f} in per in"
        elif math.isfinite(left):
            yield 0.0, f"parallel for {left:.2f} in from the tip end,"
            yield 0.1, f"then growing {growth:.4f} in per in"
    yield end + 0.01, f"insertion {scene.insertion_in:.3f} in"
    under = scene.under_tip_in
    if math.isnan(under):
        yield end + 1.0, "depth of the bore unknown"
    else:
        below = f"{under:.3f} in under the tip" if under > 1e-6 else "tip on the bottom"
        below = f"tip {-under:.3f} in too deep" if under < -1e-6 else below
        yield scales.row_of(scene.depth_in) + 0.02, f"bore {scene.depth_in:.3f} in deep, {below}"


def _scale_lines(scene: Scene, scales: Scales) -> list[str]:
    limits = scene.question.gap_limits
    across = f"1 column = {scales.column_in:g} in of radius, 1 row = 1/{scales.rows_per_in} in"
    allowed = f"allowed clearance {limits.clearance_min_in:.4f} to {limits.clearance_max_in:.4f} in"
    return [
        f"{across}: across enlarged {scales.enlarged:.0f} times",
        f"middle of the shaft left out; {allowed}",
    ]
