"""Unit factors and the conventions of the bench, each in one place.

A factor turns one of the named unit into SI: ``length_in * IN`` is metres. International definitions (inch,
avoirdupois pound, standard gravity): NIST SP 811, appendix B.
"""

from __future__ import annotations

import math

# --- unit factors -----------------------------------------------------------------------------------------
IN = 0.0254  # m
LB = 0.45359237  # kg
OZ = LB / 16.0  # kg
GRAM = 1e-3  # kg
G = 9.80665  # m/s², standard gravity; also N per kgf
LBF = LB * G  # N
FT_LB = 12.0 * IN * LBF  # N·m
IN_OZ = IN * OZ  # kg·m: swing moments are mass times arm, without gravity
LBF_IN2 = LBF * IN * IN  # N·m², bending stiffness in imperial units
KGF_MM2 = G * 1e-6  # N·m², bending stiffness in gravitational metric units
KG_CM2 = 1e-4  # kg·m²
DEG = math.pi / 180.0  # rad
CPM_PER_HZ = 60.0

# --- swingweight (common practice, no source) -------------------------------------------------------------
FULCRUM_IN = 14.0  # from the butt end of the gripped club
SWINGWEIGHT_D0_IN_OZ = 213.5
SWINGWEIGHT_POINT_IN_OZ = 1.75

# --- bench and build conventions where nothing is known (common practice, no source) ----------------------
CLAMP_IN = 5.0  # clamped length of butt for frequency
HEAD_CG_WOOD_IN = 1.5  # centre of gravity beyond the mouth, woods and hybrids
HEAD_CG_IRON_IN = 2.0  # the same, irons and wedges
GRIP_LENGTH_IN = 10.5
GRIP_BALANCE_FRACTION = 0.4  # of the grip's length, from the cap
TORQUE_GAUGE_LESS_IN = 2.0  # gauge length of a torque rating is the raw length less this
TAPER_GROWTH_IN_PER_IN = 0.0075  # growth of a taper tip's diameter
