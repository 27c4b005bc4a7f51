"""Shares with their ranges: against libraries, published tables and a day worked by hand."""

from __future__ import annotations

import pytest
from cases import EVERY_KIND, Record, case_under_way, opened_case, records, small_plan
from hypothesis import given, settings
from tables import figures_in

from orroom.case import commands as c
from orroom.case.events import AnyEvent, FaultFound, SpotChecked
from orroom.case.plan import Harvest
from orroom.figures.quality import (
    ALIKE,
    RESEATED,
    SPOILT,
    TRANSECTED,
    DivisionLoss,
    division_losses,
    faults,
    follicles,
    in_clusters,
    not_entered,
    observations,
    quality,
)
from orroom.figures.quality_time import faults_by_hour, quality_by_hour
from orroom.figures.shares import clustered, design_effect, proportion
from orroom.formats.summary_formats import to_markdown
from orroom.summary.summary import summarise
from orroom.words.explanation import Asked
from orroom.words.worked_out import worked_out


def test_the_caution_stands_beside_ranges_by_person_and_by_hour():
    record = case_under_way()
    for minutes in (0, 90):
        record.wait(minutes)
        record.enter(c.CutGrafts(harvest="A", size="1", count=20))
        record.enter(c.DiscardGrafts(harvest="A", size="1", reason="transected"))
    summary = summarise(record.state)
    section = to_markdown(summary).split("## Quality")[1].split("## ")[0]
    tables = [part for part in section.split("\n\n") if part.startswith("|")]
    assert len(tables) == 3  # in all, by person, by hour
    assert " ".join(section.split()).count(ALIKE) == 2  # below the two, and below the third
    spoilt = worked_out("cutting", Asked(record.state, record.now_ms, "AB", "A", "FRONT", None))
    assert [ALIKE in each.how for each in spoilt if each.name == "spoilt"] == [True]


@pytest.mark.parametrize(
    ("count", "of", "per_cent"),
    [
        (71, 72, 98.61),  # printed 98.6 %: Nakatsui, Wong, Groot, Dermatol Surg 2008;34(8):1016-1025 (read)
        (22, 23, 95.65),  # printed truncated, 95.6: the same paper (read)
        (
            3,
            9,
            33.33,
        ),  # transected of all follicles in (1,1), (3,0), (2,2): notation as published, second-hand
        (19, 148, 12.84),  # Greenberg et al., Ann Surg 2008;248:337-341, printed 12.8 % (read)
    ],
)
def test_published_shares(count: int, of: int, per_cent: float):
    found = proportion(count, of)
    assert found is not None
    assert round(found.share * 100, 2) == per_cent


def checked(*follicles: tuple[int, int, int]) -> Record:
    """A case with spot checks of cutting: grafts looked at, follicles in them, transected ones."""
    record = case_under_way()
    for looked_at, seen, transected in follicles:
        record.enter(
            c.CheckSpot(
                subject="cutting", looked_at=looked_at, faulty=0, follicles=seen, transected=transected
            ),
            "EF",
        )
    return record


def test_transected_follicles_as_published():
    """(intact, transected) (1,1), (3,0), (2,2): 3 of 9 transected, 2.0 of 3.0 hairs a graft (second-hand)."""
    graft_by_graft = checked((1, 2, 1), (1, 3, 0), (1, 4, 2))
    for record in (graft_by_graft, checked((3, 9, 3))):
        found = follicles(record.state)
        assert found is not None
        assert (found.grafts, found.transected.count, found.transected.of) == (3, 3, 9)
        assert round(found.transected.share, 3) == 0.333
        assert (found.intact_per_graft, found.possible_per_graft) == (2.0, 3.0)


def test_a_published_series_of_follicles():
    """749 follicles in 271 grafts: Cooley & Vogel 1999 (second-hand). 2.76 a graft (arithmetic).

    Their shares, 20.0 % and with a microscope 10.2 %, are of groups whose sizes are not known here.
    """
    found = follicles(checked((271, 749, 150)).state)
    assert found is not None
    assert round(found.possible_per_graft, 2) == 2.76
    assert round(found.intact_per_graft, 2) == 2.21  # (749 − 150) / 271


