"""A harvest that was entered after its own grafts: no figure is worked out from its start."""

from __future__ import annotations

import json

import pytest
from cases import MINUTE_MS, MORNING_MS, Record, opened_case, records
from hypothesis import given, settings
from tables import figures_in

from orroom.archive.case_row import case_row
from orroom.case import commands as c
from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState
from orroom.figures.curves import waiting_curve
from orroom.figures.holding import harvest_ages, times_out_at_placing
from orroom.figures.out_of_body import out_of_body
from orroom.figures.quality_time import quality_by_hour
from orroom.formats.fhir.bundle import to_fhir
from orroom.formats.sections.charts import out_of_body as chart
from orroom.formats.summary_formats import to_markdown
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.overview import overview_lines
from orroom.screens.terminal.painting import text_of
from orroom.summary.summary import summarise
from orroom.words.status import present, status_at

EARLY = "harvest A: 13 cut before it began; time out of the body unknown"


def entered_late(minutes_ago: float = 0) -> Record:
    """Minutes after 07:30 UTC: 12 cut at 10, one spoilt at 11, 10 placed at 45; the harvest entered at 60."""
    record = opened_case()

    def at(minute: float, command: c.Command) -> None:
        record.enter(command, at_ms=MORNING_MS + round(minute * MINUTE_MS))

    at(10, c.CutGrafts(harvest="A", size="2", count=12))
    at(11, c.DiscardGrafts(harvest="A", size="2", reason="transected"))
    at(45, c.PlaceGrafts(zone="MID", size="2", count=10))
    at(60, c.StartHarvest(harvest="A", minutes_ago=minutes_ago))
    at(65, c.CutGrafts(harvest="A", size="2", count=10))
    at(66, c.PlaceGrafts(zone="MID", size="2", count=8))
    return record


def screen(lines: object) -> str:
    return "\n".join(text_of(each) for each in lines)  # type: ignore[attr-defined]


def test_a_harvest_after_its_grafts_is_a_mismatch_and_every_time_of_the_harvest_is_unknown():
    record = entered_late()
    assert record.open_mismatches() == {"early:A": 13}
    assert out_since_ms(record.state) == {}
    (age,) = harvest_ages(record.state, record.now_ms)
    assert (age.out_ms, age.why_unknown) == (None, "starts after its grafts")
    assert times_out_at_placing(record.state) == ()
    assert out_of_body(record.state, record.now_ms) == ()
    assert waiting_curve(record.state, record.now_ms) == {}
    assert quality_by_hour(record.state) == ()


@pytest.mark.parametrize("height", [24, 40])
def test_a_harvest_after_its_grafts_stands_on_the_screens(height: int):
    record = entered_late()
    for role, painted in (("cutting", cutting_lines), ("overview", overview_lines)):
        glance = Glance(role=role, who="AB", width=100, height=height)  # type: ignore[arg-type]
        shown = screen(painted(record.state, record.now_ms, glance))
        assert f"≠ {EARLY}" in shown
        assert "-0:" not in shown
        assert "−0:" not in shown
        assert "nothing is out" not in shown
    assert "harvest A starts after its grafts" in screen(
        cutting_lines(record.state, record.now_ms, Glance(role="cutting", who="AB", width=100))
    )


def test_the_status_says_why_the_time_out_is_unknown():
    record = entered_late()
    found = present(status_at(record.state, record.now_ms))
    assert found[0].words.endswith("waiting 4, time out not known: starts after its grafts")


def test_a_harvest_after_its_grafts_is_unknown_with_its_reason_in_every_format():
    state = entered_late().state
    summary = summarise(state)
    page = " ".join(to_markdown(summary).split())
    assert EARLY in page
    assert "strip: time out of the body not known, starts after its grafts." in page
    assert "Time out of the body |" not in page
    assert "half placed by" not in page
    (harvest,) = summary.harvests
    assert (harvest.waiting_out_ms, harvest.mean_out_at_placing_ms) == (None, None)
    assert harvest.longest_out_at_placing_ms is None
    assert harvest.out_unknown == "starts after its grafts"
    assert ("harvests", "A", "", "out_unknown", "starts after its grafts", "") in figures_in(summary)
    components = [
        {part["code"]["text"]: part.get("valueString") for part in each["resource"]["component"]}
        for each in json.loads(to_fhir(summary, "r4b"))["entry"]
        if each["resource"].get("code", {}).get("text") == "time out of the body: strip"
    ]
    assert components == [{"harvest": "A", "not known because": "starts after its grafts"}]
    assert list(chart(summary)) == []
    assert _archived(state) == dict.fromkeys(_archived(state))


