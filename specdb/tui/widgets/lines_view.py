"""Lines of text that are written anew often: laid out again only where their number changes."""

from __future__ import annotations

from collections.abc import Sequence

from textual.widgets import Static

from specdb.tui.widgets.prose import Line, content


class LinesView(Static):
    """Wrapped lines with the part each piece plays."""

    DEFAULT_CSS = """
    LinesView { height: auto; }
    """

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002 (as Textual's)
        super().__init__("", id=id, classes=classes, markup=False)
        self._lines: list[Line] = []

    def show(self, lines: Sequence[Line]) -> None:
        """Show lines; nothing is done where they are the same.

        Parameters
        ----------
        lines : sequence of Line
            The lines, wrapped.
        """
        fresh = [tuple(line) for line in lines]
        if fresh != self._lines:
            again = len(fresh) != len(self._lines)
            self._lines = fresh
            self.update(content(fresh), layout=again)

    @property
    def text(self) -> str:
        """What is shown, as plain text."""
        return "\n".join("".join(text for text, _ in line) for line in self._lines)
