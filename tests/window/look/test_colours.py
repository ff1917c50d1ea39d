"""Contrast of every pair in use, calculated here again from the published formula.

Source: W3C, Web Content Accessibility Guidelines (WCAG) 2.2, definitions "relative luminance" and "contrast ratio";
success criteria 1.4.3 (text, 4.5:1), 1.4.6 (text in high contrast, 7:1) and 1.4.11 (marks and frames of controls, 3:1).
"""

import re
from functools import partial

import pytest

from fleetbench.settings import CHOICES
from fleetbench.window.look import theme as looks
from fleetbench.window.look.marks import (
    ALL_MARKS,
    HIGH_DARK,
    HIGH_LIGHT,
    HIGH_PAIRS,
    MARK_PAIRS,
    OTHER_WORDS,
    TEXT_PAIRS,
    TONES,
    Colours,
    Shape,
)
from fleetbench.window.look.theme import Theme, style_sheet

SCHEMES = pytest.mark.parametrize("colours", looks.SCHEMES.values(), ids=looks.SCHEMES)
HIGH = (HIGH_LIGHT, HIGH_DARK)

FIT = {"ready", "pass", "ok", "usable", "good", "later", "fresh", "packed", "in use"}
"""States of a unit, a part, a test or a fill that say nothing stands against its use."""


def luminance(colour: str) -> float:
    """WCAG 2.2 relative luminance of #rrggbb."""
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2 contrast ratio."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("colour", "ratio"),
    # computed with the PyPI library wcag-contrast-ratio 0.9 on white: black, #767676; and by the formula
    [("#000000", 21.0), ("#767676", 4.542225), ("#0000ff", 8.5925), ("#ff0000", 3.9985)],
)
def test_the_formula_here_gives_the_published_ratios(colour: str, ratio: float) -> None:
    assert contrast(colour, "#ffffff") == pytest.approx(ratio, abs=1e-4)


@SCHEMES
def test_every_text_reaches_its_ratio(colours: Colours) -> None:
    least = 7.0 if colours in HIGH else 4.5
    assert _below(colours, TEXT_PAIRS, least) == []


@SCHEMES
def test_every_mark_reaches_three_to_one(colours: Colours) -> None:
    assert _below(colours, MARK_PAIRS + (HIGH_PAIRS if colours in HIGH else ()), 3.0) == []


@SCHEMES
def test_every_text_and_ground_named_together_in_the_style_sheet_is_among_the_tested_pairs(colours: Colours) -> None:
    names = {value: name for name, value in reversed(list(_fields(colours).items()))}
    allowed = {(getattr(colours, ink), getattr(colours, ground)) for ink, ground in TEXT_PAIRS}
    for selector, ink, ground in _rules(style_sheet(colours)):
        if ":disabled" not in selector:  # WCAG 2.2, 1.4.3 exempts inactive controls
            assert (ink, ground) in allowed, f"{selector}: {names[ink]} on {names[ground]}"


@SCHEMES
def test_disabled_text_can_still_be_read_as_a_mark(colours: Colours) -> None:
    assert contrast(colours.faint, colours.raised) >= 3.0


def test_the_settings_offer_every_scheme() -> None:
    offered = next(each.allowed for each in CHOICES if each.key == "look")
    assert offered == ("system", *looks.SCHEMES)


def test_the_look_follows_the_system_until_one_is_chosen(theme: Theme, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(looks, "system_look", partial(str, "high contrast dark"))
    theme.set_look("system")
    assert theme.colours is HIGH_DARK
    assert theme.is_dark
    theme.set_look("high contrast light")
    theme._on_system_changed()
    assert theme.colours is HIGH_LIGHT


def test_only_what_is_fit_wears_the_disc() -> None:
    worn = {mark.word for mark in ALL_MARKS if mark.shape is Shape.DISC}
    worn |= {word for word, mark in OTHER_WORDS.items() if mark.shape is Shape.DISC}
    assert worn == FIT


def test_every_mark_has_a_tested_tone() -> None:
    assert {mark.tone for mark in ALL_MARKS} <= set(TONES)


def _below(colours: Colours, pairs: tuple[tuple[str, str], ...], least: float) -> list[str]:
    ratios = {pair: contrast(getattr(colours, pair[0]), getattr(colours, pair[1])) for pair in pairs}
    return [f"{ink} on {ground}: {ratios[ink, ground]:.2f}" for ink, ground in pairs if ratios[ink, ground] < least]


def _fields(colours: Colours) -> dict[str, str]:
    return {name: getattr(colours, name) for name in Colours.__dataclass_fields__}


def _rules(sheet: str) -> list[tuple[str, str, str]]:
    found = []
    for selector, body in re.findall(r"([^{}]+)\{([^{}]*)\}", re.sub(r"/\*.*?\*/", "", sheet, flags=re.S)):
        ink = re.search(r"(?<![-\w])color:\s*(#\w+)", body)
        ground = re.search(r"background-color:\s*(#\w+)", body)
        if ink and ground:
            found.append((selector.strip(), ink[1], ground[1]))
    return found
