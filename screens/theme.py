"""Our own colours: slate for hands on the chest, sand for hands off it. No green, no red: quality is not measured here.

Colour is the second channel everywhere; words, shapes and inversion are the first. Every pair in :data:`PAIRS` has a
contrast of at least 7:1 in both themes (WCAG 2.2, success criterion 1.4.6), and ``NO_COLOR`` leaves words, shapes and
inversion as they are.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual.theme import Theme

if TYPE_CHECKING:
    from textual.app import App

DARK = "kneeside-dark"
LIGHT = "kneeside-light"

_DARK = {
    "quiet": "#A9B5BF",
    "slate": "#93B7DE",
    "sand": "#E6D3A3",
    "faint": "#39434C",
    "on-ground": "#1B2836",
    "on-ink": "#F4F2EB",
    "on-quiet": "#B9C5D0",
    "on-bead": "#A3C6EA",
    "calm-ground": "#191D20",
    "calm-ink": "#E6D3A3",
    "calm-quiet": "#B3B9BE",
    "off-ground": "#CBB887",
    "off-ink": "#15120A",
    "loud-ground": "#F6E8C1",
    "loud-ink": "#15120A",
    "halt-ground": "#F1EFE8",
    "halt-ink": "#11161A",
    "cap-ground": "#A9B5BF",
    "cap-ink": "#11161A",
}
_LIGHT = {
    "quiet": "#3F4A54",
    "slate": "#1B4876",
    "sand": "#594109",
    "faint": "#C9C6BC",
    "on-ground": "#E1EAF3",
    "on-ink": "#12171C",
    "on-quiet": "#36424E",
    "on-bead": "#1A4570",
    "calm-ground": "#EEEAE0",
    "calm-ink": "#553E08",
    "calm-quiet": "#424B52",
    "off-ground": "#DEC689",
    "off-ink": "#15120A",
    "loud-ground": "#2A210C",
    "loud-ink": "#F6E8C1",
    "halt-ground": "#14181C",
    "halt-ink": "#F8F6F0",
    "cap-ground": "#3F4A54",
    "cap-ink": "#F8F6F0",
}

PAIRS: tuple[tuple[str, str], ...] = (
    ("foreground", "background"),
    ("quiet", "background"),
    ("slate", "background"),
    ("sand", "background"),
    ("on-ink", "on-ground"),
    ("on-quiet", "on-ground"),
    ("on-bead", "on-ground"),
    ("calm-ink", "calm-ground"),
    ("calm-quiet", "calm-ground"),
    ("off-ink", "off-ground"),
    ("loud-ink", "loud-ground"),
    ("halt-ink", "halt-ground"),
    ("cap-ink", "cap-ground"),
)
"""Every (text, ground) pair that carries information. ``faint`` draws the empty part of a bar and carries none."""


def _theme(name: str, dark: bool, ground: str, ink: str, surface: str, own: dict[str, str]) -> Theme:
    return Theme(
        name=name,
        primary=own["slate"],
        secondary=own["sand"],
        accent=own["sand"],
        # Nothing here is good or bad by colour: what warns elsewhere in the program is sand and a word.
        warning=own["sand"],
        error=own["sand"],
        success=own["slate"],
        foreground=ink,
        background=ground,
        surface=surface,
        panel=surface,
        dark=dark,
        variables={**own, "text-muted": own["quiet"], "text": ink, "border": own["quiet"]},
    )


THEMES: tuple[Theme, ...] = (
    _theme(DARK, True, "#11161A", "#F1EFE8", "#1B2127", _DARK),
    _theme(LIGHT, False, "#F8F6F0", "#14181C", "#ECE8DD", _LIGHT),
)

VARIABLE_DEFAULTS: dict[str, str] = dict(_DARK)
"""For ``App.get_theme_variable_defaults``: our style sheets load whatever theme is in force while the app starts."""


def install(app: App[Any], wanted: str = "") -> str:
    """Register our themes and put one in force: ``wanted``, or the dark one. Returns a word where it is not known."""
    for theme in THEMES:
        app.register_theme(theme)
    # The terminal's own sixteen colours have no known contrast, so only our themes are on offer.
    known = {DARK: DARK, LIGHT: LIGHT, "dark": DARK, "light": LIGHT, "": DARK}
    app.theme = known.get(wanted, DARK)
    return "" if wanted in known else f'there is no theme "{wanted}": {DARK} or {LIGHT}'
