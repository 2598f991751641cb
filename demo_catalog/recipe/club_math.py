"""A cut, glued and gripped club in numbers, for what a fitter would have written on the sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from recipe.beam import CLAMP_IN, IN, IN_OZ, Blank, kick_point_pct, lowest_frequency_cpm


@dataclass(frozen=True)
class Setup:
    """The club around a shaft: lengths in inches, weights in grams.

    Attributes
    ----------
    length_in, ground_in, insertion_in : float
        Playing length, bottom of bore to ground, insertion.
    head_g, cg_in : float
        Head weight with what is added, and its centre of gravity beyond the mouth.
    trim_in : float
        Tip trim.
    mouth_g : float
        Adapter, sleeve, ferrule.
    cap_in, grip_g, grip_balance_in : float
        Grip.
    """

    length_in: float
    ground_in: float
    insertion_in: float
    head_g: float
    cg_in: float
    trim_in: float = 0.0
    mouth_g: float = 0.0
    cap_in: float = 0.1
    grip_g: float = 50.0
    grip_balance_in: float = 4.2

    @property
    def cut_in(self) -> float:
        """Cut length, in."""
        return self.length_in - self.cap_in - self.ground_in

    @property
    def mouth_in(self) -> float:
        """Mouth of the bore, in from the raw tip end."""
        return self.trim_in + self.insertion_in

    @property
    def clamp_face_in(self) -> float:
        """Clamp face, in from the raw tip end."""
        return self.trim_in + self.cut_in - CLAMP_IN


def frequency_cpm(blank: Blank, setup: Setup) -> float:
    """Frequency of a club without grip, in the usual clamp.

    Parameters
    ----------
    blank : Blank
        The shaft.
    setup : Setup
        The rest.
    """
    return lowest_frequency_cpm(
        blank,
        setup.mouth_in,
        setup.clamp_face_in,
        setup.mouth_g / 1000.0,
        setup.head_g / 1000.0,
        setup.cg_in * IN,
        setup.insertion_in,
    )


def kick_pct(blank: Blank, setup: Setup) -> float:
    """Kick point in percent of the free length from the mouth.

    Parameters
    ----------
    blank : Blank
        The shaft.
    setup : Setup
        The rest.
    """
    return kick_point_pct(blank, setup.mouth_in, setup.clamp_face_in)


def swing_points(blank: Blank, setup: Setup) -> float:
    """Swingweight in points above D0 (213.5 in·oz, 1.75 in·oz a point, fulcrum 14 in from the butt).

    Parameters
    ----------
    blank : Blank
        The shaft.
    setup : Setup
        The rest.
    """
    s = np.linspace(setup.trim_in, setup.trim_in + setup.cut_in, 481)
    mass = np.interp(s, blank.s_in, blank.mass)
    butt = setup.cap_in + setup.trim_in + setup.cut_in - s
    middle = 0.5 * ((mass * (butt - 14.0))[1:] + (mass * (butt - 14.0))[:-1])
    shaft = float(np.sum(middle * np.diff(s))) * IN * IN
    mouth = setup.cap_in + setup.cut_in - setup.insertion_in
    others = (
        setup.head_g * (mouth + setup.cg_in - 14.0)
        + setup.mouth_g * (mouth - 14.0)
        + setup.grip_g * (setup.grip_balance_in - 14.0)
    )
    return ((shaft + others / 1000.0 * IN) / IN_OZ - 213.5) / 1.75


def swingweight_text(points: float) -> str:
    """Letter and points, to half a point.

    Parameters
    ----------
    points : float
        Above D0.
    """
    halves = round(points * 2.0)
    letter = "ABCDEFG"[3 + halves // 20]
    left = halves % 20
    return f"{letter}{left // 2}" if left % 2 == 0 else f"{letter}{left // 2}.5"
