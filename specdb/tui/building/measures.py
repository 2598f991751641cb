"""The measurements: the one at hand in large print with what it should be and how it is judged, all of them below."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.events import DescendantFocus
from textual.message import Message
from textual.widgets import Input, Label, Static

from specdb.orders.measured_words import value_words
from specdb.orders.tolerances import TOLERANCES
from specdb.tui.building.judge import HOW, PARTS, OnBench, Read, kept_words, told, verdict, wanted
from specdb.tui.building.print import large
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.prose import Line, content, sentence
from specdb.units.lengths import length_in_both
from specdb.verbs.building.sheet_code import has_code

_TALL = 36
_WIDE = 92
_BESIDE = 2


class ValueInput(Input):
    """An entry that enter leaves at once, so that what is typed right after it goes into the next one."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "other(-1)", show=False),
        Binding("down", "other(1)", show=False),
    ]

    class Scanned(Message):
        """A code was scanned into an entry."""

        def __init__(self, code: str) -> None:
            super().__init__()
            self.code = code

    _held = ""  # what stood in it when one came to it

    def on_focus(self) -> None:
        """Remember what stands in it, as a code that is scanned takes its place."""
        self._held = self.value

    @property
    def quantity(self) -> str:
        """What it is for."""
        return (self.id or "").removeprefix("value-")

    async def action_submit(self) -> None:
        """Go to the next entry; a code that was scanned is taken out again and followed."""
        begins = has_code(self.value)
        if begins < 0 and ":" in self.value:  # the code of something else: no value has a colon
            begins = 0
        if begins >= 0:
            code, self.value = self.value[begins:], self.value[:begins] or self._held
            self.post_message(self.Scanned(code))
            return
        self.action_other(1)

    def action_other(self, step: int) -> None:
        """Go to the next entry, or the one before."""
        entries = [e for e in self.screen.query(ValueInput) if not e.disabled]
        self.screen.set_focus(entries[(entries.index(self) + step) % len(entries)])


