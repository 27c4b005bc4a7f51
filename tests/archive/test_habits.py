"""What forecasts learn from closed cases: from a record to the archive, a file, and the next finish."""

from __future__ import annotations

import json
from contextlib import closing
from math import log
from pathlib import Path
from statistics import mean
from types import SimpleNamespace
from typing import cast

import pytest
from cases import MINUTE_MS, UNCOUNTED, Record, opened_case
from click.testing import CliRunner
from harsh_forecasts import clinic, harsh
from hypothesis import given
from hypothesis import strategies as st
from larger_cases import big_plan
from msgspec.structs import replace

from orroom.archive.adding import Archive, How
from orroom.archive.clinic_habits import clinic_habits
from orroom.archive.wrong_finish import wrong_finish
from orroom.case import commands as c
from orroom.case.habits import FEWEST_CASES, NO_HABITS, SHARES, Habits
from orroom.cli import main
from orroom.errors import OrroomError
from orroom.figures.pace.finish import outlook
from orroom.figures.pace.rest_of_day import foretold
from orroom.figures.yields import yields
from orroom.files.habits_file import NAME, read_habits, write_habits
from orroom.files.settings_file import VARIABLE
from orroom.record.case_file import CaseFile
from orroom.recording import record_all
from orroom.screens.stations.foretelling import Foretelling
from orroom.screens.stations.station import StationScreen
from orroom.words.explanation import Asked
from orroom.words.worked_out_forecast import finish


def placed(minutes_each: list[float]) -> Record:
    """2,400 placed in batches of 40, each so many minutes after the one before."""
    record = opened_case(big_plan())
    record.enter(c.CutGrafts(harvest="A", size="2", count=2400))
    for minutes in minutes_each:
        record.wait(minutes)
        record.enter(c.PlaceGrafts(zone="MID", size="2", count=40), "CD", at_ms=record.now_ms)
    return record


def test_a_steady_case_was_forecast_right_and_one_that_slowed_was_not():
    """60 batches 4 min apart; the last 18 at half that pace: from 40 % on 3 h 36 instead of 2 h 24."""
    steady, slowed = (
        wrong_finish(placed(each).state)["placing"].wrong for each in ([4] * 60, [4] * 42 + [8] * 18)
    )
    assert len(steady) == len(slowed) == len(SHARES)
    assert all(each is not None and abs(each) < 0.06 for each in steady)
    assert slowed[3] == pytest.approx(log((18 * 4 + 18 * 8) / (36 * 4)), abs=0.06)
    assert slowed[6] == pytest.approx(log(2), abs=0.06)
    assert wrong_finish(placed([4] * 60).state)["cutting"].wrong == [None] * len(SHARES)  # entered in one go


def test_between_two_shares_it_is_between_and_few_cases_say_nothing():
    case = (0.0, 0.1, 0.2, 0.3, 0.4, None, 0.6, 0.7, 0.9)
    habits = Habits(placing=(case,) * FEWEST_CASES)
    assert habits.at("placing", 0.35) == pytest.approx([0.25] * FEWEST_CASES)
    assert habits.at("placing", 0.02) == (0.0,) * FEWEST_CASES
    assert habits.at("placing", 0.99) == pytest.approx([0.9] * FEWEST_CASES)
    assert habits.at("placing", 0.55) == ()  # no forecast at 60 %
    assert habits.at("cutting", 0.35) == habits.at("sites", 0.35) == ()
    assert Habits(placing=(case,) * (FEWEST_CASES - 1)).at("placing", 0.35) == ()


@given(st.lists(st.floats(-1, 1), min_size=FEWEST_CASES, max_size=50), st.integers(1, 59))
def test_a_corrected_range_is_in_order_and_not_before_now(wrong: list[float], batches: int):
    record = placed([4] * batches)
    habits = Habits(placing=tuple((each,) * len(SHARES) for each in wrong))
    works = outlook(record.state, yields(record.state, 80), record.now_ms, habits).works
    placing = next(each for each in works if each.work == "placing")
    if placing.finish is not None:
        assert placing.cases == len(wrong)
        assert [record.now_ms, *placing.finish] == sorted([record.now_ms, *placing.finish])


def test_cases_that_took_a_fifth_longer_move_the_finish_by_about_that():
    record = placed([4] * 30)

    def minutes(habits: Habits) -> float:
        works = outlook(record.state, yields(record.state, 80), record.now_ms, habits).works
        finish = next(each.finish for each in works if each.work == "placing")
        assert finish is not None
        return (finish.middle_ms - record.now_ms) / MINUTE_MS

    late = Habits(placing=((log(1.2),) * len(SHARES),) * 50)
    assert minutes(late) == pytest.approx(1.2 * minutes(NO_HABITS), rel=0.02)


