"""What is asked at a station about what was entered wrong: cancelling, moving to another zone, explaining."""

from collections.abc import Callable, Generator, Sequence
from typing import Any, Final

from orroom.case import commands as c
from orroom.case.events import Entry, GraftsPlaced
from orroom.case.limits import BrokenLimit, LimitKind
from orroom.case.mismatches import Mismatch, open_mismatches
from orroom.case.placings import zone_of
from orroom.case.rules import Refusal
from orroom.case.state import CaseState
from orroom.case.terms import size_named
from orroom.figures.case_times import case_times
from orroom.figures.wording import clock_time, grafts
from orroom.screens.stations.questions import meant_for, numbered
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Option, Step, Words
from orroom.words.entries import entry_words, zone_label

#: What is mostly wrong, each by one key. Common practice, no source.
REASONS: Final = ("wrong zone", "wrong number", "wrong size", "tap missed", "one tap too many")
WRONG_ZONE: Final = REASONS[0]
#: What is mostly done about a broken limit, each by one key. Common practice, no source.
DONE: Final[dict[LimitKind, tuple[str, ...]]] = {
    "temperature": (
        "ice added",
        "ice taken out",
        "solution changed",
        "moved to another dish",
        "thermometer was wrong",
        "surgeon informed",
    ),
    "with-placers": (
        "wetted, not entered",
        "placed late, smaller batches now",
        "put back, entered late",
        "surgeon informed",
    ),
    "out-of-body": ("surgeon informed", "these are placed first", "more people placing", "cutting stopped"),
}
#: Mismatches, or placings, that are offered at a time: on the smallest screen each has a line of its own.
OFFERED_AT_ONCE: Final = 5
ZONES_AT_ONCE: Final = 9

#: The case as it is when an answer is given, and why a command would be refused now.
Now = Callable[[], CaseState]
Refused = Callable[[c.Command], Refusal | None]

_ANOTHER: Final = object()
_NEXT_PAGE: Final = object()
_MOVED: Final = "Only the zone changes: when they were placed, by whom and out of which dish stays."


def correct(now: Now, refused: Refused) -> Dialogue:
    """The number of a wrong entry; then, with that entry in words, why it is wrong."""
    first = ask = "Cancel which entry? (its number in the list)"
    while True:
        number = yield Number(ask, means="It no longer counts, and stays in the record as cancelled.")
        refusal = refused(c.CorrectEntry(entry=number, reason=WRONG_ZONE))
        entry = now().entry(number)
        if refusal is not None or entry is None:
            ask = f"{refusal} {first}"
            continue
        because = f"Cancel {_in_words(now(), entry)}? Because:"
        reason = yield from _reason(because, Option("0", "another entry", _ANOTHER))
        if reason == WRONG_ZONE and isinstance(entry.event, GraftsPlaced) and len(now().plan.zones) > 1:
            zone = yield from _zone(now(), entry, Option("n", "none: only cancel it", None))
            if zone is not None:
                return c.MovePlacing(entry=number, zone=zone) if (yield from meant_for(now(), zone)) else None
        if reason is not _ANOTHER:
            return c.CorrectEntry(entry=number, reason=reason)
        ask = first


def move(now: Now, who: str) -> Dialogue:
    """Which placing went into another zone, one's own newest ones first, and into which."""
    mine = [each for each in reversed(now().standing()) if _placed_by(each, who)][:OFFERED_AT_ONCE]
    entry: Entry | None = None
    if mine:
        offered = numbered((_placing(now(), each), each) for each in mine)
        another = Option("0", "another, by its number", None)
        entry = yield Choice("Which placing is in another zone?", (*offered, another), means=_MOVED)
    first = ask = "Which placing? (its number in the list)"
    while entry is None:
        number = yield Number(ask, means=_MOVED)
        found = now().entry(number)
        if found is not None and isinstance(found.event, GraftsPlaced) and now().stands(found):
            entry = found
        ask = f"Entry {number} is not a placing, or was cancelled. {first}"
    zone = str((yield from _zone(now(), entry)))
    return c.MovePlacing(entry=entry.seq, zone=zone) if (yield from meant_for(now(), zone)) else None