def test_checks_without_follicles_are_left_out():
    record = checked((3, 9, 3))
    record.enter(c.CheckSpot(subject="cutting", looked_at=20, faulty=1), "EF")
    found = follicles(record.state)
    assert found is not None
    assert found.grafts == 3
    record.enter(c.CorrectEntry(entry=record.state.seq - 1, reason="other dish"), "EF")
    assert follicles(record.state) is None


def checks_of_placing() -> Record:
    """EF looks: 20 of CD's, 3 faulty (2 too high, 1 crushed); 10 of CD's, 1 too high; 25 of GH's, none.

    30 of nobody's in particular, 2 turned, as older records say it; 8 of AB's cutting, 1 bare.
    """
    record = case_under_way()
    for subject, whose, looked_at, found in (
        ("placing", "CD", 20, {"too high": 2, "crushed": 1}),
        ("placing", "CD", 10, {"too high": 1}),
        ("placing", "GH", 25, {}),
        ("cutting", "AB", 8, {"bare": 1}),
    ):
        faults = tuple(FaultFound(fault=fault, count=count) for fault, count in found.items())
        check = c.CheckSpot(
            subject=subject,
            looked_at=looked_at,
            faulty=sum(found.values()),
            whose=whose,
            faults=faults or None,
        )
        record.enter(check, "EF")
    record.enter(c.CheckSpot(subject="placing", looked_at=30, faulty=2, fault="turned"), "EF")
    return record


def test_checks_are_of_the_person_whose_work_it_was_worked_by_hand():
    """In all 85 of placing, 6 faulty; CD 4 of 30, GH 0 of 25; nothing is EF's, who only looked."""
    found = {
        (each.measure, each.who): (each.proportion.count, each.proportion.of)
        for each in quality(checks_of_placing().state)
        if each.measure.startswith("spot check")
    }
    assert found == {
        ("spot check, cutting", None): (1, 8),
        ("spot check, placing", None): (6, 85),
        ("spot check, cutting", "AB"): (1, 8),
        ("spot check, placing", "CD"): (4, 30),
        ("spot check, placing", "GH"): (0, 25),
    }


def test_faults_by_person_worked_by_hand():
    """Of all grafts looked at, or of the person's; ranges by statsmodels, of as many as are as sure."""
    from statsmodels.stats.proportion import proportion_confint

    found = faults(checks_of_placing().state)
    assert [
        (each.subject, each.fault, each.who, each.proportion.count, each.proportion.of) for each in found
    ] == [
        ("cutting", "bare", None, 1, 8),
        ("placing", "too high", None, 3, 85),
        ("placing", "turned", None, 2, 85),
        ("placing", "crushed", None, 1, 85),
        ("cutting", "bare", "AB", 1, 8),
        ("placing", "too high", "CD", 3, 30),
        ("placing", "crushed", "CD", 1, 30),
    ]
    for each in found:
        share = each.proportion
        assert share.wilson is not None
        assert share.exact is not None
        for ours, method in ((share.wilson, "wilson"), (share.exact, "beta")):
            seen = share.share * share.effective
            ends = proportion_confint(seen, share.effective, alpha=0.05, method=method)
            assert (ours.low, ours.high) == pytest.approx(ends, abs=1e-9)


def test_the_faults_of_all_checks_add_up_to_the_faulty_grafts():
    found = [each for each in faults(checks_of_placing().state) if each.who is None]
    whole = {each.measure: each.proportion.count for each in quality(checks_of_placing().state)[::-1]}
    for subject in ("cutting", "placing"):
        count = sum(each.proportion.count for each in found if each.subject == subject)
        assert count == whole[f"spot check, {subject}"]


