"""What became of the grafts that are left at the end: accounts end at zero, and nothing else moves."""

from __future__ import annotations

from cases import UNCOUNTED, Record, all_fated, case_under_way, records
from hypothesis import given, settings

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.closing import open_at_sign_off
from orroom.case.final_count import groups_to_count, open_differences, person_counts
from orroom.case.state import ENDS, SOURCES
from orroom.figures.counts import by_size, total
from orroom.figures.quality import quality
from orroom.formats.summary_formats import to_markdown
from orroom.summary.summary import summarise


def counted_by(record: Record, who: str) -> None:
    groups = tuple(
        e.CountedGroup(
            size=group.size,
            harvest=group.harvest,
            place=group.place,
            found=record.held(group.place, group.size, group.harvest),
        )
        for group in groups_to_count(record.state)
    )
    record.enter(c.CountAll(groups=groups, since=record.state.seq), who)


def test_accounts_end_at_zero_and_usable_and_quality_do_not_change():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=5))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=3))
    before, shares = total(by_size(record.state)), quality(record.state)
    all_fated(record)
    after = total(by_size(record.state))
    assert (after.dish, after.with_placers) == (0, 0)
    assert after.left_at_end == before.waiting == 92
    assert after.usable == before.usable == 95
    assert after.hairs_usable == before.hairs_usable
    assert quality(record.state) == shares


def test_a_final_count_outlasts_fates_and_shows_no_difference_after_them():
    record = case_under_way()
    for who in ("AB", "CD"):
        counted_by(record, who)
    all_fated(record)
    assert len(person_counts(record.state)) == 2
    assert open_differences(record.state) == ()


def test_what_has_no_fate_is_open_at_the_sign_off_until_it_has_one():
    record = case_under_way()
    [left] = [each for each in open_at_sign_off(record.state) if each.key == "no-fate"]
    assert left.sentence == "95 grafts are left, and what becomes of them is not entered"
    all_fated(record)
    assert "no-fate" not in {each.key for each in open_at_sign_off(record.state)}
    record.enter(c.SignOff(second="CD", **UNCOUNTED))


def test_cancelling_a_fate_puts_the_grafts_back():
    record = case_under_way()
    given_away = record.enter(
        c.GiveFate(size="2", harvest="A", place="dish", count=40, fate="discarded", reason="two days old")
    )
    assert record.held("dish", "2") == 0
    record.enter(c.CorrectEntry(entry=given_away.seq, reason="wrong size"))
    assert (record.held("dish", "2"), record.held("left_at_end")) == (40, 0)
    assert record.tally.fates == {}


def test_the_summary_says_what_became_of_them_and_its_first_line_adds_up():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=25))
    record.enter(c.GiveFate(size="2", harvest="A", place="dish", count=15, fate="kept"))
    record.enter(
        c.GiveFate(size="1", harvest="A", place="dish", count=30, fate="discarded", reason="two days old")
    )
    told = summarise(record.state)
    assert [(each.size, each.grafts, each.fate) for each in told.fates] == [
        ("2", 15, "kept in solution for another day"),
        ("1", 30, "discarded at the end"),
    ]
    page = to_markdown(told)
    assert "25 placed + 25 left in dishes and with the placers + 45 left at the end = 95 usable" in page
    assert "two days old" in page
    all_fated(record)
    assert "25 placed + 70 left at the end = 95 usable" in to_markdown(summarise(record.state))


@given(records())
@settings(max_examples=150)
def test_what_came_is_what_there_is_with_fates_too(record: Record):
    for size in {key.size for key in record.tally.stock}:
        came = sum(record.held(name, size) for name in SOURCES)
        assert came == sum(record.held(name, size) for name in ENDS)
    assert sum(record.tally.fates.values()) == record.held("left_at_end")
