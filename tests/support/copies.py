"""Catalogues that many tests start from: each is made once by a process of the tests, and copied from then on."""

from __future__ import annotations

import atexit
import functools
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from specdb.catalogue import Catalogue
from specdb.verbs.catalogue.demonstration import demo_catalogue


@functools.cache
def _folder() -> Path:
    folder = tempfile.mkdtemp(prefix="specdb-tests-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return Path(folder)


def made_once(make: Callable[..., object]) -> Callable[..., Catalogue]:
    """A function that makes a catalogue at a path, so that the same one is copied when it is asked for again.

    Parameters
    ----------
    make : callable
        Takes the path, and by name how it is made.
    """
    kept: dict[str, Path] = {}

    @functools.wraps(make)
    def copied(path: Path, **how: Any) -> Catalogue:
        name = repr(sorted(how.items()))
        if name not in kept:
            kept[name] = _folder() / f"{make.__module__}.{make.__qualname__}-{len(kept)}.duckdb"
            make(kept[name], **how)
        shutil.copy(kept[name], path)
        return Catalogue(path)

    return copied


@made_once
def demo_copy(path: Path) -> None:
    """A copy of the demonstration catalogue."""
    demo_catalogue(path)
