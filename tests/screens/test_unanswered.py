"""An open question eats no tap in silence, and closes by itself: what rings, what is said, what is kept."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from cases import MORNING_MS
from seats import Seat, aside, harvested, held, seated
from stations import new_case

from orroom.case import events as e
from orroom.screens.settings.clinic import Clinic
from orroom.screens.stations import questions
from orroom.screens.stations.over.overlay import Overlays
from orroom.screens.stations.unanswered import CLOSES, CLOSES_UNHURRIED, FORGOTTEN, Unanswered
from orroom.screens.stations.views.over import COMPARING
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.hands import Press
from orroom.screens.terminal.keys import Keys


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


class Rung:
    """How often a station's bell rang since it was asked last."""

    def __init__(self, seat: Seat, monkeypatch: pytest.MonkeyPatch) -> None:
        self._times = 0
        monkeypatch.setattr(seat.app, "bell", self._ring)

    def _ring(self) -> None:
        self._times += 1

    def __call__(self) -> int:
        times, self._times = self._times, 0
        return times


def shown(seat: Seat) -> str:
    return " ".join(seat.text.split())


def cut(seat: Seat) -> dict[str, int]:
    return {size: count for size in "123" if (count := seat.desk.state.tally.held("cut", size))}


async def wait(seat: Seat, seconds: float) -> None:
    """Nobody presses a key for so long, and the station's clock ticks."""
    seat.screen.asking.close_untouched(seat.at + seconds + 1e-6)
    await seat.settle()


async def test_taps_that_went_into_a_note_ring_and_count_with_their_own_times_once_it_is_left(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "cutting") as seat:
        rung = Rung(seat, monkeypatch)
        await seat.press("n")
        assert rung() == 0
        for key in "1231221":
            seat.clock.at_ms += 1000
            await seat.press(key)
            assert rung() == 1
        assert "digits go into this text, not into the tally" in shown(seat)
        await seat.press("escape")
        assert "1 2 3 1 2 2 1 went into the text: t counts them as 7 taps" in shown(seat)
        assert cut(seat) == {}
        seat.clock.at_ms += 60_000
        await seat.press("t")
        assert cut(seat) == {"1": 3, "2": 3, "3": 1}
        taps = [each for each in seat.desk.state.log if isinstance(each.event, e.GraftsCut)]
        assert [each.event.size for each in taps] == list("1231221")
        assert [each.stamp.at_ms for each in taps] == [MORNING_MS + 1000 * n for n in range(1, 8)]
        await seat.press("t")
        assert cut(seat) == {"1": 3, "2": 3, "3": 1}


