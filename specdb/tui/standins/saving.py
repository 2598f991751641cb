"""The comparison as a text file, or on paper."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import subprocess
from collections.abc import Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from specdb.errors import UsageError
from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.tui.standins.curves import ALONG, stiffness_curves
from specdb.tui.standins.words import comparison_lines, filter_line, reference_lines, title_line, work_lines
from specdb.tui.widgets.curves import Axis, draw
from specdb.tui.widgets.prose import Line

if TYPE_CHECKING:
    from specdb.matching.doubt import Doubt
    from specdb.matching.result import Substitute
    from specdb.tui.base import PlaceScreen
    from specdb.verbs.matching.substitutes import SearchOptions, SubstitutesAnswer
    from specdb.verbs.stiffness.installed_profiles import ProfilePair

WIDTH = 78
_PICTURE_HEIGHT = 22
_PRINTERS = ("lp", "lpr")
_PRINT_SECONDS = 20.0


def comparison_text(
    answer: SubstitutesAnswer,
    found: Substitute,
    pair: ProfilePair | None,
    doubt: Doubt | None,
    options: SearchOptions,
    day: dt.date,
) -> str:
    """One comparison as plain text: the fitted club, the stand-in, differences, profiles, work and cautions.

    Parameters
    ----------
    answer : SubstitutesAnswer
        The answer.
    found : Substitute
        The stand-in.
    pair : ProfilePair or None
        The two installed profiles, where they could be worked out.
    doubt : Doubt or None
        What the uncertainty is made of, where it was worked out.
    options : SearchOptions
        How it was looked for.
    day : date
        Day that stands on it.
    """
    parts: list[list[Line]] = [
        [(("STAND-IN COMPARISON", "head"),), ((f"made on {day.isoformat()}", "plain"),)],
        reference_lines(answer, WIDTH),
        [filter_line(options, answer, WIDTH)],
        [title_line(found, WIDTH)],
        comparison_lines(found, WIDTH, doubt, plain=True),
    ]
    text = "\n\n".join(_plain(lines) for lines in parts)
    text = text.replace("The round mark is inside, the diamond outside", "o is inside, X outside").replace(
        "the thick line is", "= is"
    )
    if pair is not None:
        text += "\n\n" + _picture(pair)
    return f"{text}\n\n{_plain(work_lines(found, WIDTH))}\n"


def _plain(lines: Iterable[Line]) -> str:
    return "\n".join("".join(text for text, _ in line).rstrip() for line in lines)


def _picture(pair: ProfilePair) -> str:
    up = Axis(0.0, 0.0, "installed stiffness EI, N.m2")
    picture = draw(stiffness_curves(pair), width=WIDTH, height=_PICTURE_HEIGHT, x=ALONG, y=up, plain=True)
    return f"{picture.text}\n(. and : show one standard deviation to either side)"


def ask_to_save(screen: PlaceScreen, name: str, text: str) -> None:
    """Save a text in a file, after asking for its name.

    Parameters
    ----------
    screen : PlaceScreen
        Where it was asked for.
    name : str
        Name of the file that is proposed.
    text : str
        The text.
    """
    dialog = WordsDialog(
        "Save the comparison as text",
        [Wanted("file", "file", str(Path.cwd() / name))],
        said="A file that is there already is not written over.",
        check=_wrong_file,
    )
    screen.app.push_screen(dialog, partial(_save, screen, text))


def _wrong_file(typed: Mapping[str, str]) -> str:
    path = Path(typed["file"]).expanduser()
    if not typed["file"]:
        return "Name a file."
    if path.exists():
        return f"There is a file {path} already; name another one."
    if not path.parent.is_dir():
        return f"There is no folder {path.parent}."
    return ""


def _save(screen: PlaceScreen, text: str, typed: Mapping[str, str] | None) -> None:
    if typed is None:
        return
    path = Path(typed["file"]).expanduser()

    def write() -> str:
        save_new(path, text)
        return f"Saved in {path}."

    screen.work(write, lambda said: screen.notify(said, markup=False), group="save", what="save the text", changes=True)


def save_new(path: Path, text: str) -> None:
    """Write a new file; what cannot be written whole is taken away again.

    Parameters
    ----------
    path : Path
        The file; must not be there.
    text : str
        What it is to hold.

    Raises
    ------
    UsageError
        If it is there, or cannot be written.
    """
    try:
        with path.open("x", encoding="utf-8") as file:
            try:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            except OSError:
                path.unlink(missing_ok=True)
                raise
    except FileExistsError as error:
        raise UsageError(f"there is a file {path} already") from error
    except OSError as error:
        raise UsageError(f"{path} cannot be written: {error.strerror}") from error


def printer() -> str | None:
    """The command that prints here; None where there is none."""
    return next((found for name in _PRINTERS if (found := shutil.which(name))), None)


def print_text(screen: PlaceScreen, text: str) -> None:
    """Send a text to the printer.

    Parameters
    ----------
    screen : PlaceScreen
        Where it was asked for.
    text : str
        The text.
    """
    command = printer()
    if command is None:
        screen.notify("There is no printer command (lp, lpr) on this machine; save it as a file instead.")
        return

    def send() -> str:
        try:
            done = subprocess.run(  # noqa: S603 (the system's own printer command, nothing from input)
                [command], input=text.encode(), capture_output=True, check=False, timeout=_PRINT_SECONDS
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise UsageError(f"the printer does not answer: {error}") from error
        if done.returncode:
            said = done.stderr.decode(errors="replace").strip() or f"exit status {done.returncode}"
            raise UsageError(f"it cannot be printed: {said}")
        return "Sent to the printer."

    screen.work(send, lambda said: screen.notify(said), group="print", what="print the text", changes=True)