def test_faults_by_hour_worked_by_hand():
    """The checks above are in the second hour since the harvest; 65 minutes later 15 more, 4 too high.

    Of all grafts looked at in that hour; ranges by statsmodels, of as many as are as sure.
    """
    from statsmodels.stats.proportion import proportion_confint

    record = checks_of_placing()
    record.wait(65)
    record.enter(c.CheckSpot(subject="placing", looked_at=15, faulty=4, fault="too high", whose="GH"), "EF")
    found = faults_by_hour(record.state)
    assert [
        (each.subject, each.hour, each.fault, each.proportion.count, each.proportion.of) for each in found
    ] == [
        ("cutting", 1, "bare", 1, 8),
        ("placing", 1, "too high", 3, 85),
        ("placing", 1, "turned", 2, 85),
        ("placing", 1, "crushed", 1, 85),
        ("placing", 2, "too high", 4, 15),
    ]
    for each in found:
        share = each.proportion
        for ours, method in ((share.wilson, "wilson"), (share.exact, "beta")):
            assert ours is not None
            seen = share.share * share.effective
            ends = proportion_confint(seen, share.effective, alpha=0.05, method=method)
            assert (ours.low, ours.high) == pytest.approx(ends, abs=1e-9)
    too_high = clustered([(2, 20), (1, 10), (0, 25), (0, 30)])  # check by check
    assert found[1].proportion == too_high
    text = to_markdown(summarise(record.state)).split("## Spot checks")[1].split("## ")[0]
    rows = [" ".join(line.replace("|", " ").split()) for line in text.splitlines()]
    assert any(row.startswith("placing 2–3 h too high 4 of 15 26.7 % ") for row in rows)
    assert faults_by_hour(opened_case().state) == ()


def test_the_page_has_faults_by_person():
    """Of 85 grafts in four checks, and of 30 in two of CD's work."""
    section = to_markdown(summarise(checks_of_placing().state)).split("## Spot checks")[1].split("## ")[0]
    rows = [" ".join(line.replace("|", " ").split()) for line in section.splitlines()]
    assert any(row.startswith("placing turned 2 of 85 2.4 % ") for row in rows)
    assert any(row.startswith("placing CD crushed 1 of 30 3.3 % ") for row in rows)
    assert any("EF: placing by CD, 3 of 20 faulty, 2 too high, 1 crushed" in row for row in rows)


def test_hairs_lost_by_dividing_worked_by_hand():
    """Threes: one into 1 + 2 loses none, three and one into 1 + 1 lose 4: 4 hairs of 5 grafts. Twos: one
    into 1 loses one. A multi-unit graft's own hairs are only a mean, so what it lost is not known.
    """
    record = case_under_way()
    record.enter(c.DivideGrafts(size="3", into=("1", "2")))
    record.enter(c.DivideGrafts(size="3", into=("1", "1"), count=3))
    record.enter(c.DivideGrafts(size="3", into=("1", "1")))
    record.enter(c.DivideGrafts(size="2", into=("1",)))
    record.enter(c.DivideGrafts(size="M", into=("1", "2"), count=2))
    assert division_losses(record.state) == (
        DivisionLoss("2", 1, 1.0, 1.0),
        DivisionLoss("3", 5, 4.0, 0.8),
        DivisionLoss("M", 2, None, None),
    )
    record.enter(c.TakeBack(role="cutting"))
    assert [each.size for each in division_losses(record.state)] == ["2", "3"]
    assert division_losses(opened_case().state) == ()


def hours_of(record: Record) -> dict[tuple[str, int], tuple[int, int]]:
    return {(each.measure, each.hour): (each.count, each.of) for each in quality_by_hour(record.state)}


def test_quality_by_hour_worked_by_hand():
    """Harvest A left an hour before it is entered, and every entry takes a second: 95 grafts are cut in
    hour 1. 110 minutes on it is hour 2, another 60 hour 3; no work in hour 4; in hour 5 one more is spoilt.
    """
    record = case_under_way()
    record.enter(c.DiscardGrafts(harvest="A", size="2", reason="transected", count=5))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=20), "CD")
    record.wait(110)
    record.enter(c.DiscardGrafts(harvest="A", size="2", reason="crushed"))
    record.enter(c.CutGrafts(harvest="A", size="2", count=9))
    record.wait(60)
    record.enter(c.ReseatGraft(zone="LINE"), "CD")
    record.wait(120)
    record.enter(c.DiscardGrafts(harvest="A", size="2", reason="transected"))
    assert hours_of(record) == {
        ("transected in cutting", 1): (5, 100),
        ("transected in cutting", 2): (0, 10),
        ("transected in cutting", 5): (1, 1),
        ("spoilt in cutting", 1): (5, 100),
        ("spoilt in cutting", 2): (1, 10),
        ("spoilt in cutting", 5): (1, 1),
        ("reseated", 1): (0, 20),
        ("reseated", 3): (1, 0),
    }
    shares = {(each.measure, each.hour): each.share for each in quality_by_hour(record.state)}
    assert shares["reseated", 3] is None
    # ones, twos and threes of one segment: a cluster
    assert shares["spoilt in cutting", 1] == clustered([(5, 100)])


