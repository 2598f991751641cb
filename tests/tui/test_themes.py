"""Contrast of everything that is written, in both themes, and the interface without colour."""

from __future__ import annotations

import pytest
from rich.style import Style
from textual.color import Color
from textual.geometry import Region

from specdb.tui import places
from specdb.tui.app import SpecdbApp
from specdb.tui.themes import DARK, LIGHT, contrast, themes
from tests.tui.conftest import WIDE, AppFactory, on_screen, settled, typed, until

DRAWN = " ─│╭╮╰╯┃▌▎▂▁▃▄▅▆▇█▏▔▊"  # lines and bars, which are no text
ENOUGH = 4.5  # WCAG 2.2, success criterion 1.4.3 (level AA)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    # WCAG 2.2: black on white is 21 to 1; #767676 is the lightest grey with 4.5 to 1 on white (WebAIM)
    [
        ("#000000", "#ffffff", 21.0),
        ("#777777", "#ffffff", 4.48),
        ("#767676", "#ffffff", 4.54),
        ("#ffffff", "#ffffff", 1),
    ],
)
def test_contrast_is_that_of_the_guidelines(one: str, other: str, ratio: float) -> None:
    assert contrast(Color.parse(one), Color.parse(other)) == pytest.approx(ratio, abs=0.01)


@pytest.mark.parametrize("theme", themes(), ids=lambda t: t.name)
def test_every_text_of_the_theme_is_legible_on_every_ground(theme: object) -> None:
    from textual.theme import Theme

    assert isinstance(theme, Theme)
    texts = [theme.foreground, theme.accent, theme.success, theme.warning, theme.error, theme.variables["quiet"]]
    grounds = [theme.background, theme.surface, theme.panel]
    for text in texts:
        for ground in grounds:
            assert text is not None
            assert ground is not None
            assert contrast(Color.parse(text), Color.parse(ground)) >= ENOUGH, (text, ground)
    for text, ground in ((theme.foreground, "picked"),):
        assert contrast(Color.parse(str(text)), Color.parse(theme.variables[ground])) >= ENOUGH
    assert contrast(Color.parse(theme.variables["on-accent"]), Color.parse(str(theme.accent))) >= ENOUGH


def faint(app: SpecdbApp, box: Region | None = None) -> set[str]:
    """What is written with too little contrast on the screen, or in a box of it."""
    seen = app.screen.region if box is None else box
    found = set()
    for strip in app.screen._compositor.render_strips()[seen.y : seen.bottom]:
        for segment in strip.crop(seen.x, seen.right):
            style = segment.style or Style()
            if not segment.text.strip(DRAWN) or style.color is None or style.bgcolor is None:
                continue
            text, ground = Color.from_rich_color(style.color), Color.from_rich_color(style.bgcolor)
            if style.dim or contrast(text, ground) < ENOUGH:
                found.add(f"{segment.text.strip()!r} {text.hex} on {ground.hex} dim={bool(style.dim)}")
    return found


@pytest.mark.parametrize("theme", [DARK, LIGHT])
async def test_everything_written_on_the_catalogue_and_its_dialogs_is_legible(make: AppFactory, theme: str) -> None:
    app = make()
    async with app.run_test(size=WIDE, notifications=True) as pilot:
        app.theme = theme
        await settled(pilot)
        assert not faint(app)
        await pilot.press("w")
        await typed(pilot, "tip_d")
        assert not faint(app)
        await typed(pilot, " <")
        await pilot.press("enter")
        await settled(pilot)
        assert not faint(app)
        app.notify("A notice.", title="Notice", severity="error")
        await until(pilot, lambda: bool(app.screen.query("Toast")))
        await settled(pilot)
        assert "A notice." in on_screen(app)
        assert not faint(app)
        await pilot.press("escape", "escape")
        for key in ("f1", "c", "s", "k"):
            await pilot.press(key)
            await settled(pilot)
            box = app.screen.query_one(".dialog").region
            assert not faint(app, box)
            await pilot.press("escape")


@pytest.mark.parametrize("theme", [DARK, LIGHT])
@pytest.mark.parametrize("place", [p.name for p in places.offered()])
async def test_everything_written_in_a_place_is_legible(make: AppFactory, theme: str, place: str) -> None:
    app = make(start=place)
    async with app.run_test(size=WIDE) as pilot:
        app.theme = theme
        await settled(pilot)
        assert not faint(app)


async def test_without_colour_nothing_is_coloured_and_the_cursor_is_seen(
    make: AppFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = make()
    async with app.run_test(size=WIDE) as pilot:
        await settled(pilot)
        await pilot.press("down")
        key = "Drugget 55"
        lines = [list(line) for line in app.screen._compositor.render_strips()]
        shown = []
        for line in lines:
            for f in app._filters:
                line = f.apply(line, Color.parse("#000"))  # noqa: PLW2901 (one after another)
            shown.append(line)
        for line in shown:
            for segment in line:
                style = segment.style or Style()
                assert style.color is None or style.color.is_default
                assert style.bgcolor is None or style.bgcolor.is_default
        cursor = next(line for line in shown if any(key in s.text for s in line))
        other = next(line for line in shown if any("Lyde 60" in s.text for s in line))
        assert any(s.style is not None and s.style.reverse for s in cursor if key in s.text)
        assert not any(s.style is not None and s.style.reverse for s in other if "Lyde" in s.text)
