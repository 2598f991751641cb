"""The stiffness of a shaft along its length as a curve to be drawn, with its band and the readings it went through.

Places are inches from the raw tip, or from the cut tip once a curve has been cut; stiffness is EI in N·m².
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING

from specdb.errors import BuildError

if TYPE_CHECKING:
    from specdb.profiles.estimate import ProfileEstimate
    from specdb.verbs.stiffness.profiles import ProfileAnswer
    from specdb.verbs.stiffness.text_plot import TextMark

BAND = 0.90  # of the nominal shaft's true stiffness lies within the band
Y_TITLE = "EI, N·m²"
FROM_RAW_TIP, FROM_CUT_TIP = "distance from the raw tip, in", "distance from the cut tip, in"
STATION, OUTLIER = "o", "X"
DRAWN_WITH = "⣿│┤└─┬"  # a terminal that cannot show these gets letters
_POINTS = 181
THIRDS = ("tip third", "middle third", "butt third")


@dataclass(frozen=True, slots=True)
class Station:
    """A reading of EI at a place.

    Attributes
    ----------
    name : str
        What to call it in front of a person.
    place_in : float
        Where, in.
    ei_n_m2 : float
        What it reads.
    off : float
        How far off it is, in standard deviations.
    outlier : bool
        Whether that is to be asked about.
    """

    name: str
    place_in: float
    ei_n_m2: float
    off: float
    outlier: bool


@dataclass(frozen=True, slots=True)
class ShaftCurve:
    """Stiffness along one shaft.

    Attributes
    ----------
    name : str
        The shaft.
    place_in, ei_n_m2, low_n_m2, high_n_m2 : tuple of float
        Points of the estimate and of its band.
    stations : tuple of Station
        Readings of EI.
    of_thirds : tuple of (float, float), or empty
        Mean and standard deviation over the tip, middle and butt third of the raw shaft, N·m².
    cut : bool
        Whether places count from the cut tip.
    """

    name: str
    place_in: tuple[float, ...]
    ei_n_m2: tuple[float, ...]
    low_n_m2: tuple[float, ...]
    high_n_m2: tuple[float, ...]
    stations: tuple[Station, ...] = ()
    of_thirds: tuple[tuple[float, float], ...] = ()
    cut: bool = False

    @property
    def length_in(self) -> float:
        """Length of what is drawn, in."""
        return self.place_in[-1] - self.place_in[0]

    @property
    def thirds(self) -> tuple[tuple[float, float, str], ...]:
        """Where each third begins and ends, in, with its name; none of a cut shaft."""
        third = self.length_in / 3.0
        return () if self.cut else tuple((i * third, (i + 1) * third, name) for i, name in enumerate(THIRDS))

    def trimmed(self, tip_trim_in: float, cut_length_in: float) -> ShaftCurve:
        """What is left of the shaft in a club, with places from the cut tip.

        Parameters
        ----------
        tip_trim_in : float
            Cut off the tip, in.
        cut_length_in : float
            Length that is left, in.

        Raises
        ------
        BuildError
            If the shaft is shorter than that.
        """
        end = tip_trim_in + cut_length_in
        if tip_trim_in < 0.0 or cut_length_in <= 0.0 or end > self.place_in[-1] + 1e-6:
            raise BuildError(
                f"{cut_length_in:g} in behind {tip_trim_in:g} in of tip trim do not lie on {self.name}, "
                f"which is {self.place_in[-1]:g} in long"
            )
        inside = [p for p in self.place_in if tip_trim_in < p < end]
        at = (tip_trim_in, *inside, end)
        curves = (self.ei_n_m2, self.low_n_m2, self.high_n_m2)
        ei, low, high = (tuple(_between(p, self.place_in, c) for p in at) for c in curves)
        return replace(
            self,
            place_in=tuple(p - tip_trim_in for p in at),
            ei_n_m2=ei,
            low_n_m2=low,
            high_n_m2=high,
            stations=tuple(
                replace(s, place_in=s.place_in - tip_trim_in) for s in self.stations if tip_trim_in <= s.place_in <= end
            ),
            of_thirds=(),
            cut=True,
        )


def _between(place: float, places: Sequence[float], values: Sequence[float]) -> float:
    from bisect import bisect_right

    i = min(max(bisect_right(places, place), 1), len(places) - 1)
    part = (place - places[i - 1]) / (places[i] - places[i - 1])
    return values[i - 1] + min(max(part, 0.0), 1.0) * (values[i] - values[i - 1])


def curve_of(estimate: ProfileEstimate, name: str | None = None, piece: str | None = None) -> ShaftCurve:
    """The curve of an estimated shaft, with its 90 % band.

    Parameters
    ----------
    estimate : ProfileEstimate
        The estimate.
    name : str or None
        What to call it; its key where None.
    piece : str or None
        A measured piece; the nominal shaft where None.

    Raises
    ------
    NotFoundError
        If the piece was not measured.
    """
    import numpy as np

    from specdb.mechanics.constants import IN

    # points fall on the nodes too, where the curve has its kinks
    place = np.linspace(0.0, estimate.raw_m, _POINTS)
    ei, log_sd = estimate.band(place, piece)
    reach = NormalDist().inv_cdf(0.5 + 0.5 * BAND) * log_sd
    stations = (
        Station(e.name, e.place_m / IN, e.value, e.off, e.outlier)
        for e in estimate.evidence
        if e.place_m is not None and (piece is None or e.piece in (None, piece))
    )
    return ShaftCurve(
        name=estimate.shaft_id if name is None else name,
        place_in=tuple((place / IN).tolist()),
        ei_n_m2=tuple(ei.tolist()),
        low_n_m2=tuple((ei * np.exp(-reach)).tolist()),
        high_n_m2=tuple((ei * np.exp(reach)).tolist()),
        stations=tuple(stations),
    )


def curve_of_answer(answer: ProfileAnswer) -> ShaftCurve:
    """The curve of an answer of :func:`specdb.verbs.stiffness.profiles.profile_of`, means over the thirds with it.

    Parameters
    ----------
    answer : ProfileAnswer
        The answer.
    """
    thirds = tuple((t.ei_n_m2, t.sd_n_m2) for t in answer.thirds.values())
    return replace(curve_of(answer.estimate), of_thirds=thirds)


def text_picture(curves: Sequence[ShaftCurve], *, width: int, height: int = 18, plain: bool = False) -> list[str]:
    """Curves over one another as lines of text.

    Parameters
    ----------
    curves : sequence of ShaftCurve
        One or more, all cut or all raw; the first is drawn unbroken.
    width : int
        Columns.
    height : int
        Rows of the field.
    plain : bool
        Whether only ASCII may be used for the drawing.

    Raises
    ------
    BuildError
        If some are cut and some are raw.
    """
    from specdb.verbs.stiffness.text_plot import TextCurve, draw

    title = x_title(curves)
    lines = [TextCurve(c.place_in, c.ei_n_m2, c.low_n_m2, c.high_n_m2) for c in curves]
    zones = curves[0].thirds if len(curves) == 1 else ()
    return draw(
        lines, _marks(curves), width=width, height=height, x_title=title, y_title=Y_TITLE, zones=zones, plain=plain
    )


def key_of(curves: Sequence[ShaftCurve], *, plain: bool = False) -> str:
    """What is what in a text picture, in a sentence.

    Parameters
    ----------
    curves : sequence of ShaftCurve
        What was drawn.
    plain : bool
        Whether it was drawn in ASCII.
    """
    strokes = ("*", "+", "%") if plain else ("unbroken", "dashed", "short dashes")
    if len(curves) == 1:
        parts = [f"{strokes[0]}: the estimate"]
    else:
        parts = [f"{stroke}: {c.name}" for stroke, c in zip(strokes, curves, strict=False)]
    parts.append(f"{'.' if plain else 'dotted'}: {100.0 * BAND:.0f} % band")
    stations = _shown(curves)
    if any(not s.outlier for s in stations):
        parts.append(f"{STATION}: EI reading")
    if any(s.outlier for s in stations):
        parts.append(f"{OUTLIER}: EI reading to be asked about")
    return f"{'; '.join(parts)}."


def _marks(curves: Sequence[ShaftCurve]) -> list[TextMark]:
    from specdb.verbs.stiffness.text_plot import TextMark

    # an outlier is never hidden behind another mark
    return [
        TextMark(s.place_in, s.ei_n_m2, OUTLIER if s.outlier else STATION)
        for s in sorted(_shown(curves), key=lambda s: s.outlier)
    ]


def _shown(curves: Sequence[ShaftCurve]) -> list[Station]:
    """Readings that a text picture has room for: where several curves run, outliers only."""
    return [s for c in curves for s in c.stations if s.outlier or len(curves) == 1]


def x_title(curves: Sequence[ShaftCurve]) -> str:
    """What the lengths count from.

    Parameters
    ----------
    curves : sequence of ShaftCurve
        The curves that are drawn over one another.

    Raises
    ------
    BuildError
        If some are cut and some are raw.
    """
    if len({c.cut for c in curves}) > 1:
        raise BuildError("a cut and a raw shaft cannot be drawn over one another: cut both or none")
    return FROM_CUT_TIP if curves[0].cut else FROM_RAW_TIP
