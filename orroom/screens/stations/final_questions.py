"""What is asked around the final count and the closing of the case."""

from collections.abc import Generator
from typing import Any, Final, get_args

from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.closing import open_at_sign_off
from orroom.case.fates import giving
from orroom.case.final_count import (
    CountRunning,
    Group,
    PersonCount,
    person_counts,
    waiting_by_group,
)
from orroom.case.state import CaseState
from orroom.case.terms import FATES, MAX_TEXT, PLACES, SIGN_OUT, SignOutItem, size_named
from orroom.figures.case_times import case_times
from orroom.figures.differences import Cause, GroupCount
from orroom.figures.wording import clock_time, grafts, several
from orroom.screens.stations.initials import person
from orroom.screens.stations.questions import meant_for, numbered
from orroom.screens.stations.views.final_count import CountUnderWay
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Option, Step, Words
from orroom.words.entries import harvest_label

YES: Final = Option("y", "yes", True)
NO: Final = Option("n", "no", False)
#: In the place of initials: nobody.
END: Final = "end"


class StartCount(c.Command, frozen=True, kw_only=True):
    """A person begins to count all that is left, or with ``again`` what differs between two counts."""

    who: str
    again: bool = False


class NoneThere(c.Command, frozen=True, kw_only=True):
    """In no group that never had a graft there is one."""


class TakeCount(c.Command, frozen=True, kw_only=True):
    """What both found is true: the hand count that sets the tally right, and the cause of the difference."""

    dish: c.CountDish
    cause: c.ExplainMismatch


class GiveFates(c.Command, frozen=True, kw_only=True):
    """What becomes of the grafts of one group or several."""

    fates: tuple[c.GiveFate, ...]


class SignOffBy(c.Command, frozen=True, kw_only=True):
    """The first of the two who close the case, and what they close it with."""

    who: str
    sign_off: c.SignOff


def who_counts(state: CaseState, running: CountRunning | None = None) -> Dialogue:
    """Whose count begins; the second is by another person than the first, or that count is stopped."""
    first = None if running is None else running.first
    if first is None:
        who = yield from person(state, "Who counts?")
    else:
        end = Option("e", f"stop: {first.who}'s count is no longer valid", END)
        ask = "Who makes the second count?"
        who = yield from person(state, ask, (first.who,), also=(end,))
        if who == END:
            return c.GiveUpCount(begun=first.seq)
    return StartCount(who=who)


def who_counts_again(state: CaseState, compared: tuple[PersonCount, ...]) -> Dialogue:
    """Whose recount begins: two counts were compared, so it is not blind, and replaces one of them."""
    ask = f"Who recounts, no longer blind? This replaces their own count, or {compared[0].who}'s."
    who = yield from person(state, ask)
    return StartCount(who=who, again=True)


def count_under_way(state: CaseState, running: CountRunning) -> Dialogue:
    """Somebody counts already, here or at another station: another person counts too, or it is stopped."""
    other = running.under_way[0]
    since = clock_time(other.at_ms, case_times(state))
    ends = yield Choice(
        f"{other.who} counts since {since}.",
        (Option("c", "count too", False), Option("e", f"stop the count by {other.who}", True)),
        means="Stop it only if nobody counts any more: what was counted so far is lost.",
    )
    if not ends:
        by = [each.who for each in running.under_way] + [each.who for each in person_counts(state)]
        who = yield from person(state, "Who counts too?", tuple(by))
        return StartCount(who=who)
    sure = yield Choice(f"What {other.who} counted so far is lost. Stop it?", (YES, NO))
    return c.GiveUpCount(begun=other.seq) if sure else None


def count_is_whole(count: CountUnderWay) -> Dialogue:
    """Whether the count may be entered as it stands."""
    total = sum(count.found.values())
    answer = yield Choice(
        f"{total:,} grafts in {len(count.groups)} groups. Enter this count?",
        (YES, NO),
        means="It is saved as one entry; no leads back to the groups.",
    )
    if not answer:
        return None
    groups = tuple(
        e.CountedGroup(size=group.size, harvest=group.harvest, place=group.place, found=count.found[group])
        for group in count.groups
    )
    return c.CountAll(groups=groups, since=count.since_seq, recount_of=count.recount_of)


def none_there(count: CountUnderWay) -> Dialogue:
    """Whether 0 is entered where no graft ever was, once somebody has looked."""
    answer = yield Choice(
        f"Enter 0 in {several(len(count.rest), 'group')} that never had a graft by the record?",
        (Option("y", "I looked: 0", True), Option("n", "no", False)),
        means="Look first: a graft may lie there all the same. Others are counted one by one.",
    )
    return NoneThere() if answer else None


def break_off(count: CountUnderWay) -> Dialogue:
    """Whether the count is stopped: it would have to be made again."""
    counted = f"{len(count.found)} of {several(len(count.groups), 'group')}"
    answer = yield Choice(
        f"Stop this count? {counted} would have to be counted again.",
        (Option("y", "stop the count", True), Option("n", "go on counting", False)),
    )
    return c.GiveUpCount() if answer else None


