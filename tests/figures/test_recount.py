"""Two blind counts beside the tally: cases worked by hand, and what must hold of any two counts."""

from __future__ import annotations

from collections import Counter

import pytest
from cases import Record, case_under_way, opened_case, records
from hypothesis import given, settings
from hypothesis import strategies as st

from orroom.case import commands as c
from orroom.case.events import CountedGroup
from orroom.case.final_count import groups_to_count, person_counts
from orroom.figures.count_causes import EXPLANATIONS
from orroom.figures.recount import Counted, Group, Recount, expected, recount

ONES, TWOS, THREES, MULTIS = (Group(size, "A", "dish") for size in "123M")


def counted(record: Record, **changes: int) -> dict[Group, int]:
    """What the tally holds, with so many more ones, twos, threes found in their dishes."""
    names = {"ones": ONES, "twos": TWOS, "threes": THREES, "multis": MULTIS}
    held = Counter(expected(record.state))
    held.update({names[name]: by for name, by in changes.items()})
    return dict(held)


def both(record: Record, **changes: int) -> Recount:
    found = counted(record, **changes)
    return recount(record.state, found, found)


def counters_agree(found: Recount) -> bool:
    """Whether both have counted every group and found the same."""
    return all(each.counters_agree for each in found.groups)


def explained(found: Recount, group: Group) -> list[tuple[str, str, tuple[int, ...]]]:
    row = next(each for each in found.groups if each.group == group)
    return [(each.cause, each.rule, each.entries) for each in row.explanations]


def test_counts_that_agree_leave_no_difference():
    found = both(case_under_way())
    assert [(each.group, each.expected) for each in found.groups] == [
        (ONES, 30),
        (TWOS, 40),
        (THREES, 20),
        (MULTIS, 5),
    ]
    assert found.agrees
    assert found.differences == ()
    assert counters_agree(found)


def test_dish_and_bench_are_groups_of_their_own():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=25), "CD")
    found = both(record)
    with_placers = Group("2", "A", "bench")
    assert {each.group: each.expected for each in found.groups if each.group.size == "2"} == {
        TWOS: 15,
        with_placers: 25,
    }


def test_totals_that_agree_hide_what_groups_tell():
    """88 % of cases with a retained item had a count called correct: Gawande 2003, second-hand."""
    found = both(case_under_way(), ones=2, threes=-2)
    assert sum(each.expected for each in found.groups) == sum(each.first or 0 for each in found.groups) == 95
    assert counters_agree(found)
    assert not found.agrees
    assert [(each.group, each.off) for each in found.differences] == [(ONES, (2,)), (THREES, (-2,))]


def test_two_counts_that_differ_are_counted_again():
    record = case_under_way()
    compared = recount(record.state, counted(record), counted(record, twos=-3))
    assert not counters_agree(compared)
    assert not compared.agrees
    assert compared.differences[0].off == (-3,)
    sentence = compared.differences[0].explanations[0]
    assert (sentence.cause, sentence.rule) == ("miscount", "counters_apart")
    assert sentence.sentence == "the two counts are 3 grafts apart: count again"


def test_both_counters_off_in_their_own_way():
    record = case_under_way()
    compared = recount(record.state, counted(record, twos=1), counted(record, twos=-2))
    assert compared.differences[0].off == (-2, 1)


def test_a_group_that_nobody_counted_is_no_group_of_none():
    record = case_under_way()
    first = counted(record)
    second = {group: count for group, count in first.items() if group != TWOS}
    compared = recount(record.state, first, second)
    assert [each.group for each in compared.differences] == [TWOS]
    assert (compared.differences[0].second, compared.differences[0].off) == (None, ())
    assert not counters_agree(compared)


def test_grafts_found_where_the_tally_has_none():
    record = case_under_way()
    with_placers = Group("1", "B", "bench")
    found = counted(record) | {with_placers: 4}
    compared = recount(record.state, found, found)
    assert [(each.group, each.expected, each.off) for each in compared.differences] == [
        (with_placers, 0, (4,))
    ]


# One rule, one test.


@pytest.mark.parametrize("rule", EXPLANATIONS, ids=lambda rule: rule.__name__)
def test_every_explanation_has_a_sentence_and_a_test_of_its_name(rule):
    assert rule.__doc__
    assert f"test_{rule.__name__}" in globals()


