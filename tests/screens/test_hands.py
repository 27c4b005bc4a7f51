"""What a hand pressed and what no hand did, from key names and times alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.screens.terminal.buttons import Button, Click
from orroom.screens.terminal.clicks import Clicks
from orroom.screens.terminal.hands import (
    AFTER_STOP,
    CLOSE,
    CLOSE_IN_TEXT,
    DOUBLE_CLICK,
    FASTEST_REPEAT,
    FOCUS_CLICK,
    MOST_KEPT,
    QUIET,
    RELEASE,
    Hands,
    Press,
    Run,
    Settled,
)

Timed = tuple[float, str]


def press(at: float, key: str, close: float = CLOSE) -> Press:
    return Press(key, key if len(key) == 1 else None, at, round(at * 1000), close)


def sorted_by(hands: Hands, presses: Iterable[Press]) -> Settled:
    """What comes out, in order, of presses at their times and then of quiet."""
    settled: Settled = ()
    last = None
    for each in presses:
        patience = hands.patience
        if last is not None and patience is not None and each.at - last >= patience:
            settled += hands.quiet()
        settled += hands.take(each)
        last = each.at
    while hands.patience is not None:
        settled += hands.quiet()
    return settled


def of(times: Iterable[Timed]) -> Settled:
    return sorted_by(Hands(), (press(at, key) for at, key in times))


def runs(settled: Settled) -> list[Run]:
    return [each for each in settled if isinstance(each, Run)]


def names(settled: Settled) -> str:
    return "".join(each.key for each in settled if isinstance(each, Press))


def burst(keys: Sequence[str], at: float = 10.0, apart: float = 0.0002) -> list[Timed]:
    return [(at + number * apart, key) for number, key in enumerate(keys)]


def hold(
    key: str, seconds: float, at: float = 10.0, delay: float = 0.658, every: float = 0.040
) -> list[Timed]:
    """A key held down: the press, then repeats after ``delay``. The defaults were measured."""
    repeats = max(0, int((seconds - delay) / every) + 1)
    return [(at, key)] + [(at + delay + number * every, key) for number in range(repeats)]


jitter_ms = st.lists(st.integers(-10, 10), min_size=720, max_size=720)


@settings(max_examples=30)
@given(jitter_ms)
def test_twelve_taps_a_second_by_turns_pass_untouched_for_a_minute(jitters: list[int]):
    taps = [(number / 12 + jitters[number] / 1000, "12"[number % 2]) for number in range(720)]
    assert names(of(taps)) == "12" * 360


@settings(max_examples=30)
@given(jitter_ms)
def test_nine_taps_a_second_on_one_key_pass_untouched_for_a_minute(jitters: list[int]):
    taps = [(number / 9 + jitters[number] / 1000, "2") for number in range(540)]
    hands = Hands()
    for at, key in taps:
        assert hands.take(press(at, key)) == (press(at, key),)  # at once, not later


@pytest.mark.parametrize("per_second", [5, 7, 9, 10])
def test_even_taps_pass_untouched(per_second: int):
    assert names(of((number / per_second, "2") for number in range(540))) == "2" * 540


def test_a_held_key_is_its_first_press_and_one_run():
    keys = hold("2", 1.5)
    assert len(keys) == 23
    first, repeat, run = of(keys)
    assert (first, repeat) == (press(10.0, "2"), press(10.658, "2"))  # not yet known as one
    assert isinstance(run, Run)
    assert first not in run.taps
    assert (run.cause, len(run.taps), run.passed) == ("held", 22, 1)


@pytest.mark.parametrize(
    ("delay", "every"),
    [(0.658, 0.040), (0.250, 0.033), (0.5, 0.030), (0.2, 0.020), (0.375, 0.090), (0.25, 0.092)],
)
def test_keyboards_of_every_pace_are_known(delay: float, every: float):
    *passed, run = of(hold("2", 3, delay=delay, every=every))
    assert isinstance(run, Run)
    assert run.cause == "held"
    assert [tap for tap in passed if tap not in run.taps] == [press(10.0, "2")]


#: What the library makes of answers that it does not know, when they come late.
ANSWERS = {
    "device attributes": "^[?64;1;2c",
    "background colour": "^]11;rgb:1e1e/1e1e/1e1e",
    "size of the text area": "^[8;24;80t",
    "keyboard flags": "^[?25u",
    "version": "^P>|xterm(370)",
}


@pytest.mark.parametrize("answer", ANSWERS.values(), ids=ANSWERS)
def test_a_terminals_late_answer_is_one_burst(answer: str):
    honest, _, run = of([(5.0, "2"), *burst(answer)])
    assert honest == press(5.0, "2")
    assert isinstance(run, Run)
    assert (run.cause, "".join(run.keys), run.passed) == ("burst", answer, 1)


def test_a_scanner_is_one_burst_with_its_enter():
    _, run = of(burst([*"1234567", "enter"], apart=0.003))
    assert isinstance(run, Run)
    assert (run.cause, len(run.taps), run.passed) == ("burst", 8, 1)


def test_a_paste_of_one_key_is_a_burst_not_a_held_key():
    _, run = of(burst("22222"))
    assert isinstance(run, Run)
    assert run.cause == "burst"


def test_one_close_pair_passes_with_its_times():
    assert of([(1.0, "1"), (1.02, "2"), (1.4, "1")]) == (press(1.0, "1"), press(1.02, "2"), press(1.4, "1"))


def test_a_tap_that_waits_passes_after_a_moment_or_with_the_next():
    hands = Hands()
    assert hands.take(press(1.0, "1")) == (press(1.0, "1"),)
    assert hands.patience is None
    assert hands.take(press(1.02, "2")) == ()
    assert hands.patience == RELEASE
    assert hands.take(press(1.2, "3")) == (press(1.02, "2"), press(1.2, "3"))


def test_pairs_of_two_fingers_pass_for_ever():
    pairs = [(number * 0.2 + late, key) for number in range(100) for late, key in ((0, "1"), (0.03, "2"))]
    assert names(of(pairs)) == "12" * 100


def test_after_a_run_is_quiet_taps_pass_again():
    keys = hold("2", 1.5)
    *_, run, tap = of([*keys, (keys[-1][0] + QUIET + 0.01, "3")])
    assert isinstance(run, Run)
    assert isinstance(tap, Press)
    assert tap.key == "3"


def test_keys_that_record_nothing_may_repeat_and_overtake_nothing():
    free = [press(1 + number * 0.03, "down", close=0) for number in range(30)]
    assert sorted_by(Hands(), free) == tuple(free)
    order = [press(1.0, "1"), press(1.02, "2"), press(1.03, "down", close=0)]
    assert sorted_by(Hands(), order) == tuple(order)


def test_in_a_text_typists_roll_over_keys_and_a_scanner_still_shows():
    typed = [press(1 + number * 0.03, key, CLOSE_IN_TEXT) for number, key in enumerate("the dish is dry")]
    assert sorted_by(Hands(), typed) == tuple(typed)
    scanned = [press(at, key, CLOSE_IN_TEXT) for at, key in burst("1234567")]
    assert len(runs(sorted_by(Hands(), scanned))) == 1


def test_what_arrives_when_the_station_goes_on_is_set_aside_also_a_single_key():
    hands = Hands()
    hands.stopped(100.0)
    (run, tap) = sorted_by(hands, [press(100.1, "2"), press(100.1 + AFTER_STOP + QUIET, "2")])
    assert isinstance(run, Run)
    assert (run.cause, run.passed) == ("burst", 0)
    assert tap == press(100.1 + AFTER_STOP + QUIET, "2")


def test_a_tap_that_waits_when_the_station_stops_keeps_its_place():
    hands = Hands()
    assert hands.take(press(1.0, "1")) == (press(1.0, "1"),)
    assert hands.take(press(1.02, "2")) == ()
    hands.stopped(9.0)
    assert hands.take(press(9.1, "3")) == (press(1.02, "2"),)
    (run,) = hands.quiet()
    assert isinstance(run, Run)
    assert run.keys == ("3",)


def clicked(at: float, action: str) -> Press:
    button = Button(action)
    return Press(button.key, None, at, round(at * 1000), button=button)


@settings(max_examples=30)
@given(jitter_ms)
@pytest.mark.parametrize(("tiles", "per_second"), [("2", 6), ("12", 12)])
def test_honest_clicks_pass_untouched_for_a_minute(tiles: str, per_second: int, jitters: list[int]):
    clicks = [
        clicked(number / per_second + jitters[number] / 1000, f"cut('{tiles[number % len(tiles)]}')")
        for number in range(60 * per_second)
    ]
    assert sorted_by(Hands(), clicks) == tuple(clicks)


def test_a_burst_of_clicks_is_a_burst_of_clicks_at_any_pace():
    for apart in (0.001, 0.04):
        *_, run = sorted_by(Hands(), [clicked(10 + number * apart, "cut('2')") for number in range(20)])
        assert isinstance(run, Run)
        assert (run.cause, run.noun, set(run.keys), len(run.taps)) == ("burst", "click", {"click"}, 20)


def test_keys_and_clicks_in_one_run_are_taps():
    mixed = [press(10 + number * 0.002, "2") for number in range(3)] + [clicked(10.008, "cut('2')")]
    *_, run = sorted_by(Hands(), mixed)
    assert isinstance(run, Run)
    assert (run.noun, run.keys) == ("tap", ("2", "2", "2", "click"))


TAKE_BACK, TILE, ANSWER = Button("undo"), Button("cut('2')"), Button("press('y')")


def why_not(clicks: Clicks, button: Button, at: float) -> str | None:
    meant = clicks.meant(Click(button, button, at - 0.08, at))
    return meant if isinstance(meant, str) else None


@pytest.mark.parametrize("button", [TAKE_BACK, ANSWER, Button("discard"), Button("place"), Button("segment")])
def test_a_second_click_counts_once_it_is_no_double_click(button: Button):
    clicks = Clicks()
    assert why_not(clicks, button, 10.0) is None
    assert why_not(clicks, button, 10.0 + DOUBLE_CLICK - 0.01) == "a second click so soon is left out"
    assert (
        why_not(clicks, button, 10.0 + 2 * DOUBLE_CLICK - 0.03) is not None
    )  # a third one belongs to it too
    assert why_not(clicks, button, 10.0 + 3 * DOUBLE_CLICK) is None


@pytest.mark.parametrize(
    "button", [TILE, Button("go(1, -1)"), Button("type('7')"), Button("press('f1')"), Button("press('0')")]
)
def test_tiles_cells_digits_and_pages_may_be_clicked_again_at_once(button: Button):
    clicks = Clicks()
    assert [why_not(clicks, button, 10 + number * 0.1) for number in range(20)] == [None] * 20


def test_what_came_under_the_pointer_just_now_is_not_what_was_aimed_at():
    meant = Clicks().meant(Click(TILE, TILE, 10.0, 10.1, new=True))
    assert isinstance(meant, str)


def test_the_click_that_comes_with_the_keyboard_is_left_out_and_no_other():
    clicks = Clicks()
    clicks.focus_back(10.0)  # it had not been away
    assert why_not(clicks, TILE, 10.1) is None
    clicks.focus_lost()
    clicks.focus_back(20.0)
    assert why_not(clicks, TILE, 20.0 + FOCUS_CLICK / 2) is not None
    assert why_not(clicks, TILE, 20.1 + FOCUS_CLICK) is None
    clicks.focus_lost()
    assert why_not(clicks, TILE, 30.0) is not None  # before the keyboard
    assert why_not(clicks, TILE, 31.0) is None  # a terminal that never tells that it is back


gaps_s = st.one_of(
    st.floats(0, 0.02), st.floats(0.02, 0.07), st.floats(0.06, 0.2), st.sampled_from([0.04, 0.09, 0.658, 1.0])
)
streams = st.lists(
    st.tuples(
        gaps_s,
        st.sampled_from(["1", "2", "enter", "down"]),
        st.sampled_from([CLOSE, CLOSE, CLOSE_IN_TEXT, 0]),
        st.booleans(),
    ),
    max_size=60,
)


@given(streams)
def test_every_tap_passes_or_stands_in_exactly_one_run_in_its_order(
    stream: list[tuple[float, str, float, bool]],
):
    """Also when quiet is told too early, as by a timer on a busy machine."""
    hands = Hands()
    fed: list[Press] = []
    settled: list[Press | Run] = []
    at = 1000.0
    for gap, key, close, too_early in stream:
        at += gap
        fed.append(Press(f"{key} {len(fed)}" if close == 0 else key, None, at, len(fed), close))
        settled += hands.take(fed[-1])
        if too_early:
            settled += hands.quiet()
    while hands.patience is not None:
        settled += hands.quiet()
    found: list[Press] = []
    passed: list[Press] = []
    for each in settled:
        if isinstance(each, Press):
            found.append(each)
            passed.append(each)
        else:
            found += each.taps[each.passed :]
            assert all(tap in passed for tap in each.taps[: each.passed])
            passed = [tap for tap in passed if tap not in each.taps]  # in no other run
    assert found == fed


def test_no_keyboard_repeats_faster_than_a_burst():
    assert FASTEST_REPEAT < 1 / 50


@pytest.mark.parametrize("gaps", [(80, 95, 83, 94), (84, 95), (76, 90, 81, 95, 88)])
def test_a_fast_finger_is_less_even_than_a_keyboard(gaps: tuple[int, ...]):
    """Taps of one finger vary by some 5 % of their gap, fast ones too (from memory): 10 ms in a few taps."""
    at, taps = 10.0, [(10.0, "2")]
    for number in range(200):
        at += gaps[number % len(gaps)] / 1000
        taps.append((at, "2"))
    assert names(of(taps)) == "2" * 201


def test_a_slow_keyboard_that_is_read_a_little_unevenly_is_known():
    late_ms = (0, 2, -1, 3, 1, -2, 0, 2)
    keys = hold("2", 3, delay=0.375, every=0.090)
    uneven = [(at + late_ms[number % len(late_ms)] / 1000, key) for number, (at, key) in enumerate(keys)]
    assert [run.cause for run in runs(of(uneven))] == ["held"]


def test_after_a_run_taps_at_a_hands_pace_are_a_hands_again_without_a_pause():
    """Thirty taps that a network held up, then twenty as they are made."""
    waited = burst("2" * 30)
    after = [(waited[-1][0] + 0.08 + number * 0.11, "2") for number in range(20)]
    _, run, *passed = of([*waited, *after])
    assert isinstance(run, Run)
    assert len(run.taps) == 30
    assert passed == [press(at, key) for at, key in after]


def test_the_run_is_told_as_soon_as_a_hand_taps_again():
    hands = Hands()
    for at, key in burst("2" * 5):
        hands.take(press(at, key))
    found = [hands.take(press(10.1 + number * 0.11, "2")) for number in range(4)]
    assert [len(each) for each in found] == [0, 0, 1 + 3, 1]  # the run and what was tried, then at once


def test_a_hiccup_of_a_held_key_does_not_end_its_run():
    keys = hold("2", 2)
    for hiccup in (0.03, 0.07, 0.1):
        late = [(at + (hiccup if number > 15 else 0), key) for number, (at, key) in enumerate(keys)]
        (run,) = runs(of(late))
        assert (run.cause, len(run.taps)) == ("held", len(keys) - 1)
    last = keys[-1][0] + 0.12
    assert len(runs(of([*keys, (last, "2")]))[0].taps) == len(keys)  # its last repeat, read late


def test_taps_read_late_and_the_next_one_are_no_three_at_once():
    late = [replace(press(10.0, "2"), late=True)] * 2
    assert names(sorted_by(Hands(), [*late, press(10.01, "2"), press(10.12, "2")])) == "2222"
    assert len(runs(sorted_by(Hands(), [press(10.0, "2")] * 2 + [press(10.01, "2")]))) == 1


def test_a_key_held_over_a_stall_is_one_run():
    before = [press(at, key) for at, key in hold("2", 0.9)]
    late = [replace(press(11.5, "2"), late=True)] * 2
    after = [press(11.52 + number * 0.04, "2") for number in range(6)]
    found = sorted_by(Hands(), [*before, *late, *after])
    assert [len(run.taps) for run in runs(found)] == [len(before) - 1, len(late) + len(after)]


def test_of_an_endless_run_so_many_taps_are_kept_and_the_rest_is_a_number():
    (first, run) = of(burst("2" * (MOST_KEPT + 500)))
    assert isinstance(run, Run)
    assert (first, len(run.taps), run.more, run.passed) == (run.taps[0], MOST_KEPT, 500, 1)
