"""Each kind of event says in one row what it does; every list of kinds is made of these rows."""

from __future__ import annotations

from collections.abc import Iterable
from typing import get_args

import pytest

from orroom.case import events as e
from orroom.case import evolve
from orroom.case.kinds import Does
from orroom.record import bodies
from orroom.screens.stations.views import placing

ANYWHERE = (
    "break_ended break_planned break_started care_given dish_counted harvest_ended harvest_started "
    "mismatch_explained note_added placing_moved prompt_paused spot_checked team_changed"
)
#: By list, the kinds that are in it: what a new row adds to one of them is added here on purpose.
LISTS: dict[str, tuple[Iterable[type[e.Event]], str]] = {
    "only moves counts": (
        evolve.MOVING,
        "dish_counted graft_reseated grafts_cut grafts_discarded grafts_divided grafts_issued grafts_placed "
        "grafts_returned placing_moved sites_made",
    ),
    "at the bench": (
        evolve.AT_BENCH,
        "dish_counted grafts_discarded grafts_divided grafts_issued grafts_placed grafts_returned",
    ),
    "a final count does not outlast it": (
        e.kinds_that(lambda does: does.moves == "grafts"),
        "grafts_cut grafts_discarded grafts_divided grafts_issued grafts_placed grafts_returned",
    ),
    "taken back at cutting": (
        e.kinds_that(lambda does: "cutting" in does.undone_at),
        f"{ANYWHERE} grafts_cut grafts_discarded grafts_divided segment_cut",
    ),
    "taken back at placing": (
        e.kinds_that(lambda does: "placing" in does.undone_at),
        f"{ANYWHERE} graft_reseated grafts_discarded grafts_issued grafts_placed grafts_returned sites_made",
    ),
    "taken back at the overview": (e.kinds_that(lambda does: "overview" in does.undone_at), ANYWHERE),
    "never cancelled": (
        e.kinds_that(lambda does: does.instead),
        "case_opened case_reopened case_signed_off clock_stepped entries_lost entry_corrected "
        "final_count_begun final_count_given_up keys_set_aside plan_revised record_differed station_joined "
        "station_left",
    ),
    "makes no round due at another time": (
        e.kinds_that(lambda does: does.leaves_prompts),
        "graft_reseated grafts_cut mismatch_explained note_added placing_moved segment_cut sites_made",
    ),
    "hands-on": (
        e.kinds_that(lambda does: does.hands_on),
        "care_given graft_reseated grafts_cut grafts_discarded grafts_divided grafts_issued grafts_placed "
        "grafts_returned harvest_ended harvest_started segment_cut sites_made",
    ),
    "fills zones": (
        e.kinds_that(lambda does: does.fills_zones),
        "case_opened entry_corrected grafts_placed placing_moved plan_revised",
    ),
    "taken after the sign-off": (
        e.kinds_that(lambda does: does.after_sign_off),
        "case_reopened record_differed station_joined station_left",
    ),
    "entered by another": (
        e.kinds_that(lambda does: does.by_another),
        "case_signed_off final_count_begun final_count_given_up final_counted",
    ),
    "written fast": (
        bodies.COUNTING,
        "dish_counted entry_corrected graft_reseated grafts_cut grafts_discarded grafts_issued grafts_placed "
        "grafts_returned placing_moved sites_made",
    ),
    "among the last entries at placing": (
        placing.TOLD,
        f"{ANYWHERE} entry_corrected graft_reseated grafts_discarded grafts_issued grafts_placed "
        "grafts_returned plan_revised sites_made",
    ),
}


@pytest.mark.parametrize("what", LISTS)
def test_which_kinds_are_in_a_list(what: str):
    kinds, expected = LISTS[what]
    assert sorted(each.kind for each in kinds) == sorted(expected.split())


def test_every_kind_has_a_row_of_its_own():
    for kind in e.EVENT_KINDS.values():
        assert isinstance(vars(kind)["does"], Does), kind
    assert len(e.EVENT_KINDS) == len(get_args(e.AnyEvent))
    assert {each for each in e.__dict__.values() if isinstance(each, type) and issubclass(each, e.Event)} == {
        e.Event,
        e.Measured,
        *e.EVENT_KINDS.values(),
    }


def test_each_work_has_the_kind_by_which_it_is_paced_and_each_drawing_its_places():
    found = {each.does.output_of: each.kind for each in e.EVENT_KINDS.values() if each.does.output_of}
    assert found == {"cutting": "grafts_cut", "sites": "sites_made", "placing": "grafts_placed"}
    assert {each.kind: each.does.takes_from for each in e.kinds_that(lambda does: does.takes_from)} == {
        "grafts_discarded": ("bench", "dish"),
        "grafts_divided": ("dish",),
        "grafts_issued": ("dish",),
        "grafts_placed": ("bench", "dish"),
        "grafts_returned": ("bench",),
    }


def test_no_row_contradicts_itself():
    for kind in e.EVENT_KINDS.values():
        does = kind.does
        assert not (does.instead and (does.undone_at or does.moves)), kind  # what counts can be cancelled
        assert does.hands_on or does.moves != "grafts", kind
        assert bool(does.takes_from) is ("drawn" in kind.__struct_fields__), kind
