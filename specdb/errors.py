"""One error tree and the exit codes.

Every error the package raises is a :class:`SpecdbError` and, where one fits, also the builtin kind. Errors keep
their fields, so that a caller can point at the file, row and field, and they survive pickling.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum


class ExitCode(IntEnum):
    """What the command's exit status means."""

    DONE = 0
    NO = 1
    WRONG_USE = 2
    CATALOGUE = 3


def indefinite(word: str) -> str:
    """A word with its article: ``a head``, ``an iron``.

    Parameters
    ----------
    word : str
        A noun.
    """
    return f"{'an' if word[:1] in tuple('aeiou') else 'a'} {word}"


class SpecdbError(Exception):
    """Base of all errors; ``str`` of it is a plain sentence for the user."""

    exit_code: ExitCode = ExitCode.WRONG_USE
    title: str = "Cannot do that"


class InstallationError(SpecdbError, RuntimeError):
    """Files that ship with the package are missing or damaged."""

    exit_code = ExitCode.CATALOGUE
    title = "Installation"


class UnitError(SpecdbError, ValueError):
    """A quantity cannot be read in the unit asked for."""

    title = "Quantity"

    def __init__(self, message: str, text: str = "", unit: str = "") -> None:
        super().__init__(message, text, unit)
        self.text = text
        self.unit = unit

    def __str__(self) -> str:
        return str(self.args[0])


class UnknownKindError(SpecdbError, LookupError):
    """There is no such kind of thing in the catalogue."""

    title = "Unknown kind"

    def __init__(self, kind: str, known: Sequence[str]) -> None:
        super().__init__(kind, tuple(known))
        self.kind = kind
        self.known = tuple(known)

    def __str__(self) -> str:
        from difflib import get_close_matches

        word = self.kind.strip().lower().replace("-", "_").replace(" ", "_")
        if near := get_close_matches(word, self.known, n=3):
            return f"there is no kind '{self.kind}'; did you mean {' or '.join(near)}?"
        return f"there is no kind '{self.kind}'; there are: {', '.join(self.known)}"


class UnknownFieldError(SpecdbError, LookupError):
    """The kind has no such field."""

    title = "Unknown field"

    def __init__(self, kind: str, field: str, known: Sequence[str]) -> None:
        super().__init__(kind, field, tuple(known))
        self.kind = kind
        self.field = field
        self.known = tuple(known)

    def __str__(self) -> str:
        # loaded here, as it takes longer than most commands may wait for
        from difflib import get_close_matches

        near = get_close_matches(self.field, self.known, n=1)
        meant = f" (did you mean {near[0]}?)" if near else ""
        return f"{indefinite(self.kind)} has no field '{self.field}'{meant}; it has: {', '.join(self.known)}"


class NotFoundError(SpecdbError, LookupError):
    """Nothing in the catalogue has that key."""

    title = "Not in the catalogue"

    def __init__(self, kind: str, key: str, near: Sequence[str] = ()) -> None:
        super().__init__(kind, key, tuple(near))
        self.kind = kind
        self.key = key
        self.near = tuple(near)

    def __str__(self) -> str:
        hint = f"; did you mean {' or '.join(self.near)}?" if self.near else ""
        return f"there is no {self.kind} '{self.key}' in the catalogue{hint}"


class UsageError(SpecdbError, ValueError):
    """What was asked for does not make sense as asked."""

    title = "Wrong use"


class FieldError(SpecdbError, ValueError):
    """A value is not allowed in a field."""

    title = "Value not allowed"

    def __init__(
        self, message: str, *, kind: str = "", field: str = "", value: object = None, allowed: str = ""
    ) -> None:
        super().__init__(message)
        self.kind = kind
        self.field = field
        self.value = value
        self.allowed = allowed

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild_field_error, (str(self), self.kind, self.field, self.value, self.allowed))


def _rebuild_field_error(message: str, kind: str, field: str, value: object, allowed: str) -> FieldError:
    return FieldError(message, kind=kind, field=field, value=value, allowed=allowed)


class ImportFileError(SpecdbError, ValueError):
    """A file cannot be read as a table."""

    exit_code = ExitCode.NO
    title = "Import"

    def __init__(self, message: str, file: str = "", row: int | None = None, column: str | None = None) -> None:
        super().__init__(message, file, row, column)
        self.file = file
        self.row = row
        self.column = column

    def __str__(self) -> str:
        return str(self.args[0])


class CatalogueError(SpecdbError, RuntimeError):
    """The catalogue file is missing, damaged, too new or cannot be written."""

    exit_code = ExitCode.CATALOGUE
    title = "Catalogue"


class CatalogueMissingError(CatalogueError):
    """There is no catalogue file where one was looked for."""


class CatalogueBusyError(CatalogueError):
    """Another process held the catalogue for longer than the wait allows."""


class CatalogueDamagedError(CatalogueError):
    """The file is no catalogue, or is damaged."""


class CatalogueTooNewError(CatalogueError):
    """The file was written by a newer version of the package."""


class CatalogueFullError(CatalogueError):
    """The disk is full or the folder cannot be written."""


class ConflictError(SpecdbError, RuntimeError):
    """The row was changed by someone else, or is still referred to."""

    exit_code = ExitCode.NO
    title = "Conflict"


class MechanicsError(SpecdbError, ValueError):
    """The numbers given describe no shaft or no club that can be computed."""

    exit_code = ExitCode.NO
    title = "Mechanics"


class BuildError(MechanicsError):
    """The club cannot be built as asked: too short, trimmed away, impossible length."""

    title = "Build"


class MissingDataError(MechanicsError):
    """A value that the computation needs is not in the catalogue."""

    title = "Missing measurement"

    def __init__(self, message: str, missing: Sequence[str] = ()) -> None:
        super().__init__(message, tuple(missing))
        self.missing = tuple(missing)

    def __str__(self) -> str:
        return str(self.args[0])
