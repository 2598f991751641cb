"""Two worker threads, each with a single-threaded matrix product: threads of threads only wait for one another."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import lru_cache
from typing import Any

THREADS = 2


@lru_cache(maxsize=1)
def _controller() -> Any:  # noqa: ANN401 - the library ships no types
    from threadpoolctl import ThreadpoolController

    return ThreadpoolController()


@contextmanager
def single_threaded_products() -> Iterator[None]:
    """Let numpy's matrix products run on the calling thread alone."""
    with _controller().limit(limits=1, user_api="blas"):
        yield


def for_each(work: Callable[[int], None], items: Iterable[int]) -> None:
    """Do a piece of work for every item, on two threads.

    Parameters
    ----------
    work : callable
        Takes an item; must not touch what another item's work touches.
    items : iterable of int
        The items.
    """
    todo = list(items)
    with single_threaded_products():
        if len(todo) < 2:
            for item in todo:
                work(item)
            return
        with ThreadPoolExecutor(THREADS) as pool:
            list(pool.map(work, todo))
