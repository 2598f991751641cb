"""The place Bench: readings typed in quickly, the profile and its band with each, outliers called out at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.events import DescendantFocus, Resize, ScreenResume
from textual.timer import Timer
from textual.widgets import Input

from specdb.errors import SpecdbError
from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.bench.entries import ReadingInput, ReadingRow
from specdb.tui.bench.readings import Judged, Typed, judge, next_piece, read_slot, readings_of
from specdb.tui.bench.setup import BENDING, FREQUENCY, LINES, SINGLE, slots_of, usual_texts, wrong_with
from specdb.tui.dialogs.picker import Picker
from specdb.tui.dialogs.words import Wanted, WordsDialog
from specdb.tui.widgets.curves import Axis
from specdb.tui.widgets.curves_view import CurvesView
from specdb.tui.widgets.lines_view import LinesView
from specdb.tui.widgets.prose import sentence
from specdb.tui.widgets.words import remember_who, who
from specdb.verbs.stiffness.bench import PUBLISHED, BenchShaft, KeptReadings, ReadAgainError, bench_shaft, keep_readings

if TYPE_CHECKING:
    from specdb.profiles.population import Population
    from specdb.records.rows import ShaftReading
    from specdb.verbs.stiffness.bench import ReadAgain

_SHAFT, _SETUP = "bench.shaft", "bench.setup"
_BROAD = 150
_NOTHING = (
    "Choose a shaft (s). Then type readings: a frequency at each free length, three-point readings station by station, "
    "weight, balance, torque, deflection. The profile and its band follow every reading."
)
_LONGEST_PIECE = 60
_ROWS = (
    (FREQUENCY, "free length in", "frequency cpm"),
    (BENDING, "station in", "3-pt EI N·m²"),
    (SINGLE, "", "others"),
)
_PAUSE_SECONDS = 0.25  # an unfinished number is not judged


class BenchScreen(PlaceScreen):
    """One shaft on the bench."""

    place = "bench"
    ACTIONS = (
        Action("shaft", "s", "shaft", "Choose the shaft that is read."),
        Action("piece", "p", "piece", "Name the piece that is read, and who reads."),
        Action("setup", "e", "set-up", "Places, masses, spans, loads and instruments of the bench."),
        Action("keep", "ctrl+s", "keep", "Keep all readings at once; one undo takes all of them back.", priority=True),
        Action("empty", "ctrl+e", "empty", "Empty every entry.", priority=True),
        Action("details", "d", "off, all", "Show every reading beside the profile, or only the outliers.", shown=False),
        Action("back", "escape", "back", "Go back; what is typed stays."),
    )
    DEFAULT_CSS = """
    BenchScreen #bench-head { height: auto; padding: 0 1; background: $surface; }
    BenchScreen #bench-body { height: 1fr; }
    BenchScreen #left { height: auto; }
    BenchScreen #rows { height: auto; }
    BenchScreen #shown { height: 1fr; }
    BenchScreen #known { height: auto; padding: 0 1; background: $surface; }
    BenchScreen #off-scroll { height: auto; max-height: 4; padding: 0 1; scrollbar-size-vertical: 1; }
    BenchScreen #off { height: auto; }
    BenchScreen CurvesView { min-height: 7; }
    BenchScreen.tall #off-scroll { max-height: 9; }
    BenchScreen.broad #bench-body { layout: horizontal; }
    BenchScreen.broad #left { width: 84; height: 1fr; }
    BenchScreen.broad #off-scroll { height: 1fr; max-height: 100%; margin-top: 1; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._bench: BenchShaft | None = None
        self._population: Population | None = None
        self._rows: list[ReadingRow] = []
        self._piece = ""
        self._judged: Judged | None = None
        self._all = False
        self._late: Timer | None = None
        self._stale = False

    def compose(self) -> ComposeResult:
        """The shaft, the entries, what is known, the picture."""
        yield LinesView(id="bench-head")
        with Vertical(id="bench-body"):
            with Vertical(id="left"):
                yield Vertical(id="rows")
                with VerticalScroll(id="off-scroll", can_focus=False):
                    yield LinesView(id="off")
            with Vertical(id="shown"):
                yield LinesView(id="known")
                yield CurvesView(id="profile")

    def on_mount(self) -> None:
        """Take up the shaft of last time."""
        last = str(self.memory.get(_SHAFT, "") or "")
        if last and self._bench is None:
            self._take_shaft(last, forgotten=True)
        else:
            self._show_nothing(_NOTHING)

    def opened(self, **arguments: Any) -> None:  # noqa: ANN401 (as the place screen's)
        """Put a shaft on the bench.

        Parameters
        ----------
        **arguments
            ``shaft``, its key.
        """
        if arguments.get("shaft"):
            self._take_shaft(str(arguments["shaft"]))

    @property
    def _width(self) -> int:
        return max(self.size.width - 2, 40)

    def _show_nothing(self, text: str) -> None:
        self.query_one("#bench-head", LinesView).show(sentence(text, self._width))
        self.query_one(CurvesView).say("")

    # ---- the shaft

    def action_shaft(self) -> None:
        """Choose the shaft."""
        self.app.push_screen(Picker("shaft", title="Which shaft is on the bench?"), self._shaft_chosen)

    def _shaft_chosen(self, key: str | None) -> None:
        if key is not None:
            self._take_shaft(key)

    def _take_shaft(self, key: str, *, forgotten: bool = False) -> None:
        catalogue, population = self.desk.catalogue, self._population

        def failed(error: SpecdbError) -> None:
            if forgotten:  # the shaft of last time is gone
                self._show_nothing(_NOTHING)
            else:
                self.specdb.tell_error(error)

        if self._bench is None or self._bench.shaft.id != key:
            self._show_nothing(f"{key}: reading what is known of it …")
        self.work(
            lambda: bench_shaft(catalogue, key, population), self._on_bench, group="shaft",
            what="put the shaft on the bench", failed=failed,
        )  # fmt: skip

    def _on_bench(self, bench: BenchShaft) -> None:
        another = self._bench is None or self._bench.shaft.id != bench.shaft.id
        self._bench = bench
        self._population = bench.population
        self.memory.put(_SHAFT, bench.shaft.id)
        if another:
            held = self.memory.draft(self._draft) or {}
            self._piece = held.get("piece") or next_piece(bench.pieces)
            self._fill_rows(held)
        self._show_head()
        self._judge()

    @property
    def _draft(self) -> str:
        return f"bench/{'' if self._bench is None else self._bench.shaft.id}"

    def _show_head(self) -> None:
        from specdb.tui.bench.words import shaft_lines

        if self._bench is not None:
            lines = shaft_lines(self._bench, self._piece, who(self.memory), self._width)
            self.query_one("#bench-head", LinesView).show(lines)

    # ---- the set-up

    @property
    def _setup(self) -> dict[str, str]:
        if self._bench is None:
            return {}
        usual = usual_texts(self._bench.shaft)
        held = self.memory.get(f"{_SETUP}.{self._bench.shaft.club_type}", {})
        texts = usual | {k: str(v) for k, v in held.items() if k in usual} if isinstance(held, dict) else usual
        return usual if wrong_with(texts) else texts

    def action_setup(self) -> None:
        """Change the set-up."""
        if self._bench is None:
            return
        now = self._setup
        seen = f"such as {', '.join(self._bench.instruments[:3])}" if self._bench.instruments else ""
        wanted = [
            Wanted(line.name, line.label, now.get(line.name, ""), seen if line.field == "instrument" else line.hint)
            for line in LINES
        ]
        kind = self._bench.shaft.club_type
        dialog = WordsDialog(f"Set-up of the bench, {kind} shafts", wanted, check=wrong_with)
        self.app.push_screen(dialog, partial(self._set_up, kind))

    def _set_up(self, kind: str, typed: Mapping[str, str] | None) -> None:
        if typed is None or self._bench is None:
            return
        self.memory.put(f"{_SETUP}.{kind}", dict(typed))
        self._fill_rows(self._texts)
        self._judge()

    def _fill_rows(self, texts: Mapping[str, str]) -> None:
        slots = slots_of(self._setup)
        self._rows = []
        for group, above, beside in _ROWS:
            own = [s for s in slots if s.group == group]
            if own:
                self._rows.append(ReadingRow(above, beside, own, dict(texts), roomy=group == SINGLE))
        self.call_later(self._mount_rows, self._rows)

    async def _mount_rows(self, made: list[ReadingRow]) -> None:
        if made is not self._rows:
            return  # other rows have come to be in the meantime
        rows = self.query_one("#rows", Vertical)
        await rows.remove_children()
        await rows.mount(*made)
        self._focus_first()

    @property
    def _entries(self) -> list[ReadingInput]:
        return [entry for row in self._rows for entry in row.entries.values()]

    def _focus_first(self) -> None:
        entries = self._entries
        empty = next((e for e in entries if not e.value), None)
        if entries and self.is_current:
            (empty or entries[0]).focus()

    def action_piece(self) -> None:
        """Name the piece and who reads."""
        if self._bench is None:
            return
        wanted = [
            Wanted("piece", "piece", self._piece, "such as bench-1"),
            Wanted("by", "read by", who(self.memory)),
        ]
        known = f"Measured before: {', '.join(self._bench.pieces)}." if self._bench.pieces else ""
        dialog = WordsDialog("The piece that is read", wanted, said=known, check=_wrong_piece)
        self.app.push_screen(dialog, self._named)

    def _named(self, typed: Mapping[str, str] | None) -> None:
        if typed is None:
            return
        self._piece = typed["piece"]
        remember_who(self.memory, typed["by"])
        self._keep_draft()
        self._show_head()
        self._judge()

    # ---- typing

    @property
    def _texts(self) -> dict[str, str]:
        return {entry.slot.id: entry.value for entry in self._entries}

    @property
    def _typed(self) -> list[Typed]:
        return [read_slot(entry.slot, entry.value) for entry in self._entries]

    def _keep_draft(self) -> None:
        texts = {name: text for name, text in self._texts.items() if text.strip()}
        if texts:
            self.memory.keep_draft(self._draft, {**texts, "piece": self._piece})
        else:
            self.memory.drop_draft(self._draft)

    @on(Input.Changed)
    def _changed(self, message: Input.Changed) -> None:
        if isinstance(message.input, ReadingInput):
            message.stop()
            self._keep_draft()
            if self._late is not None:
                self._late.stop()
            self._late = self.set_timer(_PAUSE_SECONDS, self._judge)

    @on(DescendantFocus)
    def _moved(self) -> None:
        self._say()

    @on(ReadingInput.Walk)
    def _walk(self, message: ReadingInput.Walk) -> None:
        entries = self._entries
        at = next(i for i, e in enumerate(entries) if e.slot.id == message.slot.id)
        if message.along:
            entries[(at + message.along) % len(entries)].focus()
            return
        rows = [list(row.entries.values()) for row in self._rows]
        row = next(i for i, r in enumerate(rows) if entries[at] in r)
        other = rows[(row + message.across) % len(rows)]
        share = rows[row].index(entries[at]) / max(len(rows[row]) - 1, 1)
        other[round(share * (len(other) - 1))].focus()

    # ---- judging

    def _readings(self) -> list[ShaftReading]:
        if self._bench is None:
            return []
        return readings_of(self._typed, self._bench.shaft.id, self._piece, _today(), who(self.memory))

    def _judge(self) -> None:
        bench, self._late = self._bench, None
        if bench is None:
            return
        readings = self._readings()
        self._say()
        self.work(lambda: judge(bench, readings), self._show, group="judge", what="estimate the profile")

    def _show(self, judged: Judged) -> None:
        from specdb.tui.bench.words import known_lines, profile_curves

        bench = self._bench
        if bench is None or judged.estimate.shaft_id != bench.shaft.id:
            return
        self._judged = judged
        width = self._shown_width
        self.query_one("#known", LinesView).show(known_lines(judged.estimate, bench.before, width))
        curves, marks = profile_curves(judged.estimate, bench.before)
        self.query_one(CurvesView).show(
            curves, marks, x=Axis(0.0, 0.0, "in from the raw tip"), y=Axis(0.0, 0.0, "stiffness EI, N·m²")
        )
        self._say()

    @property
    def _shown_width(self) -> int:
        return max((self.query_one("#shown").size.width or self.size.width) - 3, 40)

    def _say(self) -> None:
        """Say what is wrong beside the entries, and which readings are off."""
        from specdb.tui.bench.words import entry_words, off_lines

        judged = self._judged
        refused: Mapping[str, str] = {} if judged is None else judged.refused
        evidence = {} if judged is None else judged.evidence
        wrong = {t.slot.id: t.error for t in self._typed if t.error}
        still = {t.slot.id for t in self._typed if t.value is not None}
        wrong |= {name: f"{reason}." for name, reason in refused.items() if name in still}
        off = [name for name, e in evidence.items() if e.outlier and name in still]
        for row in self._rows:
            row.say([(slot, wrong[slot.id]) for slot in row.slots if slot.id in wrong], off)
        if judged is None:
            return
        width = max((self.query_one("#left").size.width or self.size.width) - 3, 40)
        lines = off_lines(judged.estimate, width)
        if self._all or self.has_class("broad"):
            lines += [line for e in judged.estimate.evidence if not e.outlier
                      for line in sentence(entry_words(e), width, part="quiet")]  # fmt: skip
        self.query_one("#off", LinesView).show(lines)

    def action_details(self) -> None:
        """Show every reading beside the profile, or only the outliers."""
        self._all = not self._all
        self.query_one("#off-scroll").can_focus = self._all
        self._say()

    # ---- keeping

    def action_keep(self) -> None:
        """Keep all readings at once."""
        self._keep(())

    def _keep(self, may_replace: tuple[ReadAgain, ...]) -> None:
        bench = self._bench
        if bench is None:
            return
        wrong = [t for t in self._typed if t.error]
        refused = [] if self._judged is None else [e.slot for e in self._entries if e.slot.id in self._judged.refused]
        bad = [t.slot for t in wrong] + refused
        if bad:
            self.notify(f"Mend what is marked first: {', '.join(s.name for s in bad)}.", severity="error", markup=False)
            next(e for e in self._entries if e.slot is bad[0]).focus()
            return
        readings = self._readings()
        if not readings:
            self.notify("Nothing is typed yet.")
            return
        catalogue, by = self.desk.catalogue, who(self.memory)
        self.work(
            lambda: keep_readings(catalogue, readings, by=by or None, may_replace=may_replace),
            self._kept, group="keep", what="keep the readings", failed=self._not_kept, changes=True,
        )  # fmt: skip

    def _kept(self, kept: KeptReadings) -> None:
        said = [f"{n} {word}" for n, word in ((kept.added, "kept"), (kept.changed, "replaced"),
                                              (kept.unchanged, "there already")) if n]  # fmt: skip
        self.notify(f"Readings: {', '.join(said)}. Ctrl+z takes them back.", title="Kept", markup=False)
        self._empty()
        if self._bench is not None:
            self._take_shaft(self._bench.shaft.id)

    def _not_kept(self, error: SpecdbError) -> None:
        if not isinstance(error, ReadAgainError):
            self.specdb.tell_error(error)
            return
        from specdb.tui.dialogs.undo import AskDialog

        shown = "\n".join(f"{_name_of(a.before)}: kept {a.before.value:g}, now {a.after.value:g}" for a in error.again)
        text = f"Read before, today, on this piece, under the same conditions:\n\n{shown}\n\nReplace by what is typed?"
        self.app.push_screen(AskDialog("Read again", text), partial(self._replace, error.again))

    def _replace(self, again: tuple[ReadAgain, ...], yes: bool | None) -> None:
        if yes:
            self._keep(again)

    def action_empty(self) -> None:
        """Empty every entry."""
        self._empty()
        self._judge()

    def _empty(self) -> None:
        with self.prevent(Input.Changed):
            for entry in self._entries:
                entry.value = ""
        self._keep_draft()
        self._judged = None
        self._focus_first()

    # ---- changes and sizes

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the place screen's)
        """Read the shaft again, now or when we are back."""
        if self.is_current:
            self._look_again()
        else:
            self._stale = True

    def _look_again(self) -> None:
        self._stale = False
        if self._bench is not None:
            self._take_shaft(self._bench.shaft.id)

    @on(ScreenResume)
    def _resumed(self) -> None:
        if self._stale:
            self._look_again()

    @on(Resize)
    def _resized(self) -> None:
        self.set_class(self.size.width >= _BROAD, "broad")
        self.set_class(self.size.height >= 34, "tall")
        self.call_after_refresh(self._fit)

    def _fit(self) -> None:
        self._show_head()
        if self._judged is not None:
            self._show(self._judged)


def _today() -> dt.date:
    return dt.date.today()  # noqa: DTZ011 (the day on the shop's own calendar)


def _wrong_piece(typed: Mapping[str, str]) -> str:
    name = typed["piece"]
    if not name:
        return "Name the piece: readings of different pieces must not be mixed up."
    if name.lower() == PUBLISHED:
        return "'published' stands for a leaflet's table; name the piece that is on the bench."
    if len(name) > _LONGEST_PIECE:
        return f"At most {_LONGEST_PIECE} letters."
    return ""


def _name_of(reading: ShaftReading) -> str:
    words = "EI" if reading.quantity == "ei" else reading.quantity
    place = reading.position_in if reading.position_in is not None else reading.free_length_in
    return words + (f" at {place:g} in" if place is not None else "")
