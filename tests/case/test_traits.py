"""A rule finds what it asks for by what a field is, not by its name."""

from __future__ import annotations

from typing import get_type_hints

import pytest
from cases import Record, small_plan
from msgspec import Struct

from orroom.case import events as e
from orroom.case.kinds import Does
from orroom.case.rules import refusal_of
from orroom.case.traits import (
    AtMs,
    CareKey,
    Count,
    HarvestKey,
    Initials,
    SizeKey,
    Text,
    Trait,
    ZoneKey,
    fields_with,
    held,
)
from orroom.errors import OrroomError
from orroom.summary.summary import summarise


class Witness(Struct, frozen=True, kw_only=True):
    said: Text = "dry"


class GraftsSorted(e.Event, frozen=True, kw_only=True):
    """An invented kind; none of its fields has a name that another kind has."""

    kind = "grafts_sorted"
    does = Does(takes_from=("dish",))
    number: Count = 2
    where: ZoneKey | None = "MID"
    what: SizeKey = "2"
    mixed_with: tuple[SizeKey, ...] = ()
    harvest: HarvestKey | None = None
    remark: Text | None = None
    witnesses: tuple[Witness, ...] = ()
    by: Initials = "CD"
    round_: CareKey = "wet"
    when: AtMs = 0
    out_of: e.DrawnFrom = (e.Drawn(harvest="A", place="dish", count=2),)


def of_dish(count: int, harvest: str = "A", place: e.Place = "dish") -> tuple[e.Drawn, ...]:
    return (e.Drawn(harvest=harvest, place=place, count=count),)


@pytest.mark.parametrize(
    ("rule", "wrong"),
    [
        ("refuse_count_out_of_range", {"number": 0}),
        ("refuse_count_out_of_range", {"number": 10_001}),
        ("refuse_unknown_zone", {"where": "VERTEX"}),
        ("refuse_unknown_size", {"what": "4"}),
        ("refuse_unknown_size", {"mixed_with": ("2", "4")}),
        ("refuse_unknown_harvest", {"harvest": "C"}),
        ("refuse_unknown_harvest", {"out_of": of_dish(2, harvest="C")}),
        ("refuse_unreadable_text", {"remark": " "}),
        ("refuse_unreadable_text", {"remark": "a\u202eb"}),
        ("refuse_unreadable_text", {"witnesses": (Witness(), Witness(said="x" * 201))}),
        ("refuse_nobody", {"by": "nobody"}),
        ("refuse_unknown_care", {"round_": "shake"}),
        ("refuse_drawn_unlike_count", {"out_of": of_dish(1)}),
        ("refuse_drawn_unlike_count", {"out_of": ()}),
        ("refuse_drawn_from_elsewhere", {"out_of": of_dish(2, place="bench")}),
    ],
)
def test_a_new_kind_does_not_escape_a_rule_by_the_name_of_a_field(
    under_way: Record, rule: str, wrong: dict[str, object]
):
    stamp = under_way.stamp()
    assert refusal_of(under_way.state, GraftsSorted(), stamp) is None
    refusal = refusal_of(under_way.state, GraftsSorted(**wrong), stamp)
    assert refusal is not None
    assert refusal.rule == rule


def test_a_time_in_no_calendar_is_found_and_a_person_counted_in_whatever_the_field_is_named(
    under_way: Record,
):
    under_way.take(GraftsSorted(by="ZZ"))
    assert "ZZ" in {person.who for person in summarise(under_way.state).people}
    under_way.take(GraftsSorted(when=10**18))
    with pytest.raises(OrroomError, match="outside any calendar"):
        summarise(under_way.state)


def test_parts_are_looked_into_and_what_is_left_out_is_skipped():
    sorted_ = GraftsSorted(witnesses=(Witness(), Witness(said="wet")), where=None)
    assert list(held(sorted_, Trait.TEXT)) == ["dry", "wet"]
    assert list(held(sorted_, Trait.ZONE)) == []
    assert list(held(sorted_, Trait.HARVEST)) == ["A"]
    assert list(held(sorted_, Trait.DRAWN)) == list(of_dish(2))
    assert list(held(e.CaseOpened(plan=small_plan(), utc_offset_minutes=0), Trait.ZONE)) == []


#: Words and whole numbers of today's events that no trait says anything of, and what looks after them.
ITS_OWN = {
    "a rule of its own": (
        "case_opened.utc_offset_minutes segment_cut.segment placing_moved.entry placing_moved.from_zone "
        "spot_checked.looked_at spot_checked.faulty spot_checked.follicles spot_checked.transected "
        "team_changed.people clock_stepped.by_ms mismatch_explained.mismatch mismatch_explained.amount "
        "entry_corrected.entry dish_counted.tallied dish_counted.found final_count_given_up.begun "
        "final_counted.since final_counted.recount_of CountedGroup.size CountedGroup.harvest "
        "CountedGroup.found limit_answered.limit "
        "LeftOpen.key Drawn.count"
    ),
    "made by the program": (
        "station_joined.version keys_set_aside.count LeftOpen.sentence record_differed.anchored "
        "record_differed.expected_hash "
        "record_differed.found_hash record_differed.same record_differed.last"
    ),
}


def plain_fields(kind: type[Struct], name: str) -> set[str]:
    """The fields that hold just any word or whole number."""
    hints = get_type_hints(kind, include_extras=True)
    having = {field.name for trait in Trait for field in fields_with(kind, trait) if not field.in_parts}
    plain = {each for each, hint in hints.items() if hint in {str, int, str | None, int | None}}
    return {f"{name}.{each}" for each in kind.__struct_fields__ if each in plain - having}


def test_every_word_and_number_of_an_event_has_a_trait_or_something_else_that_looks_after_it():
    found = plain_fields(e.Drawn, "Drawn") | plain_fields(e.LeftOpen, "LeftOpen")
    found |= plain_fields(e.CountedGroup, "CountedGroup")
    for kind in e.EVENT_KINDS.values():
        found |= plain_fields(kind, kind.kind)
    assert found == {each for group in ITS_OWN.values() for each in group.split()}
