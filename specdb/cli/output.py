"""Writing answers: JSON, sentences and tables that fit the terminal.

Answers go to standard output; notes, questions and progress go to standard error. Nothing is said by colour
alone, and there is no colour where ``NO_COLOR`` is set or the output is no terminal.
"""

from __future__ import annotations

import json
import math
import os
import shutil
import sys
import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from typing import TextIO

USUAL_WIDTH = 80
_NARROWEST = 40


def width() -> int:
    """Columns to write in: ``COLUMNS``, else the terminal's, else 80."""
    return max(_NARROWEST, shutil.get_terminal_size((USUAL_WIDTH, 24)).columns)


def printable(text: str) -> str:
    """The text with control characters made visible, so that no stored value can steer the terminal.

    Parameters
    ----------
    text : str
        One line.
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c == "\u200d" else " " if c in "\t\n\r" else repr(c)[1:-1] for c in text)


def text_width(text: str) -> int:
    """Columns a text takes in a terminal.

    Parameters
    ----------
    text : str
        One line.
    """
    if text.isascii():
        return len(text)
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def heading(text: str, stream: TextIO | None = None) -> str:
    """The text in bold where the stream is a terminal that takes it.

    Parameters
    ----------
    text : str
        One line.
    stream : text stream or None
        Where it is written; standard output where None.
    """
    target = stream or sys.stdout
    plain = "NO_COLOR" in os.environ or os.environ.get("TERM") == "dumb" or not target.isatty()
    return text if plain else f"\x1b[1m{text}\x1b[0m"


def can_show(signs: str) -> bool:
    """Whether standard output can show signs that are no letters; a console without a font for them cannot.

    Parameters
    ----------
    signs : str
        Some of them.
    """
    if os.environ.get("TERM") in ("dumb", "linux"):
        return False
    try:
        signs.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return False
    return True


def line(text: str = "") -> None:
    """Write one line to standard output.

    Parameters
    ----------
    text : str
        The line.
    """
    sys.stdout.write(text + "\n")


def section(title: str) -> None:
    """Write a heading with an empty line before it.

    Parameters
    ----------
    title : str
        The heading.
    """
    line()
    for one in wrapped(title):
        line(heading(one))


def title(text: str) -> None:
    """Write a heading broken to the width of the terminal.

    Parameters
    ----------
    text : str
        The heading.
    """
    for one in wrapped(text, hanging="  "):
        line(heading(one))


def wrapped(text: str, *, indent: str = "", hanging: str | None = None) -> list[str]:
    """Break a sentence to the width of the terminal.

    Parameters
    ----------
    text : str
        The sentence.
    indent, hanging : str
        Put before the first line and before the others.
    """
    return textwrap.wrap(
        printable(text),
        width(),
        initial_indent=indent,
        subsequent_indent=indent if hanging is None else hanging,
        break_long_words=False,
        break_on_hyphens=False,
    ) or [indent]


def sentence(text: str, *, indent: str = "", hanging: str | None = None) -> None:
    """Write a sentence, broken to the width of the terminal.

    Parameters
    ----------
    text : str
        The sentence.
    indent, hanging : str
        Put before the first line and before the others.
    """
    for one in wrapped(text, indent=indent, hanging=hanging):
        line(one)


def bullets(items: Iterable[str]) -> None:
    """Write sentences as a list.

    Parameters
    ----------
    items : iterable of str
        The sentences.
    """
    for item in items:
        sentence(item, indent="- ", hanging="  ")


def note(text: str) -> None:
    """Write a note to standard error; broken only for a person at a terminal, as it may name a file.

    Parameters
    ----------
    text : str
        A sentence.
    """
    lines = wrapped(printable(text)) if sys.stderr.isatty() else [printable(text)]
    sys.stderr.write("\n".join(lines) + "\n")
    sys.stderr.flush()


def emit_json(answer: object) -> None:
    """Write an answer as JSON to standard output; numbers that are none become null.

    Parameters
    ----------
    answer : object
        Mappings, sequences, text, numbers, days, None.
    """
    encoding = (sys.stdout.encoding or "ascii").lower().replace("-", "")
    quick = _quick_json(answer) if encoding == "utf8" else None
    if quick is not None:
        line(quick)
        return
    text = json.dumps(_plain(answer), indent=2, ensure_ascii=encoding != "utf8", allow_nan=False)
    # a lone surrogate (an argument that was no text) has no UTF-8 form, but has a JSON one
    line(text if text.isascii() or not _has_surrogate(text) else json.dumps(_plain(answer), indent=2))


def _quick_json(answer: object) -> str | None:
    """The same much faster, for long answers; None where a value needs the careful way."""
    import msgspec

    try:
        return msgspec.json.format(msgspec.json.encode(answer), indent=2).decode()
    except (TypeError, ValueError):
        return None


def _has_surrogate(text: str) -> bool:
    return any("\ud800" <= c <= "\udfff" for c in text)


def _plain(value: object) -> object:
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if hasattr(value, "isoformat"):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no place in an answer")


def cell(value: object) -> str:
    """A stored value as text for a table; empty where unknown.

    Parameters
    ----------
    value : object
        From the catalogue.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return number(value)
    return printable(str(value))


def number(value: float | None, decimals: int | None = None) -> str:
    """A number for a table; ``-`` where there is none.

    Parameters
    ----------
    value : float or None
        The number.
    decimals : int or None
        Decimals; six significant figures where None.
    """
    if value is None or not math.isfinite(value):
        return "-"
    text = f"{value:.7g}" if decimals is None else f"{value:.{decimals}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def signed(value: float | None, decimals: int) -> str:
    """A difference with its sign.

    Parameters
    ----------
    value : float or None
        The difference.
    decimals : int
        Decimals.
    """
    text = number(value, decimals)
    return text if text.startswith("-") or not text.strip("0.") else f"+{text}"


def plural(count: int, one: str, many: str | None = None) -> str:
    """A count with its word.

    Parameters
    ----------
    count : int
        How many.
    one, many : str
        The word for one, and for more (``one`` with an s where None).
    """
    return f"{count} {one if count == 1 else many or one + 's'}"


def join(words: Sequence[str], last: str = "and") -> str:
    """Words as a list in a sentence.

    Parameters
    ----------
    words : sequence of str
        The words.
    last : str
        Put before the last one.
    """
    from specdb.units.writing import listed

    return listed(words, last)