def test_an_hour_begins_on_the_hour():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    start = record.now_ms
    for after, hour in ((-1, -1), (0, 0), (3_599_999, 0), (3_600_000, 1)):
        later = Record(record.state, start)
        spoilt = c.DiscardGrafts(harvest="A", size="1", reason="crushed")
        later.enter(spoilt, station="cutting-2", at_ms=start + after)
        assert set(hours_of(later)) == {("transected in cutting", hour), ("spoilt in cutting", hour)}


def test_without_a_harvest_there_is_no_hour():
    record = opened_case()
    record.enter(c.CutGrafts(harvest="A", size="1"))
    assert quality_by_hour(record.state) == ()


@settings(max_examples=30)
@given(records())
def test_hours_add_up_to_the_whole(record: Record):
    found = quality_by_hour(record.state)
    whole = {each.measure: each.proportion for each in quality(record.state) if each.who is None}
    for measure in {each.measure for each in found}:
        mine = [each for each in found if each.measure == measure]
        counted = sum(each.count for each in mine), sum(each.of for each in mine)
        assert counted == ((whole[measure].count, whole[measure].of) if measure in whole else (counted[0], 0))
        for each in mine:
            assert each.share is None or (each.share.count, each.share.of) == (each.count, each.of)


# What is alike, and what nobody entered.


def clusters_of(record: Record) -> list[list[int]]:
    """The numbers of entries that are in one cluster, leaving out those alone in theirs."""
    found: dict[object, list[int]] = {}
    for entry, cluster in in_clusters(record.state):
        found.setdefault(cluster, []).append(entry.seq)
    return [entries for entries in found.values() if len(entries) > 1]


def test_the_clusters_are_segments_lanes_in_zones_and_checks():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    cut = [record.enter(c.CutGrafts(harvest="A", size=size), "AB").seq for size in "12"]
    cut.append(record.enter(c.DiscardGrafts(harvest="A", size="2", reason="crushed"), "AB").seq)
    others = [record.enter(c.CutGrafts(harvest="A", size="1", count=9), "CD").seq for _ in range(2)]
    record.enter(c.FinishSegment(harvest="A"), "AB")
    after = [record.enter(c.CutGrafts(harvest="A", size="1", count=9), "AB").seq for _ in range(2)]
    front = [record.enter(c.PlaceGrafts(zone="LINE", size="1", count=1), "CD").seq for _ in range(2)]
    front.append(record.enter(c.ReseatGraft(zone="LINE"), "CD").seq)
    record.enter(c.PlaceGrafts(zone="MID", size="1", count=1), "CD")
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=1), "EF")
    for _ in range(2):
        record.enter(c.CheckSpot(subject="cutting", looked_at=10, faulty=0), "EF")
    assert clusters_of(record) == [cut, others, after, front]


def test_without_counted_segments_an_hour_is_a_cluster():
    harvests = (Harvest(key="A", label="punches"),)
    record = opened_case(small_plan(harvests=harvests))
    record.enter(c.StartHarvest(harvest="A"))
    first = [record.enter(c.CutGrafts(harvest="A", size="1")).seq for _ in range(2)]
    record.wait(60)
    second = [record.enter(c.CutGrafts(harvest="A", size="1")).seq for _ in range(2)]
    assert clusters_of(record) == [first, second]


def test_a_discard_after_cutting_counts_in_clusters_as_large_as_what_was_cut():
    record = case_under_way()
    record.enter(c.DiscardGrafts(size="2", reason="dropped", count=5), "CD")
    (lost,) = (each.proportion for each in quality(record.state) if each.measure == "discarded")
    assert lost == proportion(5, 95, 95 / design_effect([95]))