class MeasuresPane(Vertical):
    """Entries for all that is measured."""

    DEFAULT_CSS = """
    MeasuresPane { height: 1fr; }
    MeasuresPane #now { height: 1fr; min-height: 5; padding: 0 2; background: $surface; scrollbar-size-vertical: 1; }
    MeasuresPane.-tall #now { height: auto; min-height: 14; max-height: 1fr; padding: 1 2; }
    MeasuresPane #entries { height: auto; max-height: 60%; padding: 0 2; background: $background;
        border-top: solid $panel; scrollbar-size-vertical: 1; }
    MeasuresPane.-tall #entries { height: 1fr; max-height: 100%; }
    MeasuresPane .row { height: 1; }
    MeasuresPane.-tall .row { height: 2; }
    MeasuresPane .row .what { width: 16; }
    MeasuresPane .row .said { width: 1fr; height: 1; padding: 0 0 0 2; }
    MeasuresPane .row ValueInput { width: 14; border: none; border-left: solid $quiet; height: 1; padding: 0 1;
        background: $panel; text-style: bold; }
    MeasuresPane .row ValueInput:focus { border: none; border-left: outer $accent; background: $picked; }
    """

    class Typed(Message):
        """Something was typed in an entry, or another one is at hand."""

        def __init__(self, quantity: str, *, moved: bool) -> None:
            super().__init__()
            self.quantity, self.moved = quantity, moved

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 (as Textual's)
        super().__init__(id=id)
        self.at = next(iter(TOLERANCES))
        self._begun = False

    def compose(self) -> ComposeResult:
        """The one at hand, then a line each."""
        with VerticalScroll(id="now", can_focus=False):
            yield LinesView(id="now-lines")
        with VerticalScroll(id="entries", can_focus=False):
            for name, tolerance in TOLERANCES.items():
                with Horizontal(classes="row"):
                    yield Label(tolerance.title + ("" if tolerance.required else " *"), classes="what", markup=False)
                    yield ValueInput(id=f"value-{name}")
                    yield Static("", id=f"said-{name}", classes="said", markup=False)

    # ---- what is typed

    def entry(self, quantity: str) -> ValueInput:
        """The entry of a quantity.

        Parameters
        ----------
        quantity : str
            The quantity.
        """
        return self.query_one(f"#value-{quantity}", ValueInput)

    @property
    def texts(self) -> dict[str, str]:
        """What is typed, by quantity."""
        return {name: text for name in TOLERANCES if (text := self.entry(name).value.strip())}

    def put(self, texts: Mapping[str, str]) -> None:
        """Put texts in the entries; those without one are emptied.

        Parameters
        ----------
        texts : mapping of str to str
            By quantity.
        """
        with self.prevent(Input.Changed):
            for name in TOLERANCES:
                self.entry(name).value = texts.get(name, "")

    def to_first(self) -> None:
        """Have another club begin at its own first entry, wherever the last one ended."""
        self.at, self._begun = next(iter(TOLERANCES)), False

    def begin(self, done: Mapping[str, object]) -> None:
        """Go to the first entry that is empty and needed, unless one was typing in another.

        Parameters
        ----------
        done : mapping
            Quantities that are kept or waived.
        """
        names = sorted(TOLERANCES, key=lambda n: not TOLERANCES[n].required)  # as they stand, those needed first
        free = [n for n in names if not self.entry(n).value and n not in done]
        typing = self._begun and self.entry(self.at).value
        self._begun = True
        self.entry(self.at if typing else (free or names)[0]).focus()

    @on(Input.Changed)
    def _changed(self, message: Input.Changed) -> None:
        if isinstance(message.input, ValueInput):
            message.stop()
            self.post_message(self.Typed(message.input.quantity, moved=False))

    @on(DescendantFocus)
    def _moved(self, message: DescendantFocus) -> None:
        if isinstance(message.widget, ValueInput):
            self.at = message.widget.quantity
            message.widget.parent.scroll_visible(animate=False)  # type: ignore[union-attr]  # a row
            self.post_message(self.Typed(self.at, moved=True))

    # ---- what is shown

    def show(
        self, bench: OnBench, reads: Mapping[str, Read], waived: Mapping[str, str], instruments: Mapping[str, str]
    ) -> None:
        """Show how all of it stands.

        Parameters
        ----------
        bench : OnBench
            The club.
        reads : mapping of str to Read
            The entries, read and judged.
        waived : mapping of str to str
            Reasons that are typed, by quantity.
        instruments : mapping of str to str
            What each quantity is measured with.
        """
        size = self.screen.size
        self.set_class(size.height >= _TALL, "-tall")
        width = max(self.size.width - 6, 36)
        room = max(width - 16 - 14 - _BESIDE, 12)
        for name in TOLERANCES:
            line = _row(bench, reads[name], waived.get(name, ""), room, roomy=width >= _WIDE)
            self.query_one(f"#said-{name}", Static).update(content([line]))
        lines = _at_hand(
            bench,
            reads[self.at],
            waived.get(self.at, ""),
            instruments.get(self.at, ""),
            width,
            twice=size.height >= _TALL,
        )
        self.query_one("#now-lines", LinesView).show(lines)
        self.query_one("#now", VerticalScroll).scroll_home(animate=False)


def _row(bench: OnBench, found: Read, waived: str, room: int, *, roomy: bool) -> Line:
    text, part = _stands(bench, found, waived)
    target = wanted(bench, found.quantity)
    if roomy or not text:
        text, part = (f"{target:<24}  {text}", part) if text else (target, "quiet")
    return ((text if len(text) <= room else f"{text[: room - 1]}…", part),)


def _stands(bench: OnBench, found: Read, waived: str) -> tuple[str, str]:
    """How an entry stands, in a few words."""
    if found.error:
        return "! cannot be taken", "bad"
    if found.judged is not None:
        return verdict(found.judged), PARTS.get(found.judged.judgement, "plain")
    if waived:
        return f"– not measured: {waived}", "strong"
    short, _, part = kept_words(bench, found.quantity)
    return short, part


def _at_hand(bench: OnBench, found: Read, waived: str, instrument: str, width: int, *, twice: bool) -> list[Line]:
    """The quantity at hand in large print."""
    name = found.quantity
    how = HOW[name].format(clamp=bench.clamp_in)
    title = TOLERANCES[name].title.upper()
    lines: list[Line] = [((f"{title}  ", "head"), (how if len(title) + len(how) + 2 <= width else "", "quiet"))]
    target = bench.aim(name).target
    goal = "nothing to hold it against" if target is None else f"wanted {_both(name, target)} {TOLERANCES[name].said}"
    using = f", with {instrument}" if instrument else ""
    lines += sentence(f"{goal}{using}", width, part="strong")
    if twice:
        lines.append(())
    row = bench.answer.rows.get(name)
    text = found.text or ("…" if row is None or row.value is None or waived else value_words(name, row.value))
    drawn = large(text, twice=twice)
    if twice and len(drawn[0]) > width:
        drawn = large(text)
    if len(drawn[0]) > width:
        drawn = [text]
    lines += [((line, "head" if found.text else "quiet"),) for line in drawn]
    if found.value is not None:
        lines[-1] = (*lines[-1], (f"  = {_both(name, found.value)}", "strong"))
    if twice:
        lines.append(())
    kept = kept_words(bench, name)
    if waived and not found.text:
        lines += sentence(f"Not measured: {waived}. Typing a value takes that back.", width, part="strong")
    lines += told(found, instrument, width)
    if kept[1]:
        lines += sentence(f"{kept[1]}.", width, part="quiet" if found.text else kept[2])
    return lines


def _both(name: str, target: float) -> str:
    return length_in_both(target) if name == "length" else value_words(name, target)