def test_entered_twice():
    """25 ones placed, and the same again 3 s later: the dish holds 25 more than the tally."""
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="A", size="1", count=60))
    first = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=25), "CD", station="placing-1")
    record.wait(2 / 60)
    second = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=25), "CD", station="placing-1")
    found = both(record, ones=25)
    assert explained(found, ONES) == [("documentation", "entered_twice", (first.seq, second.seq))]
    sentence = found.differences[0].explanations[0].sentence
    assert sentence == f"entries {first.seq} and {second.seq} are identical and 3.0 s apart: entered twice?"
    assert explained(both(record, ones=24), ONES) == []
    assert "entered_twice" not in [rule for _, rule, _ in explained(both(record, ones=-25), ONES)]


def test_discarded_just_before():
    """A three given up 80 s before the count, and found in its dish all the same; or taken from a bench."""
    record = case_under_way()
    discard = record.enter(c.DiscardGrafts(size="3", reason="dried"), "CD", station="placing-1")
    record.wait(79 / 60)

    def told_of(threes: int) -> list[tuple[str, str, tuple[int, ...]]]:
        later = Record(record.state, record.now_ms)
        found = Counter(counted(record, threes=threes))
        for who in ("AB", "CD"):
            groups = tuple(
                CountedGroup(size=group.size, harvest=group.harvest, place=group.place, found=found[group])
                for group in groups_to_count(later.state)
            )
            later.enter(c.CountAll(groups=groups, since=later.state.seq), who, station="overview-1")
        first, second = person_counts(later.state)
        compared = recount(later.state, first.found, second.found)
        sentences.extend(each.sentence for row in compared.differences for each in row.explanations)
        return [each for each in explained(compared, THREES) if each[1] == "discarded_just_before"]

    sentences: list[str] = []
    assert told_of(1) == [("misplaced", "discarded_just_before", (discard.seq,))]
    assert f"1 discarded 1 min 20 s before the count (entry {discard.seq}): still in the dish?" in sentences
    assert told_of(2) == []  # one discard is no answer to two
    assert told_of(-1) == []  # by the record it was taken from here already
    record.enter(c.IssueGrafts(size="3", count=4))
    taken = record.enter(c.DiscardGrafts(size="3", reason="dropped"), "CD", station="placing-1")
    assert told_of(-1) == [("documentation", "discarded_just_before", (taken.seq,))]
    record.wait(11)
    assert told_of(1) == told_of(-1) == []


def test_grafts_tapped_one_by_one_are_not_taken_for_slips():
    """40 single taps 5 s apart and one short: no pair stands out, unless one came in 2 s."""
    record = case_under_way()
    for seconds in [5] * 20 + [2] + [5] * 20:
        record.wait((seconds - 1) / 60)
        record.enter(c.CutGrafts(harvest="A", size="2"))
    found = explained(both(record, twos=-1), TWOS)
    assert found == [("documentation", "entered_twice", (record.state.seq - 21, record.state.seq - 20))]
    even = case_under_way()
    for _ in range(40):
        even.wait(4 / 60)
        even.enter(c.CutGrafts(harvest="A", size="2"))
    assert explained(both(even, twos=-1), TWOS) == []


@pytest.mark.parametrize(
    ("entered", "really", "slip"),
    [(10, 1, True), (1, 10, True), (21, 12, True), (25, 15, False), (25, 2, True), (7, 77, True)],
)
def test_wrong_number_entered(entered: int, really: int, slip: bool):
    """What was placed as ``entered`` was really another number: the dish holds so many more."""
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="A", size="2", count=60))
    placed = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=entered), "CD")
    found = explained(both(record, twos=entered - really), TWOS)
    assert (("documentation", "wrong_number_entered", (placed.seq,)) in found) == slip


@pytest.mark.parametrize(
    ("entries", "which"), [(2, "entry 7 or 8"), (3, "entry 7, 8 or 9"), (4, "4 entries")]
)
def test_entries_that_are_as_likely_as_each_other_are_one_explanation(entries: int, which: str):
    record = case_under_way()
    ones = []
    for _ in range(entries):
        record.wait(1)
        ones.append(record.enter(c.CutGrafts(harvest="A", size="1")).seq)
    found = both(record, ones=9)
    assert explained(found, ONES) == [("documentation", "wrong_number_entered", tuple(ones))]
    assert found.differences[0].explanations[0].sentence == f"{which} moved 1: was it 10?"


