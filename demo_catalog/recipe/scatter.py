"""Scatter that is the same on every machine: drawn from a digest of names, not from a random generator."""

from __future__ import annotations

import hashlib

_PARTS = 12
_BYTES = 5


def _digest(key: tuple[object, ...], size: int) -> bytes:
    return hashlib.blake2b("|".join(map(str, key)).encode("utf-8"), digest_size=size).digest()


def uniform(*key: object) -> float:
    """A number from 0 to 1 that belongs to a name.

    Parameters
    ----------
    *key : object
        The name, in parts.
    """
    return int.from_bytes(_digest(key, 6), "big") / 256.0**6


def normal(*key: object) -> float:
    """A number that belongs to a name, as from a normal distribution of mean 0 and standard deviation 1.

    Parameters
    ----------
    *key : object
        The name, in parts.

    References
    ----------
    Sum of twelve uniform numbers less six (Irwin and Hall); never beyond six.
    """
    raw = _digest(key, _PARTS * _BYTES)
    parts = (int.from_bytes(raw[i * _BYTES : (i + 1) * _BYTES], "big") for i in range(_PARTS))
    return sum(p / 256.0**_BYTES for p in parts) - _PARTS / 2.0


def seldom(share: float, *key: object) -> bool:
    """Whether a name is among a share of all names.

    Parameters
    ----------
    share : float
        From 0 to 1.
    *key : object
        The name, in parts.
    """
    return uniform(*key) < share
