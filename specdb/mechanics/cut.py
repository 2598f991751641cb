"""Where the shaft is cut: lengths of a build, in inches as the bench measures them.

``cut length = playing length - grip cap - bottom of bore to ground``; a tip that stops short of the bottom of the bore
sits that much higher, so the cut length is shorter by the difference. Playing length by the Rules of Golf (to where the
sole meets a 60° plane) and the length along the axis to the ground are taken as one.
"""

from __future__ import annotations

from dataclasses import dataclass

from specdb.errors import BuildError, MissingDataError
from specdb.records.rows import Adapter, Grip, Head


@dataclass(frozen=True, slots=True)
class Bored:
    """The hole that the tip goes in.

    Attributes
    ----------
    depth_in, to_ground_in : float
        Depth, and how far its bottom is from the ground, in.
    above_hosel_in : float
        How far its mouth lies above the mouth of the hosel; an adapter's seat rests on that, in.
    """

    depth_in: float
    to_ground_in: float
    above_hosel_in: float = 0.0


@dataclass(frozen=True, slots=True)
class Cut:
    """Lengths of a build, in.

    Attributes
    ----------
    insertion_in, cut_length_in, exposed_length_in, grip_cap_in : float
        Of the cut shaft; none depends on which shaft it is.
    above_bottom_in : float
        How far the tip sits above the bottom of the bore.
    """

    insertion_in: float
    cut_length_in: float
    exposed_length_in: float
    grip_cap_in: float
    above_bottom_in: float

    def butt_trim_in(self, raw_length_in: float, tip_trim_in: float) -> float:
        """What comes off the butt; negative where the shaft is too short by that much.

        Parameters
        ----------
        raw_length_in, tip_trim_in : float
            Of the shaft.
        """
        return raw_length_in - tip_trim_in - self.cut_length_in


def bored(head: Head, adapter: Adapter | None) -> Bored:
    """Depth of the bore and distance of its bottom to the ground.

    Parameters
    ----------
    head : Head
        The head.
    adapter : Adapter or None
        The adapter of a head with a connection.

    Raises
    ------
    MissingDataError
        If a measurement is missing; ``missing`` names it.
    BuildError
        If the head has a connection and no adapter is given, or the reverse.
    """
    if head.connection and adapter is None:
        raise BuildError(f"head {head.id} takes a '{head.connection}' adapter: name the adapter")
    if adapter is not None and not head.connection:
        raise BuildError(f"head {head.id} is glued: it takes no adapter")
    if adapter is None:
        values = {"head.bore_depth_in": head.bore_depth_in, "head.bore_to_ground_in": head.bore_to_ground_in}
        depth, ground = head.bore_depth_in, head.bore_to_ground_in
    else:
        values = {
            "adapter.bore_depth_in": adapter.bore_depth_in,
            "adapter.bore_to_seat_in": adapter.bore_to_seat_in,
            "head.seat_to_ground_in": head.seat_to_ground_in,
        }
        depth = adapter.bore_depth_in
        seat, bottom = head.seat_to_ground_in, adapter.bore_to_seat_in
        ground = None if seat is None or bottom is None else seat + bottom
    missing = [name for name, value in values.items() if value is None]
    if depth is None or ground is None:
        raise MissingDataError(f"the cut length needs {', '.join(missing)}", missing)
    above = 0.0 if adapter is None or adapter.bore_to_seat_in is None else adapter.bore_to_seat_in + depth
    return Bored(depth, ground, above)


def cut(hole: Bored, playing_length_in: float, insertion_in: float | None, grip: Grip | None) -> Cut:
    """Lengths of a build.

    Parameters
    ----------
    hole : Bored
        From :func:`bored`.
    playing_length_in : float
        Finished length.
    insertion_in : float or None
        How deep the tip sits; the full bore depth where None.
    grip : Grip or None
        The grip; its cap counts where it is known.

    Raises
    ------
    BuildError
        If the tip is to sit deeper than the bore is, or nothing of the shaft is left outside.
    """
    insertion = hole.depth_in if insertion_in is None else insertion_in
    if insertion > hole.depth_in + 1e-9:
        raise BuildError(f"the tip cannot sit {insertion:g} in deep in a bore of {hole.depth_in:g} in")
    if insertion <= 0:
        raise BuildError(f"an insertion of {insertion:g} in holds no shaft")
    cap = grip.cap_in if grip is not None and grip.cap_in is not None else 0.0
    above = hole.depth_in - insertion
    length = playing_length_in - cap - hole.to_ground_in - above
    if length - insertion < 10.0:
        raise BuildError(
            f"a playing length of {playing_length_in:g} in leaves {length - insertion:.2f} in of shaft outside "
            "the head: at least 10 in are needed"
        )
    return Cut(insertion, length, length - insertion, cap, above)
