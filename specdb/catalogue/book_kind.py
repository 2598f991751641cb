"""Spreadsheet files that are not what their ending says, or are damaged inside: found before they are laid out.

The library that reads spreadsheets waits for ever on an ODS table that never ends, and says little about files that are
protected or renamed; so what a file is, is looked at first.
"""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path
from xml.parsers import expat

from specdb.errors import ImportFileError

_OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ZIP = b"PK"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_PIECE = 1 << 20
_MANIFEST = "META-INF/manifest.xml"
_DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError)


def refuse_foreign(file: str, path: Path) -> None:
    """Refuse a spreadsheet file that is none by its contents, or has a password.

    Parameters
    ----------
    file : str
        The file, for messages.
    path : Path
        Where it lies.

    Raises
    ------
    ImportFileError
        With what to do about it.
    """
    try:
        with path.open("rb") as stream:
            head = stream.read(_PIECE)
            protected = head.startswith(_OLD) and _ENCRYPTED in head + stream.read()
    except OSError as error:
        raise ImportFileError(f"{file} cannot be read: {error.strerror}", file) from error
    if not head:
        raise ImportFileError(f"{file} is empty", file)
    if protected:
        raise ImportFileError(f"{file} is protected by a password; save it without one", file)
    if head.startswith(_OLD):
        raise ImportFileError(f"{file} is an old spreadsheet (.xls) by its contents; save it as .xlsx", file)
    if not head.startswith(_ZIP):
        text = b"\x00" not in head
        hint = "; it looks like text: if it is a table, give it the ending .csv" if text else ""
        raise ImportFileError(f"{file} is no spreadsheet by its contents{hint}", file)
    if not zipfile.is_zipfile(path):
        raise ImportFileError(f"{file} is damaged: a part of it is missing", file)


def refuse_broken(file: str, path: Path) -> None:
    """Refuse an ODS file with a password, or whose contents break off.

    Parameters
    ----------
    file : str
        The file, for messages.
    path : Path
        Where it lies; it is a zip container.

    Raises
    ------
    ImportFileError
        If it cannot be read, or not to its end.
    """
    try:
        with zipfile.ZipFile(path) as box:
            if _MANIFEST in box.namelist() and b"encryption-data" in box.read(_MANIFEST):
                raise ImportFileError(f"{file} is protected by a password; save it without one", file)
            if "content.xml" in box.namelist():
                _walk(box, "content.xml")
    # an encoding that is not known is a LookupError, one that cannot be used a ValueError
    except (expat.ExpatError, LookupError, ValueError) as error:
        if isinstance(error, ImportFileError):
            raise
        raise ImportFileError(f"{file} is damaged: its contents break off or make no sense ({error})", file) from error
    except OSError as error:
        raise ImportFileError(f"{file} cannot be read: {error.strerror or error}", file) from error
    except _DAMAGED as error:
        raise ImportFileError(f"{file} is damaged: {' '.join(str(error).split())[:160]}", file) from error


def _walk(box: zipfile.ZipFile, name: str) -> None:
    """Read a part to its end as XML, keeping nothing."""
    parser = expat.ParserCreate()
    with box.open(name) as part:
        while piece := part.read(_PIECE):
            parser.Parse(piece, False)
    parser.Parse(b"", True)
