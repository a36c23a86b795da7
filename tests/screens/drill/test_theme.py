"""Contrast computed from the colours themselves, after WCAG 2.2's definition of relative luminance."""

from __future__ import annotations

import colorsys

import pytest
from textual.app import App
from textual.theme import Theme

from screens import theme
from screens.theme import PAIRS, THEMES


def colour(of: Theme, name: str) -> str:
    """A colour of a theme by its variable's name."""
    own = {"foreground": of.foreground, "background": of.background}.get(name)
    return own or of.variables[name]


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1 (WCAG 2.2)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(part * weight for part, weight in zip(linear, (0.2126, 0.7152, 0.0722), strict=True))


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_measure_itself() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("of", THEMES, ids=lambda of: of.name)
@pytest.mark.parametrize("pair", PAIRS, ids="-on-".join)
def test_contrast_is_at_least_seven_to_one(of: Theme, pair: tuple[str, str]) -> None:
    assert contrast(colour(of, pair[0]), colour(of, pair[1])) >= 7


@pytest.mark.parametrize("of", THEMES, ids=lambda of: of.name)
def test_no_traffic_light(of: Theme) -> None:
    """Every colour that is a colour at all is slate (blue) or sand (yellow-brown): never red, never green."""
    for name, value in of.variables.items():
        red, green, blue = (int(value[place : place + 2], 16) / 255 for place in (1, 3, 5))
        hue, _, saturation = colorsys.rgb_to_hls(red, green, blue)
        if saturation > 0.15:
            assert 30 <= hue * 360 <= 60 or 195 <= hue * 360 <= 225, name


@pytest.mark.parametrize("of", THEMES, ids=lambda of: of.name)
def test_the_two_hands_are_told_apart_by_lightness_too(of: Theme) -> None:
    """Grounds of hands on, hands off and past the limit differ in a mono terminal."""
    grounds = [luminance(of.variables[name]) for name in ("on-ground", "off-ground", "loud-ground")]
    for one, other in ((0, 1), (1, 2)):
        low, high = sorted((grounds[one], grounds[other]))
        assert (high + 0.05) / (low + 0.05) > 1.25


def test_install_offers_only_our_themes_and_says_when_asked_for_another() -> None:
    app: App[None] = App()
    assert theme.install(app) == ""
    assert app.theme == theme.DARK
    assert theme.install(app, "light") == ""
    assert app.theme == theme.LIGHT
    assert "nord" in theme.install(app, "nord")
    assert app.theme == theme.DARK
