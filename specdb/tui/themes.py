"""A light and a dark theme with one accent, and what becomes of them where colour is not wanted.

Nothing in the interface means anything by colour alone: what stands out is also bold, reversed, underlined or said in
words. Every pair of text and ground has a contrast of at least 4.5 to 1 (WCAG 2.2, success criterion 1.4.3).
"""

from __future__ import annotations

from rich.color import Color as RichColor
from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.filter import LineFilter
from textual.theme import Theme

LIGHT, DARK = "specdb-light", "specdb-dark"
THEME_NAMES = (DARK, LIGHT)

_CONTRAST_TO_REVERSE = 1.6  # grounds that differ more from the page than this are shown reversed without colour


def _theme(name: str, *, dark: bool, page: str, raised: str, band: str, text: str, quiet: str, accent: str,
           on_accent: str, picked: str, good: str, doubt: str, bad: str) -> Theme:  # fmt: skip
    variables = {
        "text": text,
        "text-muted": quiet,
        "text-disabled": quiet,
        "foreground-muted": quiet,
        "foreground-disabled": quiet,
        "text-primary": accent,
        "text-accent": accent,
        "text-success": good,
        "text-warning": doubt,
        "text-error": bad,
        "quiet": quiet,
        "picked": picked,
        "on-accent": on_accent,
        "block-cursor-foreground": text,
        "block-cursor-background": picked,
        "block-cursor-blurred-background": band,
        "block-cursor-blurred-foreground": text,
        "block-cursor-text-style": "bold",
        "block-hover-background": band,
        "input-cursor-background": accent,
        "input-cursor-foreground": on_accent,
        "input-selection-background": picked,
        "border": accent,
        "border-blurred": band,
        "scrollbar": quiet,
        "scrollbar-hover": accent,
        "scrollbar-active": accent,
        "scrollbar-background": band,
        "scrollbar-background-hover": band,
        "scrollbar-background-active": band,
        "scrollbar-corner-color": band,
        "link-color": accent,
        "link-color-hover": accent,
        "link-background-hover": page,
        "footer-key-foreground": accent,
        "footer-background": band,
        "button-foreground": text,
        "button-color-foreground": on_accent,
        "button-focus-text-style": "bold underline",
    }
    return Theme(
        name=name,
        primary=accent,
        secondary=accent,
        accent=accent,
        foreground=text,
        background=page,
        surface=raised,
        panel=band,
        boost=band,
        success=good,
        warning=doubt,
        error=bad,
        dark=dark,
        variables=variables,
    )


def themes() -> tuple[Theme, ...]:
    """Both themes, the dark one first."""
    return (
        _theme(DARK, dark=True, page="#15181b", raised="#1c2024", band="#282d32", text="#e4e2dc", quiet="#a3aab0",
               accent="#7cc7d0", on_accent="#10201f", picked="#2c4f55", good="#9ccf8f", doubt="#e2c07a",
               bad="#f0a195"),
        _theme(LIGHT, dark=False, page="#fbfaf7", raised="#f4f2ed", band="#e7e4dc", text="#1e2226", quiet="#565c62",
               accent="#0d5a66", on_accent="#ffffff", picked="#c6dfe2", good="#2c5e22", doubt="#704c00",
               bad="#9a2417"),
    )  # fmt: skip


class PlainFilter(LineFilter):
    """Takes all colour away; a ground that stands out from the page is reversed instead."""

    _DEFAULT = Style.from_color(RichColor.parse("default"), RichColor.parse("default"))

    def __init__(self, page: Color) -> None:
        super().__init__()
        self._page = page
        self._known: dict[Style, Style] = {}

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:  # noqa: ARG002 (as Textual's)
        """Take the colour from a line.

        Parameters
        ----------
        segments : list of Segment
            The line.
        background : Color
            Ground of the widget.
        """
        return [
            Segment(text, None if style is None else self._plain(style), control) for text, style, control in segments
        ]

    def _plain(self, style: Style) -> Style:
        found = self._known.get(style)
        if found is None:
            ground = None if style.bgcolor is None or style.bgcolor.is_default else Color.from_rich_color(style.bgcolor)
            if style.reverse and style.color is not None and not style.color.is_default:
                ground = Color.from_rich_color(style.color)
            stands_out = ground is not None and contrast(ground, self._page) > _CONTRAST_TO_REVERSE
            found = style + self._DEFAULT + Style(reverse=stands_out, dim=False)
            self._known[style] = found
        return found


def contrast(one: Color, other: Color) -> float:
    """Contrast of two colours, 1 to 21.

    Parameters
    ----------
    one, other : Color
        The colours.

    References
    ----------
    WCAG 2.2, "contrast ratio" and "relative luminance".
    """
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: Color) -> float:
    def linear(part: int) -> float:
        share = part / 255.0
        return float(share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4)

    red, green, blue = colour.rgb
    return 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
