"""The one place where errors become a sentence on standard error and an exit status."""

from __future__ import annotations

import codecs
import contextlib
import io
import os
import sys
import traceback
import warnings
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from specdb.errors import CatalogueMissingError, ExitCode, SpecdbError

if TYPE_CHECKING:
    from specdb.cli.base import Settings

# as shells report a process that a signal ended
INTERRUPTED = 128 + 2
PIPE_CLOSED = 128 + 13

_HOW_TO_MAKE_ONE = (
    "Name another with --catalogue, or make one: 'specdb import', 'specdb set --new' and 'specdb restore' do; "
    "'specdb demo' makes an invented one to try."
)
_SUBSTITUTE = {
    "±": "+/-",
    "·": ".",
    "²": "2",
    "³": "3",
    "°": " deg",
    "Δ": "d",
    "≤": "<=",
    "≥": ">=",
    "\u2013": "-",
    "\u2014": "-",
    "…": "...",
    "\u00d7": "x",
    "√": "sqrt",
    "→": "->",
    "\u2019": "'",
}


def _spell_out(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    text = error.object[error.start : error.end]
    spelled = (_SUBSTITUTE.get(c) or c.encode("ascii", "backslashreplace").decode() for c in text)
    return "".join(spelled), error.end


def prepare_streams() -> None:
    """Make sure that no character can fail to be written, whatever the terminal's encoding."""
    codecs.register_error("specdb.spell_out", _spell_out)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="specdb.spell_out")


def guarded(work: Callable[[], Any], chosen: Settings) -> int:
    """Do the work; turn whatever goes wrong into a sentence and an exit status.

    Parameters
    ----------
    work : callable
        The command.
    chosen : Settings
        Settings of the run; ``debug`` shows the traceback.

    Returns
    -------
    int
        The exit status.
    """
    prepare_streams()
    try:
        with warnings.catch_warnings():
            if not sys.warnoptions:
                warnings.simplefilter("ignore")
            status = work()
        sys.stdout.flush()
    except BaseException as error:  # noqa: BLE001 (the last resort: every error must end as a sentence)
        return _report(error, chosen)
    return int(status) if isinstance(status, int) else int(ExitCode.DONE)


def _report(error: BaseException, chosen: Settings) -> int:
    if isinstance(error, BrokenPipeError):
        # whoever read our output has gone; nothing more may be written at exit
        _discard_output()
        return PIPE_CLOSED
    with contextlib.suppress(OSError):
        sys.stdout.flush()
    if chosen.debug and not isinstance(error, SystemExit | click.exceptions.Exit):
        traceback.print_exception(error)
    if _was_interrupt(error):
        _say("Stopped.")
        return INTERRUPTED
    if isinstance(error, click.exceptions.Exit):
        return int(error.exit_code)
    if isinstance(error, SystemExit):
        return error.code if isinstance(error.code, int) else int(ExitCode.WRONG_USE)
    if isinstance(error, click.ClickException):
        return _wrong_use(error)
    if isinstance(error, SpecdbError):
        _say(f"{error.title}: {error}")
        if isinstance(error, CatalogueMissingError) and str(chosen.path) in str(error):
            _say(_HOW_TO_MAKE_ONE)
        return int(error.exit_code)
    return _unexpected(error)


def _was_interrupt(error: BaseException) -> bool:
    if isinstance(error, KeyboardInterrupt | click.Abort):
        return True
    # DuckDB makes this of an interrupt that comes while it works
    return isinstance(error, RuntimeError) and str(error) == "Query interrupted"


def _wrong_use(error: click.ClickException) -> int:
    context = getattr(error, "ctx", None)
    if context is not None:
        _say(context.get_usage())
    _say(f"Wrong use: {_sentence(' '.join(error.format_message().split()))}")
    if context is not None and context.command_path:
        _say(f"Try '{context.command_path} --help'.")
    return int(ExitCode.WRONG_USE)


def _unexpected(error: BaseException) -> int:
    # not 1: a script must never take a failure for the answer "no"
    if isinstance(error, MemoryError):
        _say("Failed: there is not enough memory for this.")
    elif isinstance(error, RecursionError):
        _say("Failed: what was given is nested too deeply.")
    elif isinstance(error, OSError) and error.strerror:
        where = f"{error.filename}: " if error.filename else ""
        _say(f"Failed: {where}{error.strerror}.")
    else:
        first = str(error).strip().splitlines()
        detail = f": {first[0][:200]}" if first else ""
        _say(f"Failed: an error inside specdb ({type(error).__name__}{detail}).")
    _say("Run the same command with --debug to see more.")
    _discard_output()
    return int(ExitCode.CATALOGUE)


def _sentence(text: str) -> str:
    return text if text.endswith((".", "?", "!", "\n")) else f"{text}."


def _say(text: str) -> None:
    from specdb.cli.output import printable, wrapped

    with contextlib.suppress(OSError, ValueError):
        lines = [printable(line) for line in text.splitlines()]
        if sys.stderr.isatty():
            lines = [part for line in lines for part in wrapped(line) or [""]]
        sys.stderr.write("\n".join(lines) + "\n")
        sys.stderr.flush()


def _discard_output() -> None:
    # the interpreter flushes standard output at exit, which would fail once more
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
