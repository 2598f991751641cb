"""The nearest buildable alternative to a fitted club.

Screening of all variants, exact refinement, ranking.
"""

from specdb.matching.index import MatchIndex, build_index
from specdb.matching.question import SubstituteQuestion
from specdb.matching.result import Substitute, SubstituteReport
from specdb.matching.substitutes import find_substitutes
from specdb.matching.weighting import Tolerances

__all__ = [
    "MatchIndex",
    "Substitute",
    "SubstituteQuestion",
    "SubstituteReport",
    "Tolerances",
    "build_index",
    "find_substitutes",
]