def test_what_nobody_entered_is_not_shown_as_none():
    """95 grafts cut and 20 placed; spoilt or reseated ones are a share from the first entry on."""
    assert not_entered(opened_case().state) == ()
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=20), "CD")
    record.enter(c.DiscardGrafts(size="2", reason="dropped"), "CD")
    assert not_entered(record.state) == (TRANSECTED, SPOILT, RESEATED)
    summary = summarise(record.state)
    assert {TRANSECTED, SPOILT, RESEATED}.isdisjoint(each.measure for each in summary.quality)
    assert summary.quality_by_hour == summary.quality_by_person == ()
    record.enter(c.MakeSites(zone="LINE", count=30), "CD")
    zones = to_markdown(summarise(record.state)).split("## Zones")[1].split("## ")[0]
    sites = zones.split("sites / free | reseated |")[1].split("\n\n")[0]
    (hairline,) = (row for row in sites.splitlines() if row.startswith("| hairline "))
    assert [each.strip() for each in hairline.split("|")[-3:-1]] == ["30 / 10", "—"]
    page = " ".join(to_markdown(summary).split())
    assert (
        "Not entered, which does not mean none: transected in cutting, spoilt in cutting, reseated." in page
    )
    spoilt = worked_out("cutting", Asked(record.state, record.now_ms, "AB", "A", "FRONT", None))
    assert [each.value for each in spoilt if each.name == "spoilt"] == ["not entered"]
    record.enter(c.DiscardGrafts(harvest="A", size="1", reason="crushed"))
    record.enter(c.ReseatGraft(zone="LINE"), "CD")
    assert not_entered(record.state) == ()
    found = {each.measure: each.count for each in summarise(record.state).quality}
    assert (found[TRANSECTED], found[SPOILT], found[RESEATED]) == (0, 1, 1)
    assert "Not entered" not in to_markdown(summarise(record.state))


def day_of_checks() -> Record:
    """95 grafts cut by AB; then, by arithmetic:

    - AB spoils 3 transected and 1 crushed in cutting: 4 of 99; CD cuts 9 twos and spoils 1: 1 of 10
    - AB divides a three into 1 + 2: 95 + 9 + 5 = 109 cut, 2 divided in, 111 in all; CD drops one: 6 discarded
    - CD places 20 and reseats 2; EF looks at 10 that CD placed, 1 faulty, and at 5 of anybody's, none faulty
    """
    record = case_under_way()
    record.enter(c.DiscardGrafts(harvest="A", size="2", reason="transected", count=3), "AB")
    record.enter(c.DiscardGrafts(harvest="A", size="2", reason="crushed"), "AB")
    record.enter(c.CutGrafts(harvest="A", size="2", count=9), "CD")
    record.enter(c.DiscardGrafts(harvest="A", size="2", reason="transected"), "CD")
    record.enter(c.DivideGrafts(size="3", into=("1", "2")), "AB")
    record.enter(c.DiscardGrafts(size="2", reason="dropped"), "CD")
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=20), "CD")
    record.enter(c.ReseatGraft(zone="LINE", count=2), "CD")
    deep = (FaultFound(fault="too deep", count=1),)
    record.enter(c.CheckSpot(subject="placing", looked_at=10, faulty=1, whose="CD", faults=deep), "EF")
    record.enter(c.CheckSpot(subject="placing", looked_at=5, faulty=0), "EF")
    return record


def test_quality_of_a_day_worked_by_hand():
    found = {
        (each.measure, each.who): (each.proportion.count, each.proportion.of)
        for each in quality(day_of_checks().state)
    }
    assert found == {
        ("transected in cutting", None): (4, 109),
        ("spoilt in cutting", None): (5, 109),
        ("discarded", None): (6, 111),
        ("discarded, transected", None): (4, 111),
        ("discarded, crushed", None): (1, 111),
        ("discarded, dropped", None): (1, 111),
        ("divided", None): (1, 111),
        ("reseated", None): (2, 20),
        ("spot check, placing", None): (1, 15),
        ("transected in cutting", "AB"): (3, 99),
        ("transected in cutting", "CD"): (1, 10),
        ("spoilt in cutting", "AB"): (4, 99),
        ("spoilt in cutting", "CD"): (1, 10),
        ("reseated", "CD"): (2, 20),
        ("spot check, placing", "CD"): (1, 10),
    }


