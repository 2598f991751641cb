"""Two fitted clubs side by side: numbers, differences in units of tolerance with their doubt, both profiles."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.events import Resize
from textual.widgets import Static

from specdb.tui.actions import Action
from specdb.tui.base import PlaceScreen
from specdb.tui.clubs.words import rows_of_pair
from specdb.tui.widgets.bars import REACH, bar, scale
from specdb.tui.widgets.curves import Axis, Curve, Stroke
from specdb.tui.widgets.curves_view import CurvesView
from specdb.tui.widgets.numbers import number, signed
from specdb.tui.widgets.prose import Line, content, heading, sentence
from specdb.verbs.clubs.fitted import ClubPair, ComparedFeature, compare_clubs

BESIDE_COLUMNS = 150
_BAND = 1.645  # standard deviations on either side of a 90 % band
_TITLE, _NUMBER, _UNIT = 19, 8, 7
_PARTS = {"blank": "plain", "tolerance": "quiet", "edge": "quiet", "zero": "quiet", "doubt": "plain", "inside": "good",
          "outside": "bad"}  # fmt: skip


class CompareScreen(PlaceScreen):
    """Two fitted clubs.

    Parameters
    ----------
    one, other : str
        Keys of the clubs; differences are the other less the one.
    """

    place = "compare clubs"
    ACTIONS = (
        Action("swap", "x", "swap", "Hold the first against the second instead."),
        Action("another", "c", "another", "Hold the first against another club."),
        Action("back", "escape", "back", "Go back."),
    )
    DEFAULT_CSS = """
    CompareScreen #body { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    CompareScreen #table { height: auto; width: auto; max-width: 100%; }
    CompareScreen CurvesView { height: 16; margin-top: 1; }
    CompareScreen.-beside #body { layout: horizontal; }
    CompareScreen.-beside CurvesView { width: 1fr; height: 100%; margin: 0 0 0 3; }
    """

    def __init__(self, one: str, other: str) -> None:
        super().__init__()
        self._keys = (one, other)
        self.pair: ClubPair | None = None

    def compose(self) -> ComposeResult:
        """The table and the curves."""
        with VerticalScroll(id="body"):
            yield Static("", id="table")
            yield CurvesView()

    def on_mount(self) -> None:
        """Work both out."""
        self.query_one("#body").focus()
        self._ask()

    def catalogue_changed(self, change_no: int) -> None:  # noqa: ARG002 (as the place screen's)
        """Work both out again."""
        self._ask()

    @on(Resize)
    def _resized(self) -> None:
        self.set_class(self.size.width >= BESIDE_COLUMNS, "-beside")
        self.call_after_refresh(self._show)

    def _ask(self) -> None:
        one, other = self._keys
        catalogue = self.desk.catalogue
        self.work(
            lambda: compare_clubs(catalogue, one, other), self._compared, group="compare", what="compare two clubs"
        )

    def _compared(self, pair: ClubPair) -> None:
        self.pair = pair
        self._show()

    def _show(self) -> None:
        if self.pair is None:
            return
        width = max(min(self.size.width - 4, 104), 60)
        self.query_one("#table", Static).update(content(pair_lines(self.pair, self._keys, width)))
        view = self.query_one(CurvesView)
        curves = curves_of(self.pair, self._keys)
        if curves:
            view.show(
                curves,
                x=Axis(0.0, 0.0, "from the mouth of the bore, in"),
                y=Axis(0.0, 0.0, "EI, N·m², with its 90 % band"),
            )
        else:
            view.say("Neither shaft can be drawn: its stiffness is not known.")

    def action_swap(self) -> None:
        """Hold them the other way round."""
        self._keys = (self._keys[1], self._keys[0])
        self._ask()

    def action_another(self) -> None:
        """Hold the first against another club."""
        from specdb.tui.dialogs.picker import Picker

        picker = Picker("club", where=f"id != '{self._keys[0]}'", title=f"Compare {self._keys[0]} with")
        self.app.push_screen(picker, self._other_chosen)

    def _other_chosen(self, other: str | None) -> None:
        if other is not None:
            self._keys = (self._keys[0], other)
            self._ask()


def curves_of(pair: ClubPair, keys: tuple[str, str]) -> list[Curve]:
    """The installed shafts as curves with their bands.

    Parameters
    ----------
    pair : ClubPair
        Two clubs.
    keys : tuple of str
        Their keys.
    """
    named = [key for key, numbers in zip(keys, (pair.one, pair.other), strict=True) if numbers.values is not None]
    found = []
    for profile, key, stroke in zip(pair.profiles, named, (Stroke.SOLID, Stroke.DASHED), strict=False):
        reach = _BAND * profile.sd_n_m2
        low = [max(float(v), 0.0) for v in profile.ei_n_m2 - reach]
        high = [float(v) for v in profile.ei_n_m2 + reach]
        at, ei = [float(v) for v in profile.from_hosel_in], [float(v) for v in profile.ei_n_m2]
        found.append(Curve(key, at, ei, low, high, stroke))
    return found


def pair_lines(pair: ClubPair, keys: tuple[str, str], width: int) -> list[Line]:
    """Both clubs in numbers and their differences.

    Parameters
    ----------
    pair : ClubPair
        Two clubs.
    keys : tuple of str
        Their keys.
    width : int
        Columns there are.
    """
    lines: list[Line] = []
    for word, key, numbers in (("first ", keys[0], pair.one), ("second", keys[1], pair.other)):
        shaft = "" if numbers.club is None else f"  shaft {numbers.club.shaft.id}"
        lines.append(((f"{word} ", "quiet"), (key, "strong"), (shaft, "quiet")))
    if pair.one.values is None or pair.other.values is None:
        for key, numbers in zip(keys, (pair.one, pair.other), strict=True):
            if numbers.values is None:
                lines += heading(f"{key} cannot be worked out")
                for text in numbers.missing:
                    lines += sentence(text, width, before=(("- ", "plain"),))
        return lines
    lines += sentence(f"{keys[1]} against {keys[0]}: {pair.summary}.", width, part="strong")
    lines.append((("", "plain"),))
    room = max(min(width - _TITLE - 2 * _NUMBER - _UNIT - 17, 41), 9)
    room -= 1 - room % 2
    head = f"{'':<{_TITLE}}{'first':>{_NUMBER}}{'second':>{_NUMBER}}  {'':<{_UNIT}}{'difference':<15}"
    lines.append(((head, "quiet"), (scale(room, REACH), "quiet")))
    for row, a, b in rows_of_pair(pair.one.values, pair.other.values):
        text = f"{row.title:<{_TITLE}}{a:>{_NUMBER}}{b:>{_NUMBER}}  {row.unit:<{_UNIT}}"
        lines.append(((text.rstrip(), "plain" if a != b else "quiet"),))
    for feature in pair.features:
        lines.append(_feature_line(feature, room))
    note = (
        "Bars: difference of the second from the first in units of tolerance, [ to ] is one unit either way, with "
        "one standard deviation of doubt on both sides; ● inside, ◆ outside tolerance. What both clubs share counts "
        "twice in the doubt."
    )
    return [*lines, (("", "plain"),), *sentence(note, width, part="quiet")]


def _feature_line(feature: ComparedFeature, room: int) -> Line:
    a, b = (number(v, feature.decimals) for v in (feature.one, feature.other))
    off = signed(feature.difference, feature.decimals)
    doubt = "" if feature.sd is None else f"± {number(feature.sd, max(feature.decimals, 1) if feature.sd < 10 else 0)}"
    text = f"{feature.title:<{_TITLE}}{a:>{_NUMBER}}{b:>{_NUMBER}}  {feature.unit:<{_UNIT}}{off:>7} {doubt:<7}"
    drawn = bar(feature.units_off, feature.units_sd, width=room)
    return ((text, "plain"), *((piece, _PARTS.get(part, "plain")) for piece, part in drawn.pieces))