async def test_the_offer_swallows_no_tap_and_any_other_key_leaves_what_was_typed(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("n", "1", "1", "escape", "2")
        assert cut(seat) == {"2": 1}
        assert "went into the text" not in shown(seat)
        await seat.press("t")
        assert cut(seat) == {"2": 1}


async def test_a_click_leaves_what_was_offered(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("n", "1", "1", "escape")
        await seat.click("L switch harvest")
        await seat.press("t")
        assert cut(seat) == {}


async def test_only_digits_that_are_still_there_are_offered(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("n", "a", "2", "3", "backspace", "escape")
        assert "2 went into the text: t counts them as 1 tap" in shown(seat)
        await seat.press("n", "a", "escape")
        assert "went into the text" not in shown(seat)
        await seat.press("t")
        assert cut(seat) == {}


async def test_a_text_at_placing_takes_digits_without_a_bell(case: Path, monkeypatch: pytest.MonkeyPatch):
    async with seated(case, "placing") as seat:
        rung = Rung(seat, monkeypatch)
        await seat.press("n", "1", "2", "enter")
        assert rung() == 0
        assert seat.last() == e.NoteAdded(text="12")


async def test_a_question_that_nobody_touches_closes_and_what_was_typed_is_there_again(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "cutting") as seat:
        await seat.press("n")
        await seat.type("lamp")
        rung = Rung(seat, monkeypatch)
        await wait(seat, CLOSES - 0.1)
        assert seat.screen.glance.question is not None
        await wait(seat, CLOSES)
        assert rung() == 1
        assert seat.screen.glance.question is None
        for _ in range(2):
            assert "Closed, no key for 30 s: Note (no names); what was typed is kept" in shown(seat)
            seat.app.repaint()  # a second later
        await seat.press("2")
        assert cut(seat) == {"2": 1}
        assert "Closed" not in shown(seat)
        await seat.press("n")
        assert "lamp" in shown(seat)
        await seat.type(" off")
        await seat.press("enter")
        assert seat.last() == e.NoteAdded(text="lamp off")
        await seat.press("n")
        assert "lamp" not in shown(seat).split("Note (no names)")[1]


async def test_the_stations_clock_closes_it(case: Path, monkeypatch: pytest.MonkeyPatch):
    async with seated(case, "cutting") as seat:
        await seat.press("n")
        late = time.monotonic() + 10_000
        monkeypatch.setattr("orroom.screens.stations.app.time.monotonic", lambda: late)
        seat.app._tick()
        assert seat.screen.glance.question is None


async def test_every_number_and_text_of_a_question_is_kept(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("v", "9", "enter", "1", "enter", "6", "d", "r")
        await wait(seat, CLOSES_UNHURRIED)
        for key, typed in (("v", "9"), ("enter", "1"), ("enter", ""), ("6", "dr")):
            await seat.press(key)
            if not typed:
                continue
            assert seat.screen.glance.question is not None
            assert seat.screen.glance.question.typed == typed


async def test_digits_in_a_text_that_closed_are_counted_once(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("n", "1", "2", "2")
        await wait(seat, CLOSES)
        assert "1 2 2 went into the text: t counts them as 3 taps, any other key does not." in shown(seat)
        assert "Closed, no key for 30 s" in shown(seat)
        await seat.press("t")
        assert cut(seat) == {"1": 1, "2": 2}
        await seat.press("n")
        assert seat.screen.glance.question is not None
        assert seat.screen.glance.question.typed == ""  # they are no text any more


async def test_a_forgotten_question_rings_and_takes_no_answer_at_first(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "cutting") as seat:
        await seat.press("x")
        rung = Rung(seat, monkeypatch)
        seat.at += FORGOTTEN
        await seat.press("2")
        assert rung() == 1
        assert "open for 20 s without a key: 2 again if it is the answer" in shown(seat)
        await seat.press("2")
        assert rung() == 0
        assert "of size" in shown(seat)
        seat.at += FORGOTTEN - 1
        await seat.press("1")
        assert rung() == 0
        assert seat.last() == e.GraftsDiscarded(size="1", harvest="A", count=1, reason="dried")


async def test_what_is_typed_into_a_forgotten_question_rings_and_is_typed(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "placing") as seat:
        await seat.press("t")
        rung = Rung(seat, monkeypatch)
        seat.at += FORGOTTEN
        await seat.press("4")
        assert rung() == 1
        assert "this question was still open" in shown(seat)
        seat.at += FORGOTTEN
        await seat.press("enter")
        assert rung() == 1
        await seat.press("enter")
        assert "Who made them?" in shown(seat)
        await seat.press("1")
        made = seat.last()
        assert isinstance(made, e.SitesMade)
        assert (made.zone, made.count) == ("LINE", 4)


async def test_escape_leaves_a_forgotten_question_at_once(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("x")
        seat.at += FORGOTTEN
        await seat.press("escape")
        assert seat.screen.glance.question is None


async def test_a_key_that_a_question_does_not_take_rings(case: Path, monkeypatch: pytest.MonkeyPatch):
    async with seated(case, "cutting") as seat:
        rung = Rung(seat, monkeypatch)
        await seat.press("x", "9")
        assert rung() == 1
        await seat.press("escape", "h", "1", "m")
        assert rung() == 1


async def test_whoever_counts_a_dish_or_signs_off_has_time(case: Path, monkeypatch: pytest.MonkeyPatch):
    harvested(case)
    async with seated(case, "placing") as seat:
        await seat.press("j", "1", "2", "1", "4")
        await wait(seat, CLOSES_UNHURRIED - 1)
        assert seat.screen.glance.question is not None
        await wait(seat, CLOSES_UNHURRIED)
        assert seat.screen.glance.question is None
        monkeypatch.setattr(Overlays, "help", COMPARING)
        await seat.press("n")
        await wait(seat, CLOSES_UNHURRIED - 1)
        assert seat.screen.glance.question is not None


async def test_a_question_over_another_closes_alone(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("n")
        await seat.type("lamp")
        await seat.press("ctrl+q")
        seat.at = max(seat.at, time.monotonic())
        await wait(seat, CLOSES)
        assert "Leave this station?" not in seat.text.split("Closed")[0]
        assert "lamp" in shown(seat)
        await wait(seat, CLOSES + 1)
        assert seat.screen.glance.question is not None
        await wait(seat, 2 * CLOSES + 1)
        assert seat.screen.glance.question is None


async def test_a_question_about_keys_never_closes_and_a_tap_behind_it_rings_once_it_is_forgotten(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "cutting") as seat:
        await seat.press("n")
        await held(seat, "f3")
        await seat.press("escape")
        await held(seat)
        rung = Rung(seat, monkeypatch)
        await wait(seat, 1000)
        assert "Count 22 keys set aside?" in seat.text
        seat.at += FORGOTTEN
        await seat.press("3", "3")
        assert rung() == 1
        await seat.press("n")
        assert cut(seat) == {"2": 1, "3": 2}
        assert [each.counted for each in aside(seat)] == [False]


def test_the_key_that_counts_digits_is_one_that_does_nothing_else():
    question, unanswered = Question(questions.note()), Unanswered()
    keys = Keys({"cutting": {"cut-1": ("t",)}})
    for key in "1223":
        unanswered.answer(question, Press(key, key, 1.0, 1000), 0.0, "cutting", keys)
    assert "2 2 3 went into the text: y counts them as 3 taps" in unanswered.offer(question, keys)
    assert [press.key for press in unanswered.taken_up("y", keys)] == ["2", "2", "3"]
    assert unanswered.taken_up("y", keys) == ()
    assert Clinic().keys.action_for("cutting", "t") is None
