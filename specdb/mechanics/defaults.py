"""Standard deviations and values taken where the catalogue gives none, in one place, each with its reason.

They are stated judgements (common practice, no source), not measurements of any product; a reading's own ``sd``
always wins. Everything taken from here that is a *value* is reported in the result's list of assumptions.
"""

from __future__ import annotations

# --- single readings: standard deviation by quantity -------------------------------------------------------
EI_PUBLISHED_REL = 0.03  # a leaflet's table: read off a curve, rounded
EI_MEASURED_REL = 0.02  # three-point bending on a shop's jig
WEIGHT_PUBLISHED_G = 1.0  # leaflets give a nominal weight; pieces scatter about it
WEIGHT_MEASURED_G = 0.2
BALANCE_PUBLISHED_IN = 0.15
BALANCE_MEASURED_IN = 0.05
TORQUE_PUBLISHED_DEG = 0.20
TORQUE_MEASURED_DEG = 0.10
FREQUENCY_CPM = 1.0
DEFLECTION_MM = 0.5
OUTSIDE_DIAMETER_IN = 0.0005

# --- piece to piece: what one table says about another piece of the same shaft -----------------------------
EI_PIECE_REL = 0.015  # whole profile up or down together
WEIGHT_PIECE_G = 0.5
BALANCE_PIECE_IN = 0.05
TORQUE_PIECE_DEG = 0.05

# --- what a straight line of mass and GJ that follows EI leave out of a cut shaft: measured on shafts drawn as tubes
WEIGHT_LINE_G = 0.2
BALANCE_LINE_IN = 0.06
TORQUE_LINE_REL = 0.02

# --- two-figure stiffness: a straight line through two figures ---------------------------------------------
TWO_FIGURE_COMMON_REL = 0.10  # the level of both figures
TWO_FIGURE_SHAPE_REL = 0.12  # departure of a real profile from the straight line
TWO_FIGURE_SHAPE_LENGTH_IN = 10.0  # how far along the shaft such a departure reaches
TWO_FIGURE_TIP_AT_IN = 6.0  # where a tip figure applies when nobody says
TWO_FIGURE_BUTT_FROM_END_IN = 8.0  # where a butt figure applies, from the raw butt end

# --- the build ---------------------------------------------------------------------------------------------
HEAD_WEIGHT_SD_G = 0.5
GRIP_WEIGHT_SD_G = 1.0
SMALL_PART_SD_G = 0.1
HEAD_CG_SD_IN = 0.3  # of the usual place of a head's centre of gravity, taken where nobody says
GRIP_BALANCE_SD_IN = 0.3  # the same of a grip
LENGTH_SD_IN = 1.0 / 32.0
BALANCE_UNKNOWN_FRACTION = 0.015  # of the raw length, where the mass line is taken as uniform

# --- preparation limits ------------------------------------------------------------------------------------
MAX_TIP_TRIM_PARALLEL_IN = 2.0  # where the maker gives no limit
MAX_TIP_TRIM_TAPER_IN = 0.0  # taper tips are cut at the butt only
MAX_HEAD_ADD_G = 20.0  # weight that a head may take in the shaft tip, the hosel or its ports
HEAD_ADD_OVER_FITTED_G = 6.0  # what a stand-in may take beyond the fitted club, where that already takes much
FERRULE_WEIGHT_G = 0.0  # no ferrule named: none is weighed

# --- profiles from partial data ----------------------------------------------------------------------------
EI_PIECE_TILT_REL = 0.0075  # tip against butt, from piece to piece
WEIGHT_PIECE_REL = 0.007  # from piece to piece
DIAMETER_REL = 0.002  # how well a published diameter is held
LENGTH_REL = 0.0005  # the same of a raw length
EI_BETWEEN_NODES_REL = 0.012  # of EI at a place: ends of plies that straight lines between nodes cannot show
EI_BETWEEN_NODES_STEEL_REL = 0.022  # the same for steel: step-downs of some eight percent, uniform about their mean

# --- finished clubs: what is not known when the frequency of one is read ------------------------------------
CLUB_HEAD_SD_G = 1.5  # head as listed, weight added as planned; a head that was weighed with what was added has less
CLUB_HEAD_WEIGHED_SD_G = 0.3
CLUB_HEAD_CG_SD_IN = 0.10  # centre of gravity as listed
CLUB_HEAD_CG_UNKNOWN_SD_IN = 0.4  # usual place taken
CLUB_FREQUENCY_REL = 0.005  # clamp and glue that give, the head no point, tip trim and depth of the tip as planned


def head_add_limit_g(fitted_g: float) -> float:
    """Most weight that a build may take at the head, g: the usual one, or somewhat more than the fitted club takes.

    Parameters
    ----------
    fitted_g : float
        What the fitted club takes, g.
    """
    return max(MAX_HEAD_ADD_G, fitted_g + HEAD_ADD_OVER_FITTED_G)
