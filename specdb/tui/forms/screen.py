"""The screen of a form: that of a fitted club works its numbers out, every other kind has the common one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from specdb.tui.forms.row_form import RowForm


def form_screen(kind: str, key: str | None = None, **arguments: Any) -> RowForm:  # noqa: ANN401 (as of the form)
    """Make the form of a row.

    Parameters
    ----------
    kind : str
        Kind of the row.
    key : str or None
        The row; None for a new one.
    **arguments
        As of :class:`specdb.tui.forms.row_form.RowForm`.
    """
    if kind == "club":
        from specdb.tui.clubs.form import ClubForm

        return ClubForm(key, **arguments)
    from specdb.tui.forms.row_form import RowForm

    return RowForm(kind, key, **arguments)