def test_sizes_exchanged():
    """30 ones and 40 twos were written down as 40 and 30."""
    found = both(case_under_way(), ones=10, twos=-10)
    for group in (ONES, TWOS):
        assert explained(found, group)[0] == ("miscount", "sizes_exchanged", ())
    sentence = found.differences[0].explanations[0].sentence
    assert sentence == "size 2 has what this one should, and the reverse: written the wrong way round?"
    for other in (both(case_under_way(), ones=9, twos=-9), both(case_under_way(), ones=10, twos=-11)):
        rules = [each.rule for row in other.differences for each in row.explanations]
        assert "sizes_exchanged" not in rules


# The likeliest first, and three at most.


def test_one_graft_missing_has_three_explanations_at_most():
    """Many entries of one, two and eleven, two of them fast: all may explain it, three are shown."""
    record = case_under_way()
    for count in (1, 1, 11, 11, 12, 1, 2, 11, 10, 1):
        record.wait(1 / 60)
        record.enter(c.CutGrafts(harvest="A", size="2", count=count))
    record.enter(c.DiscardGrafts(size="2", reason="dropped"), "CD", station="placing-1")
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=1), "CD", station="placing-1")
    for by in (-1, -10, 9, 10):
        weights = [each.weight for each in both(record, twos=by).differences[0].explanations]
        assert 0 < len(weights) <= 3
        assert weights == sorted(weights, reverse=True)


def test_of_five_explanations_three_are_shown():
    """Ten twos over: placed twice, discarded, taken off by a hand count, eleven typed for one."""
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="A", size="2", count=60))
    for count in (10, 10, 11):
        record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=count), "CD", station="placing-1")
    record.enter(c.DiscardGrafts(size="2", reason="dropped", count=10), "CD", station="placing-1")
    record.enter(c.CountDish(size="2", harvest="A", found=record.held("dish", "2") - 10))
    rules = [rule for _, rule, _ in explained(both(record, twos=10), TWOS)]
    assert sorted(rules) == ["counted_wrong_before", "discarded_just_before", "entered_twice"]
    with_ones = [rule for _, rule, _ in explained(both(record, twos=10, ones=-10), TWOS)]
    assert len(with_ones) == 3
    assert with_ones[0] == "wrong_size_entered"


def test_counts_that_differ_come_before_any_other_explanation():
    record = case_under_way()
    for _ in range(3):
        record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=3), "CD")
    compared = recount(record.state, counted(record), counted(record, twos=-3))
    rules = [each.rule for each in compared.differences[0].explanations]
    assert rules[0] == "counters_apart"
    assert 1 < len(rules) <= 3


def test_a_batch_of_a_usual_number_is_likelier_forgotten_than_one_of_another():
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="A", size="2", count=60))
    for count in (10, 10, 10, 12):
        record.wait(1)
        record.enter(c.PlaceGrafts(zone="MID", size="2", count=count), "CD", station="placing-1")
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=7), "CD", station="placing-1")

    def weight(missing: int) -> float:
        found = both(record, twos=-missing).differences[0].explanations
        return sum(each.weight for each in found if each.rule == "placing_not_entered")

    assert weight(10) > weight(12) > weight(7) > weight(6) == 0
    sentence = both(record, twos=-7).differences[0].explanations[0].sentence
    assert sentence.startswith("7 at a time of other sizes were placed before: was one such batch into ")


def test_a_size_that_the_zone_does_not_take_is_likelier_wrong():
    """Five twos into the hairline, which takes ones only, and five into the middle; five twos are over."""
    record = case_under_way()
    middle = record.enter(c.PlaceGrafts(zone="MID", size="2", count=5), "CD").seq
    hairline = record.enter(c.PlaceGrafts(zone="LINE", size="2", count=5), "CD").seq
    named = [entries for _, rule, entries in explained(both(record, twos=5, ones=-5), TWOS)]
    assert named.index((hairline,)) == 0
    assert (middle,) not in named[:1]


