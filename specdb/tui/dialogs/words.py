"""A few lines to type in, one under the other: who and why, a name, a file. What is half typed is kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widgets import Input, Label, Static

from specdb.tui.actions import Action
from specdb.tui.base import Dialog
from specdb.tui.frame import KeyLine


@dataclass(frozen=True, slots=True)
class Wanted:
    """One line to type in.

    Attributes
    ----------
    name, label : str
        Its name, and what stands before it.
    text : str
        What stands in it at first.
    hint : str
        What stands in it while it is empty.
    """

    name: str
    label: str
    text: str = ""
    hint: str = ""


class WordsDialog(Dialog[Mapping[str, str] | None]):
    """Lines to type in; closes with what is typed, or with None.

    Parameters
    ----------
    title : str
        Title of the dialog.
    wanted : sequence of Wanted
        The lines.
    said : str
        A sentence above them.
    check : callable or None
        Given what is typed, says in a sentence what is wrong; empty if nothing is.
    draft : str or None
        Name under which what is half typed is kept.
    understood : callable or None
        Given what is typed, says how it is understood; shown as one types.
    """

    place = "typed words"
    ACTIONS = (
        Action("take", "ctrl+s", "keep", "Take what is typed; enter on the last line does it too."),
        Action("give_up", "escape", "back", "Close; what is half typed is kept."),
    )
    DEFAULT_CSS = """
    WordsDialog > .dialog { width: 72; }
    WordsDialog Horizontal { height: 1; }
    WordsDialog Label { width: 18; color: $quiet; }
    WordsDialog Input { width: 1fr; border: none; height: 1; padding: 0 1; background: $panel; }
    WordsDialog Input:focus { border: none; background: $boost; text-style: bold; }
    WordsDialog Input > .input--placeholder { color: $quiet; text-style: not bold italic; }
    WordsDialog Static { height: auto; }
    WordsDialog #wrong { color: $error; text-style: bold; min-height: 1; }
    """

    def __init__(
        self,
        title: str,
        wanted: Sequence[Wanted],
        *,
        said: str = "",
        check: Callable[[Mapping[str, str]], str] | None = None,
        draft: str | None = None,
        understood: Callable[[Mapping[str, str]], str] | None = None,
    ) -> None:
        super().__init__()
        self._understood = understood
        self._heading = title
        self._wanted = tuple(wanted)
        self._said = said
        self._check = check
        self._draft = draft

    def compose(self) -> ComposeResult:
        """The lines."""
        held = self.memory.draft(self._draft) or {} if self._draft else {}
        with VerticalScroll(classes="dialog", can_focus=False) as box:
            box.border_title = self._heading
            if self._said:
                yield Static(self._said, markup=False)
                yield Static("")
            for line in self._wanted:
                with Horizontal():
                    yield Label(line.label, markup=False)
                    yield Input(
                        held.get(line.name) or line.text,
                        placeholder=line.hint,
                        id=f"word-{line.name}",
                        compact=True,
                    )
            if self._understood is not None:
                yield Static(self._understood({n.name: n.text for n in self._wanted}), id="understood", markup=False)
            yield Static("", id="wrong", markup=False)
            yield KeyLine(self.place)

    def on_mount(self) -> None:
        """Begin at the first empty line."""
        inputs = list(self.query(Input))
        # at once, so that no key goes to the first line before
        self.set_focus(next((i for i in inputs if not i.value), inputs[-1]))

    @property
    def typed(self) -> dict[str, str]:
        """What is typed, by name."""
        return {line.name: self.query_one(f"#word-{line.name}", Input).value.strip() for line in self._wanted}

    @on(Input.Changed)
    def _changed(self) -> None:
        if self._draft:
            self.memory.keep_draft(self._draft, self.typed)
        self.query_one("#wrong", Static).update("")
        if self._understood is not None:
            self.query_one("#understood", Static).update(Content(self._understood(self.typed)))

    @on(Input.Submitted)
    def _submitted(self, message: Input.Submitted) -> None:
        inputs = list(self.query(Input))
        if message.input is inputs[-1]:
            self.action_take()
        else:
            inputs[inputs.index(message.input) + 1].focus()

    def action_take(self) -> None:
        """Close with what is typed, if nothing is wrong with it."""
        typed = self.typed
        wrong = "" if self._check is None else self._check(typed)
        if wrong:
            self.query_one("#wrong", Static).update(f"! {wrong}")
            self.app.bell()
            return
        if self._draft:
            self.memory.drop_draft(self._draft)
        self.dismiss(typed)

    def action_give_up(self) -> None:
        """Close without."""
        self.dismiss(None)