def test_a_clinic_that_is_slow_at_the_end_of_every_case_is_expected_to_be_so_again():
    """Ten days, at three quarters, seeds that chose nothing; without closed cases none is in range."""
    habits = clinic(["slow end"], 960, 15)
    plain, learned = (
        [each for seed in range(980, 990) for each in harsh("slow end", seed, known) if each.point == 0.75]
        for known in (NO_HABITS, habits)
    )
    assert sum(each.held for each in plain) == 0
    assert sum(each.held for each in learned) >= 6
    assert mean(each.error for each in learned) < 0.7 * mean(each.error for each in plain)


def closed_cases(folder: Path, number: int) -> Path:
    """An archive of so many closed cases of two batches every 9 minutes, the last four at half the pace."""
    for case in range(number):
        record = opened_case(replace(big_plan(), case=f"DAY-{case}"))
        for place in range(24):
            record.wait(9 if place < 20 else 18)
            record.enter(c.CutGrafts(harvest="A", size="2", count=90 + case), "AB", at_ms=record.now_ms)
        record.enter(c.SignOff(second="EF", **UNCOUNTED), "AB", at_ms=record.now_ms)
        with CaseFile.create(folder / f"{case}.orroom") as case_file:
            record_all(case_file, list(record.state.log), str(case))
    with closing(Archive(folder / "kept")) as archive:
        for case in range(number):
            archive.add(folder / f"{case}.orroom", How())
    return folder / "kept"


def test_a_clinics_habits_come_from_its_archive_and_change_the_overview(tmp_path: Path):
    kept, settings = closed_cases(tmp_path, FEWEST_CASES), tmp_path / "settings.toml"
    done = CliRunner().invoke(main, ["archive", "habits", str(kept)], env={VARIABLE: str(settings)})
    path = settings.with_name(NAME)
    assert done.output == f"{path}: cutting from 10 cases, placing from 0.\n"
    found = read_habits(path)
    assert found == clinic_habits(kept)
    assert mean(found.at("cutting", 0.75)) > 0.2  # the end was slow in every case
    assert "AB" not in path.read_text("utf-8")
    assert [*found.cutting] == sorted(found.cutting, key=str)  # not in the order of the days


def test_the_overview_reads_them_once_and_says_what_is_wrong_with_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "settings.toml"))
    said: list[object] = []

    def station() -> Foretelling:
        fake = SimpleNamespace(say=print, app=SimpleNamespace(soon=said.append))
        return Foretelling(cast("StationScreen", fake), 0)

    habits = Habits(placing=((0.2,) * len(SHARES),) * FEWEST_CASES)
    write_habits(tmp_path / NAME, habits)
    screen = station()
    assert screen._learned() == habits
    (tmp_path / NAME).write_text("{", "utf-8")
    assert screen._learned() == habits  # read once
    assert said == []
    assert station()._learned() == NO_HABITS
    assert len(said) == 1


def test_how_the_finish_is_worked_out_says_how_many_closed_cases_correct_it():
    record = placed([4] * 30)
    habits = Habits(placing=((0.2,) * len(SHARES),) * FEWEST_CASES)
    for known, says in ((habits, True), (NO_HABITS, False)):
        asked = Asked(
            record.state, record.now_ms, "AB", "A", "MID", foretold(record.state, record.now_ms, known)
        )
        explained = finish(asked)
        assert explained is not None
        assert ("Corrected by what 10 closed cases had wrong." in explained.how) is says


def test_too_few_closed_cases_are_refused_with_their_number(tmp_path: Path):
    kept = closed_cases(tmp_path, 2)
    done = CliRunner().invoke(main, ["archive", "habits", str(kept), "--output", str(tmp_path / "h.json")])
    assert done.exit_code != 0
    assert "has 2 cases with a forecast to look back on; 10 are needed" in " ".join(done.output.split())
    assert not (tmp_path / "h.json").exists()
    with pytest.raises(OrroomError, match="--replace"):
        clinic_habits(kept)


def test_a_file_of_habits_is_read_back_and_a_wrong_one_is_refused(tmp_path: Path):
    habits = Habits(placing=((0.1, None, *(0.2,) * 7),))
    path = tmp_path / "settings" / NAME
    write_habits(path, habits)
    assert read_habits(path) == habits
    assert read_habits(tmp_path / "none.json") == NO_HABITS
    for wrong in ("{", json.dumps({"placing": [[9.0] * 9]}), json.dumps({"placing": [[0.1]]}), '{"who": 1}'):
        path.write_text(wrong, "utf-8")
        with pytest.raises(OrroomError, match="cannot be used"):
            read_habits(path)
