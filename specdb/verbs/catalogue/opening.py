"""Opening and making a catalogue."""

from __future__ import annotations

import os
from pathlib import Path

from specdb.catalogue import Catalogue
from specdb.paths import default_catalogue_path

WAIT_SECONDS = 20.0


def open(  # noqa: A001 (read as ``specdb.open``)
    path: str | os.PathLike[str] | None = None, *, wait_seconds: float = WAIT_SECONDS
) -> Catalogue:
    """The catalogue at a path; no file is touched until it is used.

    Parameters
    ----------
    path : path or None
        The file; where None, ``$SPECDB_CATALOGUE``, else the file in the user's data folder.
    wait_seconds : float
        How long to wait for others who use it, s.
    """
    return Catalogue(default_catalogue_path(path), wait_seconds=wait_seconds, after_shafts=_refresh)


def create(path: str | os.PathLike[str] | None = None) -> Catalogue:
    """Make an empty catalogue.

    Parameters
    ----------
    path : path or None
        As for :func:`open`.

    Raises
    ------
    CatalogueError
        If there is a file already, or the folder cannot be written.
    """
    made = Catalogue.create(default_catalogue_path(path))
    made.after_shafts = _refresh
    return made


def _refresh(catalogue: Catalogue) -> None:
    from specdb.verbs.stiffness.estimates import refresh_quietly

    refresh_quietly(catalogue)


def open_or_create(path: Path) -> tuple[Catalogue, bool]:
    """The catalogue at a path, made where there is none.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    catalogue : Catalogue
        The catalogue.
    made : bool
        Whether it is new.
    """
    if path.exists():
        return open(path), False
    return create(path), True
