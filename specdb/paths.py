"""Where the files that ship with the package lie, in a checkout and after an ordinary install."""

from __future__ import annotations

import os
from pathlib import Path

from specdb.errors import InstallationError

_PACKAGE = Path(__file__).resolve().parent
CATALOGUE_VARIABLE = "SPECDB_CATALOGUE"


def _shipped(name: str) -> Path:
    # A wheel carries the top-level folders inside the package; a checkout has them beside it.
    for candidate in (_PACKAGE / "_shipped" / name, _PACKAGE.parent / name):
        if candidate.is_dir():
            return candidate
    raise InstallationError(f"the folder '{name}' that ships with specdb is missing; install specdb again")


def data_schema_folder() -> Path:
    """Folder with the table descriptions (``data_schema/``).

    Raises
    ------
    InstallationError
        If the folder is missing.
    """
    return _shipped("data_schema")


def demo_catalog_folder() -> Path:
    """Folder with the invented demonstration catalogue (``demo_catalog/``).

    Raises
    ------
    InstallationError
        If the folder is missing.
    """
    return _shipped("demo_catalog")


def default_catalogue_path(given: str | os.PathLike[str] | None = None) -> Path:
    """Path of the catalogue file: as given, else from the environment, else in the user's data folder.

    Parameters
    ----------
    given : path or None
        What the user named with ``--catalogue``.
    """
    if given:
        return Path(given)
    named = os.environ.get(CATALOGUE_VARIABLE)
    if named:
        return Path(named)
    from platformdirs import user_data_path  # 10 ms, only when nothing else says where

    return user_data_path("specdb", appauthor=False) / "catalogue.duckdb"
