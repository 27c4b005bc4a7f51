"""Each kind of event says in one row what it does; every list of kinds is made of these rows."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from orroom.case import decide, evolve, final_count, landmarks
from orroom.case import events as e
from orroom.case.refusals import corrections
from orroom.figures.pace import work
from orroom.record import bodies
from orroom.screens.stations.views import placing

ANYWHERE = (
    "break_ended break_planned break_started care_given dish_counted harvest_ended harvest_started "
    "mismatch_explained note_added placing_moved prompt_paused spot_checked team_changed"
)
#: By list, the kinds that are in it: what a new row adds to one of them is added here on purpose.
LISTS: dict[str, tuple[Iterable[type[e.Event] | str], str]] = {
    "only moves counts": (
        evolve.MOVING,
        "dish_counted graft_reseated grafts_cut grafts_discarded grafts_divided grafts_issued grafts_placed "
        "grafts_returned placing_moved sites_made",
    ),
    "at the bench": (
        evolve.AT_BENCH,
        "dish_counted grafts_discarded grafts_divided grafts_issued grafts_placed grafts_returned placing_moved",
    ),
    "a final count does not outlast it": (
        final_count.MOVES,
        "grafts_cut grafts_discarded grafts_divided grafts_issued grafts_placed grafts_returned",
    ),
    "taken back at cutting": (
        decide.OWN_KINDS["cutting"],
        f"{ANYWHERE} grafts_cut grafts_discarded grafts_divided segment_cut",
    ),
    "taken back at placing": (
        decide.OWN_KINDS["placing"],
        f"{ANYWHERE} graft_reseated grafts_discarded grafts_issued grafts_placed grafts_returned sites_made",
    ),
    "taken back at the overview": (decide.OWN_KINDS["overview"], ANYWHERE),
    "never cancelled": (
        corrections.UNCORRECTABLE,
        "case_opened case_reopened case_signed_off clock_stepped entries_lost entry_corrected "
        "final_count_begun final_count_given_up keys_set_aside plan_revised record_differed station_joined "
        "station_left",
    ),
    "makes no round due at another time": (
        landmarks.MOVE_NO_PROMPT,
        "graft_reseated grafts_cut mismatch_explained note_added placing_moved segment_cut sites_made",
    ),
    "hands-on": (
        work._HANDS_ON,
        "care_given graft_reseated grafts_cut grafts_discarded grafts_divided grafts_issued grafts_placed "
        "grafts_returned harvest_ended harvest_started segment_cut sites_made",
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
    assert sorted(each if isinstance(each, str) else each.kind for each in kinds) == sorted(expected.split())
