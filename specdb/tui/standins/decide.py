"""Choosing a stand-in or turning it down, with who and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.tui.widgets.words import remember_who, who
from specdb.units.writing import begun

if TYPE_CHECKING:
    from specdb.matching.result import Substitute
    from specdb.tui.base import PlaceScreen
    from specdb.tui.memory import Memory

CHOSEN, REJECTED = "chosen", "rejected"
NOT_LIKED = "the player did not like it"
_MOST_WHY = 1000
_MOST_BY = 120


def ask_decision(screen: PlaceScreen, club: str, found: Substitute, decision: str, *, now: Sequence[str] = ()) -> None:
    """Keep a decision about a stand-in, after asking who and why.

    Parameters
    ----------
    screen : PlaceScreen
        Where it was asked for.
    club : str
        Key of the fitted club.
    found : Substitute
        The stand-in.
    decision : str
        ``chosen`` or ``rejected``.
    now : sequence of str
        Shafts that are chosen for the club now, the latest first.
    """
    chosen = decision == CHOSEN
    said = (
        f"{found.shaft_id} with a tip trim of {found.tip_trim_in:g} in, score {found.score:.2f}. {_sentence(found)}"
        if chosen
        else f"{found.shaft_id} is not proposed for this club again."
    )
    if found.shaft_id in now:
        last = found.shaft_id == now[0]
        where = "It is the one chosen last" if last else f"It was chosen before; {now[0]} was chosen last"
        said += f" {where}." if chosen and last else f" {where}: {_THEN[chosen]}."
    elif chosen and now:
        said += f" Chosen before: {', '.join(now)}; the build sheet takes the one chosen last."
    draft = f"standins.{decision}/{club}/{found.shaft_id}"
    dialog = WordsDialog(
        f"{'Choose a stand-in for' if chosen else 'Turn down for'} {club}",
        who_and_why(screen.memory, "same feel, on the shelf" if chosen else NOT_LIKED),
        said=said,
        check=partial(wrong_words, of="this club"),
        draft=draft,
    )
    screen.app.push_screen(dialog, partial(_decided, screen, club, found, decision))


_THEN = {True: "choosing it again puts it first", False: "that choice is given up"}


def _sentence(found: Substitute) -> str:
    return f"{begun(found.summary)}."


def who_and_why(memory: Memory, example: str) -> list[Wanted]:
    """The two lines that every decision asks for; who is known is there already.

    Parameters
    ----------
    memory : Memory
        Has who decided last.
    example : str
        What a reason may sound like.
    """
    return [Wanted("by", "who decides", who(memory)), Wanted("why", "why", hint=f"e.g. {example}")]


def wrong_words(typed: Mapping[str, str], *, of: str) -> str:
    """What is wrong with who and why, in a sentence; empty if nothing is.

    Parameters
    ----------
    typed : mapping
        What is typed.
    of : str
        What is decided about, in words.
    """
    if not typed["why"]:
        return f"Say why, in a few words: the next one to look at {of} will ask."
    if len(typed["why"]) > _MOST_WHY or len(typed["by"]) > _MOST_BY:
        return f"At most {_MOST_WHY} letters of why and {_MOST_BY} of who can be kept."
    return ""


def _decided(screen: PlaceScreen, club: str, found: Substitute, decision: str, typed: Mapping[str, str] | None) -> None:
    if typed is None:
        return
    catalogue = screen.desk.catalogue
    remember_who(screen.memory, typed["by"])

    def keep() -> str:
        from specdb.verbs.catalogue.changing import decide

        chosen = decision == CHOSEN
        decide(
            catalogue,
            club,
            found.shaft_id,
            decision,
            tip_trim_in=found.tip_trim_in if chosen else None,
            score=round(found.score, 6) if chosen else None,
            by=typed["by"] or None,
            why=typed["why"],
        )
        return f"{found.shaft_id} {'is chosen' if chosen else 'is turned down'} for {club}."

    screen.work(keep, partial(_tell, screen), group="decide", what="keep the decision", changes=True)


def _tell(screen: PlaceScreen, said: str) -> None:
    screen.notify(f"{said} Ctrl+z takes it back.", title="Kept", markup=False)