def take_count(row: GroupCount) -> Dialogue:
    """What a difference that both have found comes from; then the tally is set right."""
    found, group = row.first or 0, row.group
    likely = [each.cause for each in row.explanations]
    causes = sorted(get_args(Cause), key=[*likely, *get_args(Cause)].index)
    options = [Option(str(number), cause, cause) for number, cause in enumerate((*causes, "other"), 1)]
    cause = yield Choice(
        f"Both counted {grafts(found)}, the tally says {grafts(row.expected)}. The cause:",
        tuple(options),
        means="The tally is set to what both counted, and the cause is recorded.",
    )
    words = yield Words("In words (what was found out):")
    key = f"counted:{group.size}:{group.harvest}"
    return TakeCount(
        dish=c.CountDish(
            size=group.size, harvest=group.harvest, place=group.place, found=found, tallied=row.expected
        ),
        cause=c.ExplainMismatch(mismatch=key, text=f"{cause}: {words}"[:MAX_TEXT]),
    )


def fates(state: CaseState, chosen: Group | None) -> Dialogue:
    """What becomes of the grafts of the chosen group, or of the first that waits; then of all others."""
    waiting = {group: count for group, count in waiting_by_group(state.tally).items() if count > 0}
    group = chosen if chosen in waiting else next(iter(waiting))
    ask = f"{_in_group(state, group, waiting[group])}: what becomes of them?"
    options = (Option(str(number), FATES[fate], fate) for number, fate in enumerate(FATES, 1))
    means = "The grafts have been counted; what becomes of them does not change the count."
    fate = yield Choice(ask, tuple(options), means=means)
    if fate == "placed extra":
        return (yield from _placed_extra(state, group, waiting[group]))
    reason = (yield Words("Discarded because:")) if fate == "discarded" else None
    groups = [group]
    if others := [each for each in waiting if each != group]:
        more = sum(waiting[each] for each in others)
        ask = f"The same for the other {several(len(others), 'group')} ({several(more, 'graft')})?"
        if (yield Choice(ask, (YES, NO))):
            groups += others
    return GiveFates(
        fates=tuple(
            one
            for each in groups
            for one in giving(state.tally, each, waiting[each], fate=fate, reason=reason)
        )
    )


def _placed_extra(state: CaseState, group: Group, waiting: int) -> Generator[Step, Any, GiveFates | None]:
    """Into which zone grafts of a group were placed beyond the plan, how many, and by whom."""
    zones = numbered((zone.label, zone.key) for zone in state.plan.zones)
    zone = yield Choice("Placed into which zone?", zones)
    if not (yield from meant_for(state, zone)):
        return None
    count = yield Number(
        f"How many of {grafts(waiting)}?",
        fault=lambda typed: "" if 1 <= typed <= waiting else f"enter 1 to {grafts(waiting)}",
        means="The others still need a fate.",
    )
    by = yield from person(state, "Who placed them?")
    fates = giving(state.tally, group, int(count), fate="placed extra", into_zone=zone, by=by)
    return GiveFates(fates=fates)


def _in_group(state: CaseState, group: Group, count: int) -> str:
    harvest = harvest_label(state.plan, group.harvest)
    return f"{grafts(count)} {size_named(group.size, count)}, {harvest}, {PLACES[group.place]}"


def sign_off(state: CaseState) -> Dialogue:
    """The sign-out items that concern this tool, whatever is open with its reason, two initials."""
    confirmed: list[SignOutItem] = []
    asked: list[SignOutItem] = []
    still = len(open_at_sign_off(state))
    after = f"Then {several(still, 'open point')}, each with its reason, and two people's initials."
    if not still:
        after = "Then two people's initials."
    for item, words in SIGN_OUT.items():
        said = yield Choice(
            f"{len(asked) + 1} of {len(SIGN_OUT)}, WHO sign out. Was it said aloud that {words}?",
            (Option("y", "said", True), Option("n", "not said", False)),
            means=f"Both are recorded; the case can be closed either way. {after}",
        )
        asked.append(item)
        if said:
            confirmed.append(item)
    left_open = yield from _left_open(state)
    who = yield from person(state, "Signed by")
    second = yield from person(state, "and by a second person", (who,))
    return SignOffBy(
        who=who,
        sign_off=c.SignOff(second=second, confirmed=tuple(confirmed), left_open=left_open),
    )


def _left_open(state: CaseState) -> Generator[Step, Any, tuple[e.LeftOpen, ...]]:
    """Why each thing stays open, and who was informed; one key gives the answers of the one before again."""
    found, left = open_at_sign_off(state), list[e.LeftOpen]()
    for number, each in enumerate(found, 1):
        ask = f"Open ({number} of {len(found)}): {each.sentence}."
        if left and (
            yield Choice(f"{ask} {left[-1].because!r}, {left[-1].informed} informed: here too?", (YES, NO))
        ):
            left.append(replace(left[-1], key=each.key, sentence=each.sentence))
            continue
        because = yield Words(f"{ask} Left open because:", means="Esc goes back, to settle it first.")
        informed = yield Words(f"{ask} Who was informed? Initials or role:")
        left.append(e.LeftOpen(key=each.key, sentence=each.sentence, because=because, informed=informed))
    return tuple(left)