def test_what_was_taken_back_is_in_no_share():
    record = case_under_way()
    record.enter(c.DiscardGrafts(harvest="A", size="2", reason="transected", count=3), "AB")
    record.enter(c.TakeBack(role="cutting"), "AB")
    assert SPOILT not in [each.measure for each in quality(record.state)]
    record.enter(c.DiscardGrafts(harvest="A", size="2", reason="crushed"), "AB")
    spoilt = next(each for each in quality(record.state) if each.measure == "spoilt in cutting")
    assert (spoilt.proportion.count, spoilt.proportion.of) == (1, 96)


def test_quality_is_told_in_the_summary():
    summary = summarise(day_of_checks().state)
    page = to_markdown(summary)
    assert "## Quality" in page
    # 2 of 20 of one placer in one zone: 1 + 19 · 0.05 = 1.95, times (t₈/z)² = (2.3060/1.95996)², less 1/20 of
    # the excess: as sure as 7.65 (0.765 of them): Wilson 1.5–45.3 % (statsmodels)
    row = next(each for each in page.splitlines() if each.startswith("| reseated "))
    assert " ".join(row.split()) == "| reseated | 2 of 20 | 10.0 % | 1.5–45.3 |"
    assert ("quality", "reseated", "", "share", "0.1", "share") in figures_in(summary)
    assert "## Quality" not in to_markdown(summarise(opened_case().state))


def test_follicles_losses_and_hours_are_told_in_the_summary():
    record = checked((3, 9, 3))
    record.enter(c.DivideGrafts(size="3", into=("1", "1"), count=4))
    page = to_markdown(summarise(record.state))
    rows = [" ".join(each.split()) for each in page.splitlines()]
    # 3 of 9 in one check are as sure as 1.636 of 4.908: Wilson 8.6–72.7 % (statsmodels)
    assert "| 3 of 9 | 3 grafts | 33.3 % | 8.6–72.7 |" in rows
    assert "| threes | 4 | 4.0 | 1.00 |" in rows
    assert "2.00 hairs per graft of 3.00 possible" in page
    assert "0 of 3 faulty, 3 of 9 follicles transected" in page
    assert "| hour |" not in page  # one hour is the whole
    record.wait(60)
    record.enter(c.DiscardGrafts(harvest="A", size="2", reason="crushed"))
    summary = summarise(record.state)
    rows = [" ".join(each.split()) for each in to_markdown(summary).splitlines()]
    assert any(row.startswith("| spoilt in cutting | 1–2 h | 0 of 95 | 0.0 % | 0.0–") for row in rows)
    assert "| spoilt in cutting | 2–3 h | 1 of 1 | 100.0 % | 20.7–100.0 |" in rows
    figures = figures_in(summary)
    assert ("follicles", "", "", "transected", "3", "follicles") in figures
    assert ("division_losses", "threes", "3", "hairs_lost_per_graft", "1.0", "hairs/graft") in figures
    assert ("quality_by_hour", "4", "", "hour", "2", "h") in figures
    empty = summarise(opened_case().state)
    assert (empty.follicles, empty.division_losses, empty.quality_by_hour) == (None, (), ())
    assert "Follicles" not in to_markdown(empty)


@settings(max_examples=30)
@given(records())
def test_people_add_up_to_the_whole(record: Record):
    found = quality(record.state)
    for whole in (each for each in found if each.who is None):
        mine = [each.proportion for each in found if each.measure == whole.measure and each.who is not None]
        if mine:
            assert sum(each.count for each in mine) <= whole.proportion.count
            nobodys = sum(
                each.event.looked_at
                for each in record.state.standing()
                if isinstance(each.event, SpotChecked)
                and each.event.whose is None
                and whole.measure == f"spot check, {each.event.subject}"
            )
            assert sum(each.of for each in mine) + nobodys == whole.proportion.of


@pytest.mark.parametrize("event", EVERY_KIND, ids=lambda event: event.kind)
def test_a_share_is_made_of_what_is_done_to_grafts_and_of_close_looks(event: AnyEvent, under_way: Record):
    entry = under_way.take(event)
    measured = {
        *("grafts_cut", "grafts_discarded", "grafts_divided", "grafts_placed", "graft_reseated"),
        "spot_checked",
    }
    untouched = {
        *("sites_made", "grafts_issued", "grafts_returned", "harvest_started", "harvest_ended"),
        *("segment_cut", "care_given"),
    }
    assert bool(list(observations(entry))) is (event.kind in measured)
    assert event.kind in measured | untouched or not event.does.hands_on