def test_placing_not_entered():
    """Ten twos at a time into the frontal zone, which is owed 20 more; ten are missing in the dish."""
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="A", size="2", count=60))
    for _ in range(3):
        record.wait(1)
        record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10), "CD", station="placing-1")
    found = both(record, twos=-10)
    assert explained(found, TWOS) == [("documentation", "placing_not_entered", ())]
    sentence = found.differences[0].explanations[0].sentence
    assert sentence == "10 at a time were placed before: was one such batch into FRONT or MID not entered?"
    assert explained(both(record, twos=-9), TWOS) == []
    record.wait(1)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10), "CD", station="placing-1")
    assert explained(both(record, twos=-10), TWOS) == [("documentation", "placing_not_entered", ())]
    record.enter(c.TakeBack(role="placing"), "CD", station="placing-1")
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=11), "CD", station="placing-1")
    (left,) = both(record, twos=-10).differences[0].explanations
    assert "into MID not entered" in left.sentence  # FRONT is owed 9
    record.enter(c.PlaceGrafts(zone="MID", size="2", count=21), "CD", station="placing-1")
    assert explained(both(record, twos=-10), TWOS) == []  # and so is MID


@pytest.mark.parametrize(
    ("station", "who", "zone", "seconds"),
    [
        ("placing-2", "CD", "LINE", 3),
        ("placing-1", "EF", "LINE", 3),
        ("placing-1", "CD", "MID", 3),
        ("placing-1", "CD", "LINE", 11),
    ],
)
def test_what_is_not_entered_twice(station: str, who: str, zone: str, seconds: int):
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="A", size="1", count=60))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=25), "CD", station="placing-1")
    record.wait((seconds - 1) / 60)
    record.enter(c.PlaceGrafts(zone=zone, size="1", count=25), who, station=station)
    assert explained(both(record, ones=25), ONES) == []


def test_of_many_pairs_the_nearest_in_time_is_named():
    record = case_under_way()
    for seconds in (5, 4, 2, 6):
        record.wait((seconds - 1) / 60)
        record.enter(c.CutGrafts(harvest="A", size="2"))
    nearest = both(record, twos=-1).differences[0].explanations[0]
    assert nearest.entries == (record.state.seq - 2, record.state.seq - 1)
    assert nearest.sentence.endswith("are identical and 2.0 s apart: entered twice?; 2 more such pairs")


def test_what_was_taken_back_explains_nothing():
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="A", size="2", count=7))
    record.enter(c.CutGrafts(harvest="A", size="2", count=7))
    assert explained(both(record, twos=-7), TWOS) != []
    record.enter(c.TakeBack(role="cutting"))
    assert explained(both(record, twos=-7), TWOS) == []


def test_wrong_size_entered():
    """15 twos placed in the record were threes: twos 15 over, threes 15 short."""
    record = case_under_way()
    placed = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=15), "CD")
    found = both(record, twos=15, threes=-15)
    rule = ("documentation", "wrong_size_entered", (placed.seq,))
    for group in (TWOS, THREES):
        assert rule in explained(found, group)
    sentences = {
        each.sentence for each in found.differences[0].explanations if each.rule == "wrong_size_entered"
    }
    assert sentences == {f"entry {placed.seq} placed 15 of size 2 into FRONT: were they of size 3?"}
    for other in (
        both(record, twos=-15, threes=15),
        both(record, twos=15),
        both(record, ones=-15, threes=15),
    ):
        assert all(
            each.rule != "wrong_size_entered" for row in other.differences for each in row.explanations
        )


def test_any_other_size_may_be_in_the_dish_the_most_alike_first():
    record = case_under_way()
    found = both(record, ones=2, threes=-2)
    for group in (ONES, THREES):
        assert ("misplaced", "in_another_group", ()) in explained(found, group)
    found = both(record, twos=2, threes=-2, multis=-2)
    sentences = [each.sentence for each in found.differences[0].explanations]
    assert [sentence.split(" has ")[0] for sentence in sentences] == ["size 3", "size M"]


def test_placed_past_the_placers():
    """Ones of harvest B were issued; those placed were drawn from the dish of harvest A."""
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="B", size="1", count=30))
    record.enter(c.IssueGrafts(size="1", count=20, harvest="B"), "CD")
    placed = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=12, harvest="A"), "CD")
    rule = ("documentation", "placed_past_the_placers", (placed.seq,))
    assert rule in explained(both(record, ones=12), ONES)
    assert explained(both(record, ones=13), ONES) == []
    assert rule not in explained(both(record, ones=-12), ONES)
    record.enter(c.IssueGrafts(size="1", count=3, harvest="A"), "CD")
    assert rule not in explained(both(record, ones=12), ONES)


def test_where_nobody_enters_what_goes_to_the_bench_no_dish_stands_out():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=12), "CD")
    assert explained(both(record, ones=12), ONES) == []


