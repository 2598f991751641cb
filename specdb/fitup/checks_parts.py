"""Checks of parts that must belong together: connection, hand, adapter setting, club type."""

from __future__ import annotations

from specdb.errors import indefinite
from specdb.fitup.question import FitQuestion
from specdb.fitup.report import Check, CheckVerdict


def connection(question: FitQuestion) -> Check:
    """Whether head and adapter have the same connection.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    head, adapter = question.head, question.adapter
    if adapter is None:
        if not head.connection:
            return Check("connection", CheckVerdict.FITS, "glued head, no adapter")
        return Check(
            "connection",
            CheckVerdict.DOES_NOT_FIT,
            f"head {head.id} takes an adapter of connection '{head.connection}', and none is named",
        )
    if not head.connection:
        return Check(
            "connection",
            CheckVerdict.DOES_NOT_FIT,
            f"head {head.id} is glued: it takes no adapter ({adapter.id})",
        )
    if adapter.connection == head.connection:
        return Check("connection", CheckVerdict.FITS, f"head and adapter have connection '{head.connection}'")
    return Check(
        "connection",
        CheckVerdict.DOES_NOT_FIT,
        f"adapter {adapter.id} has connection '{adapter.connection}', the head '{head.connection}'",
    )


def hand(question: FitQuestion) -> Check:
    """Whether the head is for the player's hand.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    head = question.head
    if question.hand is None or question.hand == head.hand:
        return Check("hand", CheckVerdict.FITS, f"head for the {head.hand} hand")
    return Check(
        "hand",
        CheckVerdict.DOES_NOT_FIT,
        f"head for the {head.hand} hand, wanted for the {question.hand} hand",
    )


def adapter_hand(question: FitQuestion) -> Check | None:
    """Whether the adapter goes in a head of that hand; None without an adapter.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    adapter = question.adapter
    if adapter is None:
        return None
    if adapter.hand is None:
        return Check(
            "adapter_hand",
            CheckVerdict.UNKNOWN,
            f"for which hand adapter {adapter.id} is made is unknown",
            missing=("adapter.hand",),
        )
    good = adapter.hand in ("either", question.head.hand)
    return Check(
        "adapter_hand",
        CheckVerdict.FITS if good else CheckVerdict.DOES_NOT_FIT,
        f"adapter for {adapter.hand}, head for {question.head.hand}",
    )


def adapter_setting(question: FitQuestion) -> Check | None:
    """Whether the wanted setting exists; None where no setting is asked for.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    name, wanted, adapter = "adapter_setting", question.setting, question.adapter
    if wanted is None:
        return None
    if adapter is None:
        return Check(name, CheckVerdict.DOES_NOT_FIT, f"setting '{wanted}' is asked for and no adapter is named")
    known = [s.setting for s in question.settings if s.adapter_id == adapter.id]
    if wanted in known:
        return Check(name, CheckVerdict.FITS, f"adapter {adapter.id} has setting '{wanted}'")
    if not known:
        return Check(
            name,
            CheckVerdict.UNKNOWN,
            f"no settings of adapter {adapter.id} are recorded",
            missing=("adapter_setting.setting",),
        )
    return Check(
        name,
        CheckVerdict.DOES_NOT_FIT,
        f"adapter {adapter.id} has no setting '{wanted}'; it has {', '.join(known)}",
    )


def club_type(question: FitQuestion) -> Check:
    """Whether shaft and head are for one kind of club; a warning, no refusal.

    Parameters
    ----------
    question : FitQuestion
        The build.
    """
    shaft, head = question.shaft.club_type, question.head.club_type
    if shaft == head:
        return Check("club_type", CheckVerdict.FITS, f"{head} shaft, {head} head")
    return Check(
        "club_type", CheckVerdict.WARNING, f"a shaft sold as {indefinite(shaft)} shaft for {indefinite(head)} head"
    )
