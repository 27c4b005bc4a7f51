"""Colours: enough contrast in both themes, on 16 colours too; and no state that colour alone tells."""

from __future__ import annotations

import colorsys
import re
from typing import get_args

import pytest
from cases import UNCOUNTED, Record, case_under_way, opened_case, small_plan
from painted import PAINTERS
from rich.color import Color, ColorSystem
from rich.color_triplet import ColorTriplet

from orroom.case import commands as c
from orroom.case.rules import Refusal
from orroom.case.terms import ROLES, Role
from orroom.figures.pace.rest_of_day import foretold
from orroom.screens.replay.keys import LANDMARK_WORDS
from orroom.screens.replay.strip import HERE
from orroom.screens.stations import questions
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.stations.views.frame import NOT_KEPT, Glance
from orroom.screens.stations.views.pages import help_blocks
from orroom.screens.stations.views.prompting import MARK, TONE
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.painting import Line, Span, Tone, text_of
from orroom.screens.terminal.theme import DARK, LIGHT, THEMES, TONES, colour


def luminance(colour: ColorTriplet) -> float:
    """Relative luminance of an sRGB colour, WCAG 2.1, "relative luminance" (from memory)."""
    parts = (each / 255 for each in colour)
    red, green, blue = (
        each / 12.92 if each <= 0.03928 else ((each + 0.055) / 1.055) ** 2.4 for each in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: ColorTriplet, other: ColorTriplet) -> float:
    """Contrast ratio, WCAG 2.1, "contrast ratio" (from memory): 1 to 21."""
    lower, higher = sorted((luminance(one), luminance(other)))
    return (higher + 0.05) / (lower + 0.05)


def tones_of(theme: str) -> dict[str, tuple[Color, Color]]:
    """Of each tone its colour and the one behind it."""
    return {
        tone: (Color.parse(colour(THEMES[theme], ink)), Color.parse(colour(THEMES[theme], behind)))
        for tone, (ink, behind, _) in TONES.items()
    }


def test_the_contrast_of_known_colours():
    # Black on white is 21, a colour on itself 1; #767676 on white is 4.54, the lightest grey that passes 4.5.
    white, black, grey = ColorTriplet(255, 255, 255), ColorTriplet(0, 0, 0), ColorTriplet(118, 118, 118)
    assert contrast(black, white) == pytest.approx(21)
    assert contrast(grey, grey) == 1
    assert contrast(white, grey) == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", THEMES)
def test_every_tone_has_its_colours(theme: str):
    assert set(tones_of(theme)) == set(get_args(Tone))


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("tone", TONES)
def test_all_text_stands_out(theme: str, tone: Tone):
    # 4.5:1 for text and 7:1 where it is large figures read from afar: WCAG 2.1, 1.4.3, 1.4.6 (from memory).
    ink, behind = tones_of(theme)[tone]
    assert ink.triplet is not None
    assert behind.triplet is not None
    least = 7.0 if tone in {"mine", "pressing", "wrong"} else 4.5
    assert contrast(ink.triplet, behind.triplet) >= least


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("tone", TONES)
def test_all_text_stands_out_on_16_colours(theme: str, tone: Tone):
    ink, behind = (each.downgrade(ColorSystem.STANDARD) for each in tones_of(theme)[tone])
    # These are the usual ones of the 16; a terminal may have its own. 3:1: WCAG 2.1, 1.4.11 (from memory).
    assert contrast(ink.get_truecolor(), behind.get_truecolor(foreground=False)) >= 3


@pytest.mark.parametrize("theme", THEMES)
def test_an_overdue_bar_is_as_visible_in_the_light_theme_as_in_the_dark(theme: str):
    # The bar against the screen around it: at least 10:1 (no source), no less than any other state's text.
    tones = tones_of(theme)
    ink, bar = tones["pressing"]
    screen = tones["plain"][1]
    assert bar.triplet is not None
    assert screen.triplet is not None
    assert contrast(bar.triplet, screen.triplet) >= 10
    for tone in ("notice", "wrong", "done", "owed"):
        other = tones[tone][0].get_truecolor()
        assert contrast(bar.triplet, screen.triplet) >= contrast(other, screen.triplet)
    # Yellow, never red: one of its two colours is, the other has no hue that is seen.
    hues = [colorsys.rgb_to_hls(*(part / 255 for part in each.get_truecolor())) for each in (ink, bar)]
    yellow = [hue for hue, _, saturation in hues if saturation > 0.3]
    assert [round(hue * 360) for hue in yellow] == [56]


@pytest.mark.parametrize("theme", THEMES)
def test_what_is_late_and_taps_not_on_disk_differ_for_every_eye(theme: str):
    # Lightness alone tells the bar of the one from the text of the other, however its hues are seen.
    tones = tones_of(theme)
    (_, late), (_, not_kept) = tones[TONE["late"]], tones["wrong"]
    assert late.triplet is not None
    assert not_kept.triplet is not None
    assert contrast(late.triplet, not_kept.triplet) >= 10


def test_no_mark_has_two_meanings():
    zones = ["○", "●", "▲"]
    on_strip = {mark for _, _, mark in LANDMARK_WORDS.values()}
    assert len({*zones, *MARK.values(), NOT_KEPT, HERE}) == len(zones) + len(set(MARK.values())) + 2
    assert not on_strip & {NOT_KEPT, HERE, "!"}