def test_drawn_from_another_harvest():
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="B", size="1", count=30))
    later = Group("1", "B", "dish")
    found = counted(record, ones=8) | {later: 22}
    compared = recount(record.state, found, found)
    assert explained(compared, ONES) == [("documentation", "drawn_from_another_harvest", ())]
    assert compared.differences[0].explanations[0].sentence.startswith("harvest B has ")
    assert explained(compared, later) == [("documentation", "drawn_from_another_harvest", ())]


def test_in_another_group():
    """Four twos lie in the dish of ones; of the threes, 5 with the placers were never entered as issued."""
    record = case_under_way()
    known = both(record, ones=4, twos=-4)
    assert explained(known, ONES) == [("misplaced", "in_another_group", ())]
    sentence = known.differences[0].explanations[0].sentence
    assert sentence == "size 2 has 4 too few: are they in each other's dish?"
    with_placers = Group("3", "A", "bench")
    found = counted(record, threes=-5) | {with_placers: 5}
    known = recount(record.state, found, found)
    assert explained(known, with_placers) == [("misplaced", "in_another_group", ())]
    sentence = known.differences[0].explanations[0].sentence
    assert sentence == "the dish has 5 too few: moved without an entry?"
    (in_the_dish,) = (each for each in known.differences if each.group == with_placers._replace(place="dish"))
    sentence = in_the_dish.explanations[0].sentence
    assert sentence == "the placers have 5 too many: moved without an entry?"


def test_counted_wrong_before():
    """A hand count took 6 twos out of the tally; at the end they are there after all."""
    record = case_under_way()
    before = record.enter(c.CountDish(size="2", harvest="A", found=34))
    found = both(record, twos=6)
    assert explained(found, TWOS) == [("miscount", "counted_wrong_before", (before.seq,))]
    sentence = found.differences[0].explanations[0].sentence
    assert sentence == f"the hand count of entry {before.seq} changed this by −6: was it wrong?"
    assert explained(both(record, twos=-6), TWOS) == []


# What holds of any two counts.

GROUPS = st.builds(
    Group,
    st.sampled_from(("1", "2", "3", "4", "M")),
    st.sampled_from("AB"),
    st.sampled_from(("dish", "bench")),
)
COUNTED = st.dictionaries(GROUPS, st.integers(0, 60), max_size=8)


def found_by(record: Record, changes: Counted, left_out: frozenset[Group]) -> dict[Group, int]:
    found = expected(record.state) | dict(changes)
    return {group: count for group, count in found.items() if group not in left_out}


@settings(max_examples=60)
@given(records(), COUNTED, COUNTED, st.frozensets(GROUPS, max_size=2))
def test_exchanging_the_counters_exchanges_their_columns_only(
    record: Record, one: Counted, other: Counted, left_out: frozenset[Group]
):
    first, second = found_by(record, one, left_out), found_by(record, other, frozenset())
    found, turned = recount(record.state, first, second), recount(record.state, second, first)
    assert [(row.group, row.expected, row.first, row.second, row.explanations) for row in found.groups] == [
        (row.group, row.expected, row.second, row.first, row.explanations) for row in turned.groups
    ]
    assert (found.agrees, counters_agree(found)) == (turned.agrees, counters_agree(turned))


@settings(max_examples=60)
@given(records(), COUNTED)
def test_counters_who_agree_differ_from_the_tally_by_what_was_changed(record: Record, changes: Counted):
    found = found_by(record, changes, frozenset())
    compared = recount(record.state, found, found)
    held = expected(record.state)
    assert counters_agree(compared)
    assert {row.group for row in compared.differences} == {
        group for group, count in changes.items() if count != held.get(group, 0)
    }
    assert compared.agrees == (not compared.differences)
    assert not any(each.rule == "counters_apart" for row in compared.groups for each in row.explanations)


@settings(max_examples=60)
@given(records())
def test_what_the_tally_holds_is_what_waits(record: Record):
    """Each group is dish or bench of the accounts, and entries that stand moved it there, one by one."""
    held = expected(record.state)
    for place in ("dish", "bench"):
        waiting = sum(count for group, count in held.items() if group.place == place)
        fated = sum(n for (_, _, where, _), n in record.tally.fates.items() if where == place)
        assert waiting == record.held(place) + fated  # what has its fate was there to be counted
    assert 0 not in held.values()


def test_nothing_left_is_nothing_to_count():
    compared = recount(opened_case().state, {}, {})
    assert (compared.groups, compared.agrees) == ((), True)
