"""Signs as people and programs type them, made plain, before anything is read from them."""

from __future__ import annotations

from specdb.errors import UnitError

PLAIN_SIGNS = str.maketrans(
    {"\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2212": "-", "\u2010": "-", "\u2011": "-", "\u2013": "-",
     "″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", "⁄": "/", "×": "*", "⋅": "·", "∙": "·", "•": "·"}
)  # fmt: skip
LONGEST = 100  # characters; nothing that is a quantity is longer, and patterns stay quick


def tidied(text: object, unit: str = "") -> str:
    """What is written, in plain signs and without white space around it.

    Parameters
    ----------
    text : object
        As typed.
    unit : str
        The stored unit, for the message.

    Raises
    ------
    UnitError
        If it is too long to be a number, a quantity or a day.
    """
    plain = str(text).translate(PLAIN_SIGNS).strip()
    if len(plain) > LONGEST:
        raise UnitError(f"'{shortened(str(text))}' is too long to be a value", str(text), unit)
    return plain


def shortened(text: str) -> str:
    """A text short enough to stand in a message.

    Parameters
    ----------
    text : str
        As typed.
    """
    return text if len(text) <= 40 else text[:39] + "…"