def test_states_are_blue_orange_and_yellow_of_okabe_and_ito():
    # Okabe & Ito, Color Universal Design, 2008 (from memory): hues in degrees, which lightness leaves alone.
    hues = {"blue": 202, "sky blue": 202, "orange": 41, "yellow": 56, "vermillion": 27, "bluish green": 164}

    def hue(colour: str | None) -> float:
        assert colour is not None
        normal = Color.parse(colour).get_truecolor()
        red, green, blue = (each / 255 for each in normal)
        high, low = max(red, green, blue), min(red, green, blue)
        if high == red:
            return 60 * ((green - blue) / (high - low) % 6)
        if high == green:
            return 60 * ((blue - red) / (high - low) + 2)
        return 60 * ((red - green) / (high - low) + 4)

    for theme in (DARK, LIGHT):
        assert hue(theme.primary) == pytest.approx(hues["sky blue"], abs=5)
        assert hue(theme.warning) == pytest.approx(hues["yellow"], abs=8)
        assert hues["vermillion"] - 10 <= hue(theme.error) <= hues["orange"] + 5
        assert hue(theme.success) == pytest.approx(hues["bluish green"], abs=10)


# The text alone tells the state.

#: What stands in a span of these tones, or right before it in its line, says what the colour says.
SAYS: dict[Tone, str] = {
    "done": r"●|(\d[\d,]*)/\1\b|▇",
    "owed": r"○|still owed|next:|▇|░|over|short|under",
    "notice": r"◉ .*DUE|‖|signed off|◇ LIMIT",
    "pressing": r"! .*(late|LATE)",
    "wrong": r"▲|≠|✗|\+\d|■|\?|(\d[\d,]*)/\d",
    "cursor": r"\[.*\]|\+1|▌|■ NO FOCUS",
}


def states() -> list[tuple[Record, dict[str, object]]]:
    """Cases in which every state is on the screens: over plan, done, owed, due, overdue, refused, asked."""
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=40))
    record.enter(c.PlaceGrafts(zone="MID", size="M", count=11))
    record.enter(c.GiveCare(care="wet"))
    record.enter(c.GiveCare(care="cold", temperature_c=9.5))
    record.wait(16)
    record.enter(c.PausePrompt(care="renew", minutes=5))
    late = case_under_way()
    late.wait(50)
    refusal = record.refusal(c.CutGrafts(harvest="A", size="9", count=1))
    assert isinstance(refusal, Refusal)
    off = case_under_way()
    off.enter(c.SignOff(second="CD", **UNCOUNTED))
    return [
        (record, {"zone": 2, "size": 1, "typed": "12", "flashed": "1"}),
        (record, {"message": f"✗ {refusal}", "message_tone": "wrong", "refusal": refusal}),
        (record, {"question": Question(questions.note())}),
        (record, {"focused": False}),
        (record, {"waiting": 3, "trouble": "the disk is full"}),
        (late, {}),
        (off, {}),
        (opened_case(small_plan()), {}),
    ]


def painted(role: Role) -> list[Line]:
    """All lines of a role's screens in every state, with its help."""
    lines: list[Line] = []
    for record, more in states():
        for width, height in ((80, 24), (120, 40), (40, 12)):
            glance = Glance(role=role, who="AB", width=width, height=height, **more)  # type: ignore[arg-type]
            if role == "overview":
                glance.foretold = foretold(record.state, record.now_ms)
            lines += PAINTERS[role](record.state, record.now_ms, glance)
            lines += [each for block in help_blocks(glance, ("be careful",)) for each in block]
    return lines


@pytest.mark.parametrize("role", ROLES)
def test_a_mark_or_a_word_tells_what_every_colour_says(role: Role):
    silent: list[tuple[Tone, str]] = []
    seen: set[Tone] = set()
    above: set[Tone] = set()  # tones that the line above has told: its sentence may go on
    for each in painted(role):
        found: set[Tone] = set()
        for number, span in enumerate(each):
            if span.tone not in SAYS:
                continue  # other tones say no state
            seen.add(span.tone)
            before = text_of(each[: number + 1])
            if span.tone in above or re.search(SAYS[span.tone], before):
                found.add(span.tone)
            elif span.text.strip(" █"):  # blocks are a figure whose words stand beside it
                silent.append((span.tone, before))
        above = found
    assert silent == []
    assert {"notice", "pressing", "wrong"} <= seen


def test_blocks_in_a_states_colour_have_their_words_beside_them():
    glance = Glance(role="cutting", who="AB", waiting=3, trouble="the disk is full?")
    lines = cutting_lines(case_under_way().state, 0, glance)
    rows = [each for each in lines if any(span.tone == "wrong" and "█" in span.text for span in each)]
    assert any("NOT ON DISK YET" in text_of(each) for each in rows)
    assert any("the disk is full? They are kept" in text_of(each) for each in lines)


@pytest.mark.parametrize("height", [24, 16])
def test_a_record_that_takes_nothing_is_not_said_to_have_taps_waiting(height: int):
    glance = Glance(role="cutting", who="AB", height=height, trouble="the disk is full.")
    text = "\n".join(map(text_of, cutting_lines(case_under_way().state, 0, glance)))
    assert "■ TAPS CANNOT BE KEPT NOW" in text
    assert "NOT ON DISK" not in text
    assert "They are kept" not in text


def test_without_its_mark_a_zone_would_be_found_out():
    line = (Span(" hairline ", "done"),)
    assert not re.search(SAYS["done"], text_of(line))