def explain(state: CaseState, limits: Sequence[BrokenLimit] = ()) -> Dialogue:
    """Which mismatch, and what it comes from; or of which broken limit, and what was done."""
    found = open_mismatches(state)
    chosen: Mismatch | BrokenLimit = yield from one_of(
        _which(found, limits),
        [*((each.sentence, each) for each in limits), *((each.sentence, each) for each in found)],
        OFFERED_AT_ONCE,
        means="A mismatch is what the entries cannot explain; a limit is the plan's. An explanation changes "
        "no count; a mismatch that grows, or a limit broken again, is shown again.",
    )
    if isinstance(chosen, BrokenLimit):
        done = yield from _reason(f"{chosen.sentence}. What was done?", reasons=DONE[chosen.kind])
        return c.AnswerLimit(limit=chosen.key, done=done)
    text = yield from _reason(f"{chosen.sentence}. Because:")
    return c.ExplainMismatch(mismatch=chosen.key, text=text, amount=chosen.amount)


def _which(found: Sequence[Mismatch], limits: Sequence[BrokenLimit]) -> str:
    """What somebody is about to say, and of which."""
    if not found and not limits:
        return "Nothing to explain; Esc"
    said = [*(["what was done"] * bool(limits)), *(["why"] * bool(found))]
    return f"Say {' or '.join(said)}. About which?"


def one_of(
    ask: str, offered: Sequence[tuple[str, object]], at_once: int, means: str, *more: Option
) -> Generator[Step, Any, Any]:
    """One of many, this many on a page; 0 turns to the next page."""
    first = 0
    while True:
        page = offered[first : first + at_once]
        options, said = numbered(page), ask
        if len(page) < len(offered):
            last = first + len(page)
            said += f" ({first + 1}–{last} of {len(offered)})"
            left = f"{len(offered) - last} more" if last < len(offered) else "first"
            options += (Option("0", left, _NEXT_PAGE),)
            first = last % len(offered)
        answer = yield Choice(said, (*options, *more), means=means)
        if answer is not _NEXT_PAGE:
            return answer


def _reason(ask: str, *more: Option, reasons: Sequence[str] = REASONS) -> Generator[Step, Any, Any]:
    """A ready reason by one key, or one in words."""
    words = Option(str(len(reasons) + 1), "in other words", None)
    reason = yield Choice(
        ask, (*numbered((each, each) for each in reasons), words, *more), means="It goes into the record."
    )
    if reason is None:
        reason = yield Words("Reason (no names):", means="It goes into the record.")
    return reason


def _zone(state: CaseState, entry: Entry, *more: Option) -> Generator[Step, Any, str | None]:
    """The zone that the grafts of a placing are in, by its number in the plan."""
    there = zone_of(state, entry)
    zones = [
        (f"{each.label}{' (now)' * (each.key == there)}{' (not treated)' * bool(each.not_treated)}", each.key)
        for each in state.plan.zones
    ]
    zone: str | None = yield from one_of(
        f"{_placing(state, entry)}; they are in", zones, ZONES_AT_ONCE, _MOVED, *more
    )
    return zone


def _placed_by(entry: Entry, who: str) -> bool:
    return isinstance(entry.event, GraftsPlaced) and entry.stamp.who == who


def _placing(state: CaseState, entry: Entry) -> str:
    """``25 twos → frontal (entry 412)``, with the zone that they are in by the record now."""
    event = entry.event
    if not isinstance(event, GraftsPlaced):
        raise TypeError(f"entry {entry.seq} is not a placing")
    zone = zone_label(state.plan, zone_of(state, entry))
    return f"{grafts(event.count)} {size_named(event.size, event.count)} → {zone} (entry {entry.seq})"


def _in_words(state: CaseState, entry: Entry) -> str:
    """``entry 412: 25 twos → frontal (GH 10:31)``."""
    at = clock_time(entry.stamp.at_ms, case_times(state))
    return f"entry {entry.seq}: {entry_words(entry.event, state.plan)} ({entry.stamp.who} {at})"
