"""Each kind of event says in one row what it does; every list of kinds is made of these rows."""

from __future__ import annotations

from collections.abc import Iterable
from typing import get_args

import pytest
from cases import EVERY_KIND, UNCOUNTED, Record, opened_case

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case import evolve
from orroom.case.care import due_at_ms
from orroom.case.final_count import moved_since
from orroom.case.kinds import Does
from orroom.case.refusals.corrections import refuse_impossible_correction
from orroom.case.refusals.opening import refuse_after_sign_off
from orroom.case.replay import Replay
from orroom.case.rules import refusal_of
from orroom.case.state import Tally
from orroom.case.terms import ROLES, WORKS, Role
from orroom.case.traits import Trait, fields_with
from orroom.figures.pace.work import start_of_work_ms, work_done, work_goes_on
from orroom.figures.streams import streams
from orroom.record import bodies
from orroom.screens.stations.views import placing

ANYWHERE = (
    "break_ended break_planned break_started care_given dish_counted harvest_ended harvest_started "
    "limit_answered mismatch_explained note_added placing_moved prompt_paused spot_checked team_changed"
)
#: By list, the kinds that are in it: what a new row adds to one of them is added here on purpose.
LISTS: dict[str, tuple[Iterable[type[e.Event]], str]] = {
    "only moves counts": (
        evolve.MOVING,
        "dish_counted fate_given graft_reseated grafts_cut grafts_discarded grafts_divided grafts_issued "
        "grafts_placed grafts_returned placing_moved sites_made",
    ),
    "at the bench": (
        evolve.AT_PLACERS,
        "dish_counted fate_given grafts_discarded grafts_divided grafts_issued grafts_placed grafts_returned",
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
        f"{ANYWHERE} graft_reseated grafts_discarded grafts_issued grafts_placed grafts_returned lane_closed "
        "lane_handed_over lane_opened sites_made stick_and_place_set",
    ),
    "taken back at the overview": (
        e.kinds_that(lambda does: "overview" in does.undone_at),
        f"{ANYWHERE} fate_given",
    ),
    "never cancelled": (
        e.kinds_that(lambda does: does.instead),
        "case_opened case_reopened case_signed_off clock_stepped entries_lost entry_corrected "
        "final_count_begun final_count_given_up keys_set_aside plan_revised record_differed station_joined "
        "station_left",
    ),
    "makes no round due at another time": (
        e.kinds_that(lambda does: does.leaves_prompts),
        "graft_reseated grafts_cut limit_answered mismatch_explained note_added placing_moved segment_cut "
        "sites_made stick_and_place_set",
    ),
    "hands-on": (
        e.kinds_that(lambda does: does.hands_on),
        "care_given graft_reseated grafts_cut grafts_discarded grafts_divided grafts_issued grafts_placed "
        "grafts_returned harvest_ended harvest_started segment_cut sites_made",
    ),
    "fills zones": (
        e.kinds_that(lambda does: does.fills_zones),
        "case_opened entry_corrected fate_given grafts_placed placing_moved plan_revised stick_and_place_set",
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
        "dish_counted entry_corrected graft_reseated grafts_cut grafts_issued grafts_placed "
        "grafts_returned placing_moved sites_made",
    ),
    "among the last entries at placing": (
        placing.TOLD,
        f"{ANYWHERE} entry_corrected graft_reseated grafts_discarded grafts_issued grafts_placed "
        "grafts_returned lane_closed lane_handed_over lane_opened plan_revised sites_made "
        "stick_and_place_set",
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
    drawing = e.kinds_that(lambda does: does.takes_from)
    assert {each.kind: (each.does.takes_from, each.does.brings_to) for each in drawing} == {
        "grafts_discarded": (("bench", "dish"), "discarded"),
        "grafts_divided": (("dish",), "divided_out"),
        "grafts_issued": (("dish",), "bench"),
        "grafts_placed": (("bench", "dish"), "placed"),
        "grafts_returned": (("bench",), "dish"),
        "fate_given": (("bench", "dish"), "left_at_end"),
    }


def test_no_row_contradicts_itself():
    for kind in e.EVENT_KINDS.values():
        does = kind.does
        assert not (does.instead and (does.undone_at or does.moves)), kind  # what counts can be cancelled
        assert does.hands_on or does.moves != "grafts", kind
        drawn = fields_with(kind, Trait.DRAWN)
        assert bool(does.takes_from) is bool(does.brings_to) is bool(drawn), kind


COUNTS = (
    "stock",
    "placed",
    "sites",
    "reseated",
    "done",
    "settled",
    "hand_counts",
    "fates",
    "extra",
    "placers_moves",
)
EACH = pytest.mark.parametrize("event", EVERY_KIND, ids=lambda event: event.kind)


@EACH
def test_what_moves_counts_does_so_and_nothing_else(event: e.AnyEvent, under_way: Record):
    before, does = under_way.tally, event.does
    after = under_way.take(event) and under_way.tally
    changed = {name for name in Tally.__struct_fields__ if getattr(before, name) != getattr(after, name)}
    if does.moves:
        assert changed
        assert changed <= set(COUNTS)
    else:
        assert not changed & set(COUNTS)
    if type(event) not in evolve.AT_PLACERS:
        assert "placers_moves" not in changed
    if not does.fills_zones:
        assert not changed & {"placed", "plan"}


@EACH
def test_what_leaves_prompts_makes_no_round_due_at_another_time(event: e.AnyEvent, under_way: Record):
    under_way.enter(c.GiveCare(care="wet"))
    under_way.enter(c.IssueGrafts(size="2", count=5))
    before = [due_at_ms(under_way.tally, care) for care in ("wet", "renew", "cold", "bench")]
    under_way.take(event)
    after = [due_at_ms(under_way.tally, care) for care in ("wet", "renew", "cold", "bench")]
    assert before == after or not event.does.leaves_prompts


@EACH
def test_an_entry_is_cancelled_unless_its_row_says_what_to_do_instead(event: e.AnyEvent, under_way: Record):
    wrong = e.EntryCorrected(entry=under_way.take(event).seq, reason="a slip")
    refusal = refusal_of(under_way.state, wrong, under_way.stamp(), (refuse_impossible_correction,))
    if event.does.instead:
        assert refusal is not None
        assert refusal.right.endswith(f"{event.does.instead}.")
    else:
        assert refusal is None


@EACH
@pytest.mark.parametrize("role", ROLES)
def test_one_key_takes_back_what_the_row_says_at_that_role(event: e.AnyEvent, role: Role, under_way: Record):
    number = under_way.take(event, under_way.stamp("ZZ")).seq
    answer = under_way.ask(c.TakeBack(role=role), "ZZ")
    if role in event.does.undone_at:
        assert answer.event == e.EntryCorrected(entry=number, reason="taken back")
    else:
        assert answer.rule == "refuse_nothing_to_take_back"


@EACH
def test_after_the_sign_off_nothing_is_taken_but_what_the_row_says(event: e.AnyEvent, under_way: Record):
    under_way.enter(c.SignOff(second="CD", **UNCOUNTED))
    refusal = refusal_of(under_way.state, event, under_way.stamp(), (refuse_after_sign_off,))
    assert (refusal is None) is event.does.after_sign_off


@EACH
def test_a_final_count_holds_until_grafts_move(event: e.AnyEvent, under_way: Record):
    seq = under_way.state.seq
    number = under_way.take(event).seq
    moved = moved_since(under_way.state, seq)
    assert (moved is not None) is (event.does.moves == "grafts")
    under_way.take(e.EntryCorrected(entry=number, reason="a slip"))
    assert (moved_since(under_way.state, number) is not None) is (event.does.moves == "grafts")


@EACH
def test_what_is_kept_in_a_replay_is_what_costs_a_fold(event: e.AnyEvent, under_way: Record):
    under_way.take(event)
    under_way.take(e.EntryCorrected(entry=under_way.state.seq, reason="a slip"))
    replay = Replay(list(under_way.state.log))
    kept = under_way.state.seq in replay._kept_at
    assert kept is not bool(event.does.moves)


@EACH
def test_the_streams_of_times_out_see_every_graft_that_comes_and_goes(event: e.AnyEvent, under_way: Record):
    under_way.take(event)
    waiting = sum(under_way.held(account) for account in ("dish", "bench", "left_at_end"))
    found = streams(under_way.state.standing(), {"A": 0, "B": 1}).values()
    came = sum(each.grafts for stream in found for before in stream.before for each in before)
    assert came - sum(left.grafts for stream in found for left in stream.left) == waiting


@EACH
def test_a_work_is_paced_by_what_its_row_says(event: e.AnyEvent, under_way: Record):
    before = {of: work_done(under_way.state, of, under_way.now_ms).done for of in WORKS}
    under_way.take(event)
    after = {of: work_done(under_way.state, of, under_way.now_ms).done for of in WORKS}
    assert {of for of in WORKS if after[of] != before[of]} == {event.does.output_of} - {None}


@EACH
def test_work_begins_and_goes_on_with_what_is_done_to_grafts_or_for_them(
    event: e.AnyEvent, under_way: Record
):
    begun = opened_case()
    begun.take(event)
    extra = isinstance(event, e.FateGiven) and event.into_zone is not None
    hands_on = event.does.hands_on or extra
    is_work = hands_on and not isinstance(event, e.CareGiven)  # dishes are wetted before any
    assert (start_of_work_ms(begun.state) is not None) is is_work
    under_way.enter(c.SignOff(second="CD", **UNCOUNTED))
    under_way.take(event)
    assert work_goes_on(under_way.state) is hands_on
