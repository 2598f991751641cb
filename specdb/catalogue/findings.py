"""What a check of the catalogue reports."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that is not as it should be.

    Attributes
    ----------
    severity : {"error", "warning"}
        An error contradicts what the catalogue promises; a warning is worth a look.
    kind, key, field : str
        Where; empty where it concerns more than that.
    message : str
        A whole sentence.
    """

    severity: Literal["error", "warning"]
    kind: str
    key: str
    field: str
    message: str

    def __str__(self) -> str:
        where = " ".join(p for p in (self.kind, self.key) if p)
        return f"{self.severity}: {where + ': ' if where else ''}{self.message}"
