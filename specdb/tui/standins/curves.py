"""The installed profiles of fitted shaft and stand-in as curves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from specdb.tui.widgets.curves import Axis, Curve, Stroke

if TYPE_CHECKING:
    from specdb.verbs.stiffness.installed_profiles import ProfilePair

ALONG = Axis(0.0, 0.0, "in from hosel or adapter")


def stiffness_curves(pair: ProfilePair) -> list[Curve]:
    """Both stiffnesses with one standard deviation to either side.

    Parameters
    ----------
    pair : ProfilePair
        The profiles.
    """
    found = []
    for label, profile, stroke in (
        ("fitted", pair.fitted, Stroke.SOLID),
        ("stand-in", pair.stand_in, Stroke.DASHED),
    ):
        ei, sd = profile.ei_n_m2, profile.sd_n_m2
        found.append(
            Curve(label, profile.from_hosel_in.tolist(), ei.tolist(), (ei - sd).tolist(), (ei + sd).tolist(), stroke)
        )
    return found


def difference_curves(pair: ProfilePair) -> list[Curve]:
    """The stand-in's stiffness in percent of the fitted one's, less a hundred, with its doubt.

    Parameters
    ----------
    pair : ProfilePair
        The profiles.
    """
    difference, sd = pair.difference_pct
    x = pair.fitted.from_hosel_in.tolist()
    return [
        Curve("fitted", x, [0.0] * len(x), stroke=Stroke.DOTTED),
        Curve("stand-in", x, difference.tolist(), (difference - sd).tolist(), (difference + sd).tolist()),
    ]
