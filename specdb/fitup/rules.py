"""Figures of the Rules of Golf that a build can be held against.

References
----------
R&A and USGA, *Equipment Rules*, Part 2 (clubs), text as of 2019: length 2.1c, alignment 2.1d, attachment
2.2c, grip 2.3a, size of a wood head 2.4b; model local rule G-10 for the 46 in option. They change: check
the current edition.
"""

from __future__ import annotations

from dataclasses import dataclass, field

EDITION = "Equipment Rules, Part 2, 2019 text; check the current edition"

LENGTH_MIN_IN = 18.0
LENGTH_MAX_IN = 48.0  # putters exempt
LENGTH_LOCAL_RULE_IN = 46.0  # a committee may adopt it; putters exempt
PUTTER_LIE_MAX_DEG = 80.0  # the shaft at least 10° off vertical
NECK_MAX_IN = 5.0  # top of the neck or socket to the sole, along the axis
GRIP_LENGTH_MIN_IN = 7.0
GRIP_WIDTH_MAX_IN = 1.75
WOOD_VOLUME_MAX_CC = 460.0
WOOD_VOLUME_TOLERANCE_CC = 10.0

_ROUNDING = 1e-9


@dataclass(slots=True)
class Findings:
    """What holding a build against the rules brought.

    Attributes
    ----------
    breaches, remarks : list of str
        Sentences.
    figures : dict of str to float
        What was held against the rules; each key ends in its unit.
    missing : list of str
        Fields it would need.
    """

    breaches: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    figures: dict[str, float] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)


def hold_against_rules(
    *,
    club_type: str,
    playing_length_in: float | None,
    lie_deg: float | None,
    volume_cc: float | None,
    neck_in: float | None,
    grip_length_in: float | None,
    has_grip: bool,
) -> Findings:
    """Hold the figures of a build against the Rules of Golf.

    Parameters
    ----------
    club_type : str
        wood, hybrid, iron, wedge or putter.
    playing_length_in : float or None
        Finished length, in; None: not asked about.
    lie_deg : float or None
        Lie of the finished club, deg; needed for putters.
    volume_cc : float or None
        Volume of the head, cm³; needed for woods.
    neck_in : float or None
        From the top of the neck to the ground along the axis, in; None: not looked at.
    grip_length_in : float or None
        Length of the grip, in.
    has_grip : bool
        Whether a grip is asked about.
    """
    found = Findings()
    if playing_length_in is not None:
        _length(found, club_type, playing_length_in)
    if club_type == "putter":
        if lie_deg is None:
            found.missing.append("head.lie_deg")
        else:
            found.figures["lie_deg"] = lie_deg
            if lie_deg > PUTTER_LIE_MAX_DEG + _ROUNDING:
                found.breaches.append(f"putter lie {lie_deg:g}°: the shaft must be at least 10° off vertical (2.1d)")
    if club_type == "wood":
        _volume(found, volume_cc)
    if neck_in is not None:
        found.figures["neck_in"] = neck_in
        if neck_in > NECK_MAX_IN + _ROUNDING:
            found.breaches.append(f"neck {neck_in:.3g} in from its top to the sole, more than 5 in (2.2c)")
    if has_grip:
        if grip_length_in is None:
            found.missing.append("grip.length_in")
        else:
            found.figures["grip_length_in"] = grip_length_in
            if grip_length_in < GRIP_LENGTH_MIN_IN - _ROUNDING:
                found.breaches.append(f"grip {grip_length_in:g} in long, less than 7 in (2.3a)")
    return found


def _length(found: Findings, club_type: str, length_in: float) -> None:
    found.figures["playing_length_in"] = length_in
    if length_in < LENGTH_MIN_IN - _ROUNDING:
        found.breaches.append(f"playing length {length_in:g} in, less than 18 in (2.1c)")
    if club_type == "putter":
        return
    if length_in > LENGTH_MAX_IN + _ROUNDING:
        found.breaches.append(f"playing length {length_in:g} in, more than 48 in (2.1c)")
    elif length_in > LENGTH_LOCAL_RULE_IN + _ROUNDING:
        found.remarks.append("over 46 in: not allowed where model local rule G-10 is in force")


def _volume(found: Findings, volume_cc: float | None) -> None:
    if volume_cc is None:
        found.missing.append("head.volume_cc")
        return
    found.figures["volume_cc"] = volume_cc
    if volume_cc > WOOD_VOLUME_MAX_CC + WOOD_VOLUME_TOLERANCE_CC + _ROUNDING:
        found.breaches.append(f"head {volume_cc:g} cm³, more than 460 cm³ and 10 cm³ tolerance (2.4b)")
    elif volume_cc > WOOD_VOLUME_MAX_CC + _ROUNDING:
        found.remarks.append(f"head {volume_cc:g} cm³ lives on the 10 cm³ tolerance over 460 cm³")