def _archived(state: CaseState) -> dict[str, object]:
    row = case_row(state, "x", "y", keep_dates=False)
    return {name: value for name, value in row.items() if name.startswith("out_")}


def test_all_harvests_are_unknown_in_the_archive_while_one_of_them_is():
    record = entered_late()
    record.enter(c.StartHarvest(harvest="B"))
    record.wait(20)
    record.enter(c.CutGrafts(harvest="B", size="3", count=5))
    record.enter(c.PlaceGrafts(zone="MID", size="3", count=5))
    summary = summarise(record.state)
    assert _archived(record.state) == dict.fromkeys(_archived(record.state))
    assert [each.harvest for each in summary.out_of_body] == ["B"]


def test_the_right_start_entered_again_explains_it():
    record = entered_late()
    wrong = next(each for each in record.state.log if each.event.kind == "harvest_started")
    record.enter(c.CorrectEntry(entry=wrong.seq, reason="began earlier"), "EF")
    assert record.open_mismatches() == {"harvest:A": 23}
    record.enter(c.StartHarvest(harvest="A", minutes_ago=90), "EF", at_ms=MORNING_MS + 70 * MINUTE_MS)
    assert record.open_mismatches() == {}
    assert out_since_ms(record.state) == {"A": MORNING_MS - 20 * MINUTE_MS}
    assert [each.longest_ms for each in times_out_at_placing(record.state)] == [86 * MINUTE_MS]


def test_whole_minutes_do_not_cry_wolf_and_are_never_below_nothing():
    """The first graft at 10:00, the harvest entered at 60:00 as 49.5 minutes ago: 10:30."""
    record = entered_late(minutes_ago=49.5)
    assert record.open_mismatches() == {}
    record = opened_case()
    record.enter(c.CutGrafts(harvest="A", size="2", count=3))
    record.enter(c.PlaceGrafts(zone="MID", size="2", count=1))
    record.enter(c.StartHarvest(harvest="A"))
    assert record.open_mismatches() == {}
    assert [each.longest_ms for each in times_out_at_placing(record.state)] == [0]
    record.wait(1)
    assert harvest_ages(record.state, record.now_ms)[0].out_ms == MINUTE_MS
    assert "0:00" in to_markdown(summarise(record.state))


def test_a_graft_a_whole_minute_before_its_harvest_is_too_early():
    record = entered_late(minutes_ago=49)  # at minute 11
    assert record.open_mismatches() == {"early:A": 12}


def test_grafts_that_were_placed_or_found_before_their_harvest_are_too_early_as_well():
    record = opened_case()
    record.enter(c.CountDish(size="2", harvest="B", place="dish", found=5))
    record.wait(10)
    record.enter(c.StartHarvest(harvest="B"))
    assert record.mismatches()["early:B"] == 5
    record = opened_case()
    record.enter(c.PlaceGrafts(zone="MID", size="2", count=4, harvest="A"))
    record.wait(10)
    record.enter(c.StartHarvest(harvest="A"))
    assert record.mismatches()["early:A"] == 4


def test_a_clock_that_is_behind_the_harvest_gives_no_time_below_nothing():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="2", count=3))
    assert harvest_ages(record.state, record.now_ms - MINUTE_MS)[0].out_ms == 0


@settings(max_examples=60)
@given(records())
def test_no_time_out_of_the_body_is_below_nothing(record: Record):
    summary = summarise(record.state)
    times = [age.out_ms for age in harvest_ages(record.state, record.now_ms)]
    for each in summary.harvests:
        times += [each.waiting_out_ms, each.mean_out_at_placing_ms, each.longest_out_at_placing_ms]
    times += [point.out_ms for point in summary.waiting_curve]
    for row in summary.out_of_body:
        times += [value for name, value in row.model_dump().items() if name.endswith("_ms")]
        assert (row.graft_hours_low or 0) >= 0
    assert all(each is None or each >= 0 for each in times)
