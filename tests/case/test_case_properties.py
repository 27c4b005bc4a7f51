"""What holds for every record whatever: conservation, folding, corrections, and rules that leave no trace."""

from __future__ import annotations

from functools import reduce
from unittest.mock import patch

from cases import (
    Asking,
    Record,
    askings,
    case_under_way,
    commands,
    opened_case,
    records,
    role_of,
    told,
    up_to,
    wild_entries,
)
from hypothesis import given
from hypothesis import strategies as st

from orroom.case import commands as c
from orroom.case.decide import decide
from orroom.case.events import Entry, EntryCorrected, NoteAdded
from orroom.case.evolve import evolve, fold
from orroom.case.mismatches import mismatches
from orroom.case.rules import Refusal
from orroom.case.state import ENDS, SOURCES, CaseState, Tally


def recorded_entries() -> st.SearchStrategy[list[Entry]]:
    """Entries that commands led to, and entries that none could."""
    return records().map(lambda record: list(record.state.log)) | wild_entries()


def balances(tally: Tally) -> bool:
    """Whether every graft that came up is somewhere, per size and harvest."""
    kept = {(stock.size, stock.harvest) for stock in tally.stock}
    return all(
        sum(tally.held(source, size, harvest) for source in SOURCES)
        == sum(tally.held(end, size, harvest) for end in ENDS)
        for size, harvest in kept
    )


# Drawing a record takes longer than checking it: each is checked for all of these.


@given(recorded_entries(), st.integers(0, 25), st.integers(1, 4))
def test_every_record_is_folded_to_one_state_in_which_every_graft_is_accounted_for(
    entries: list[Entry], at: int, most: int
):
    state = CaseState()
    for entry in entries:
        state = fold([entry], state)
        assert balances(state.tally), entry
    whole = fold(entries)
    assert whole == reduce(evolve, entries, CaseState())
    assert whole == fold(entries[at:], start=fold(entries[:at]))
    with patch("orroom.case.evolve.MOST_TAPS", most):  # so few different taps are known at once
        assert whole == fold(entries)
    standing = (each for each in whole.standing() if each.event.kind != "entry_corrected")
    assert whole.tally == fold(standing).tally
    tally = whole.tally
    for counts in (tally.stock, tally.placed, tally.sites, tally.reseated, tally.done, tally.settled):
        assert 0 not in counts.values()


@given(records(), st.data())
def test_a_corrected_entry_might_as_well_never_have_been_made(record: Record, data: st.DataObject):
    correctable = [each for each in record.state.standing() if not each.event.does.instead]
    if not correctable:
        return
    wrong = data.draw(st.sampled_from(correctable))
    never_made = [
        Entry(each.seq, each.stamp, NoteAdded(text="nothing")) if each is wrong else each
        for each in record.state.log
    ]
    record.take(EntryCorrected(entry=wrong.seq, reason="a slip"))
    assert record.tally == fold(never_made).tally


@given(up_to(20, askings()))
def test_taking_back_restores_every_count(asked: list[Asking]):
    record = case_under_way()
    for asking in asked:
        before = record.tally
        told(record, [asking])
        entry = record.state.log[-1]
        role = role_of(entry.event)
        if record.tally is not before and role and not isinstance(asking.command, c.TakeBack):
            back = record.enter(c.TakeBack(role=role), asking.who, station=asking.station)
            assert back.event == EntryCorrected(entry=entry.seq, reason="taken back")
            assert record.tally == before


@given(records())
def test_zones_hold_what_was_placed_and_each_mismatch_is_found_once(record: Record):
    tally = record.tally
    by_size: dict[str, int] = {}
    for (_, size), count in tally.placed.items():
        by_size[size] = by_size.get(size, 0) + count
    assert by_size == {size: held for size in "123M" if (held := record.held("placed", size))}
    assert sum(tally.placed.values()) == record.held("placed")
    found = mismatches(record.state)
    assert len({each.key for each in found}) == len(found)
    assert all(each.amount for each in found)


@given(records(), commands(), st.sampled_from(("AB", "CD", "x")))
def test_deciding_always_gives_the_same_answer_and_changes_nothing(
    record: Record, command: c.Command, who: str
):
    state, entries = record.state, tuple(record.state.log)
    first = decide(state, command, record.stamp(who))
    assert decide(state, command, record.stamp(who)) == first
    assert tuple(state.log) == entries
    assert state == fold(entries)


@given(records(), commands())
def test_a_refused_command_leaves_no_trace(record: Record, command: c.Command):
    before, entries = record.state, tuple(record.state.log)
    answer = record.ask(command)
    if isinstance(answer, Refusal):
        assert record.state is before
        assert tuple(record.state.log) == entries
        assert answer.rule.startswith("refuse_")
        assert answer.sentence.endswith(".")
        assert answer.right.strip()
    else:
        assert tuple(record.state.log) == (*entries, answer)


@given(commands())
def test_nothing_but_an_opening_is_taken_before_the_opening(command: c.Command):
    answer = Record().ask(command)
    if not isinstance(command, c.OpenCase):
        assert isinstance(answer, Refusal)
        assert answer.rule == "refuse_before_opening"


@given(records(), wild_entries(4), wild_entries(4), st.integers(0, 25))
def test_going_on_from_an_earlier_state_leaves_every_other_state_alone(
    record: Record, one_way: list[Entry], other_way: list[Entry], at: int
):
    entries = list(record.state.log)
    earlier = fold(entries[:at])
    later = fold(entries[at:], earlier)
    first, second = fold(one_way, earlier), fold(other_way, earlier)
    assert list(earlier.log) == entries[:at]
    assert list(later.log) == entries
    assert list(first.log) == entries[:at] + one_way
    assert list(second.log) == entries[:at] + other_way
    assert earlier == fold(entries[:at])
    assert later == record.state


def test_a_long_record_is_appended_to_without_copying_it():
    state = opened_case().state
    note = state.log[0]
    longer = state.log.append(note).append(note)
    assert longer[-1] is note
    assert (len(state.log), len(longer)) == (1, 3)
    assert list(reversed(longer)) == [note, note, note]
    assert longer[1:] == [note, note]
