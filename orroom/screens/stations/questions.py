"""What is asked at a station, each question a dialogue (``asking.py``)."""

from collections.abc import Callable, Generator, Iterable
from string import ascii_lowercase, digits
from typing import Any, Final

from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.state import CaseState, HarvestClock
from orroom.case.terms import (
    DISCARD_REASONS,
    LANE_LETTERS,
    PLACES,
    PLACES_IN_A_WORD,
    Place,
    SetAsideCause,
    is_initials,
)
from orroom.figures.next_zone import sized
from orroom.figures.wording import several
from orroom.screens.stations.initials import person
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Option, Step, Words
from orroom.screens.terminal.hands import TapNoun
from orroom.screens.terminal.keys import Keys
from orroom.screens.terminal.painting import clipped

#: Who catches up enters this many in one go: more is a slip sooner than a tray. Common practice, no source.
MOST_AT_ONCE: Final = 200


def _size_options(state: CaseState, keys: Keys | None) -> tuple[Option, ...]:
    key_of = (keys or Keys.standard()).of_sizes()
    return tuple(Option(key_of[size.key], size.label, str(size.key)) for size in state.plan.sizes)


#: The keys of what is numbered, from 0. Lanes have their letters to themselves: they are in the same lists.
NUMBER_KEYS: Final = digits + "".join(each for each in ascii_lowercase if each not in LANE_LETTERS)


def numbered(labels: Iterable[tuple[str, object]]) -> tuple[Option, ...]:
    """Options in a row, each by its number."""
    return tuple(
        Option(key, label, value) for key, (label, value) in zip(NUMBER_KEYS[1:], labels, strict=False)
    )


def cut_several(state: CaseState, harvest: str, keys: Keys | None = None) -> Dialogue:
    """Grafts of one size that are cut already, entered in one go: how many, then their size."""
    count = yield Number(
        f"Cut from harvest {harvest}, how many of one size?",
        fault=_too_many_at_once,
        means="To catch up: one entry, undone as one.",
    )
    size = yield Choice(f"{count} of size", _size_options(state, keys))
    return c.CutGrafts(harvest=harvest, size=size, count=count)


def _too_many_at_once(count: int) -> str:
    if not 1 <= count <= MOST_AT_ONCE:
        return f"enter 1 to {MOST_AT_ONCE} in one go"
    return ""


def discard_while_cutting(state: CaseState, harvest: str, keys: Keys | None = None) -> Dialogue:
    """A graft spoilt on the board, never counted: the reason, then its size."""
    reason = yield Choice(
        "Spoilt while cutting:",
        numbered((each, each) for each in DISCARD_REASONS),
        means="A graft spoilt on the board before it was counted. One from a dish: discard it at placing.",
    )
    size = yield Choice("of size", _size_options(state, keys))
    return c.DiscardGrafts(size=size, reason=reason, harvest=harvest)


def discard_waiting(state: CaseState, size: str, count: int, lane: str | None = None) -> Dialogue:
    """Waiting grafts discarded: the reason."""
    reason = yield Choice(
        f"Discard {sized(count, size)}:",
        numbered((each, each) for each in DISCARD_REASONS),
        means="Grafts in a dish or with the placers are discarded.",
    )
    return c.DiscardGrafts(size=size, reason=reason, count=count, lane=lane)


def divide(state: CaseState, harvest: str, keys: Keys | None = None) -> Dialogue:
    """A graft out of its dish made into smaller ones: its size, then the pieces until no hair is left."""
    options = _size_options(state, keys)
    size = yield Choice(
        "Divide one graft of size",
        options,
        means="It leaves its dish; the pieces go into the dishes of their sizes.",
    )
    hairs = state.plan.size_by_key[size].hairs
    pieces: list[str] = []
    done = Option("enter", "done", None)
    while True:
        left = hairs - sum(state.plan.size_by_key[piece].hairs for piece in pieces)
        fitting = tuple(
            o for o in options if state.plan.size_by_key[str(o.value)].hairs <= left and o.value != size
        )
        if pieces and not fitting:
            break
        so_far = f" → {' + '.join(pieces)} +" if pieces else " →"
        answer = yield Choice(f"{size}{so_far}", (*fitting, done) if pieces else fitting)
        if answer is None:
            break
        pieces.append(answer)
    return c.DivideGrafts(size=size, into=tuple(pieces), harvest=harvest)


#: The keys of zones, in placing order; those of a plan with more are gone to by arrows.
ZONE_KEYS: Final = NUMBER_KEYS[1:21]


class GoToZone(c.Command, frozen=True, kw_only=True):
    """A zone that the cursor goes to."""

    zone: str


def go_to_zone(state: CaseState) -> Dialogue:
    """Which zone the cursor goes to, by its number in the grid."""
    zone = yield Choice(
        "Go to which zone?",
        numbered((zone.label, zone.key) for zone in state.plan.zones[: len(ZONE_KEYS)]),
        means="The cursor moves there; nothing is entered.",
    )
    return GoToZone(zone=zone)


def place_of_size(
    state: CaseState, zone: str, count: int, keys: Keys | None = None, lane: str | None = None
) -> Dialogue:
    """The typed number of which size into the zone."""
    label = state.plan.zone_by_key[zone].label
    size = yield Choice(f"Place {count} in {label}, of size", _size_options(state, keys), entry=True)
    if not (yield from meant_for(state, zone)):
        return None
    return c.PlaceGrafts(zone=zone, size=size, count=count, lane=lane)


def there(state: CaseState, command: c.PlaceGrafts | c.MakeSites) -> Dialogue:
    """The first grafts or sites of a zone that is not treated, once somebody is sure."""
    what = "sites" if isinstance(command, c.MakeSites) else "grafts"
    return command if (yield from meant_for(state, command.zone, what)) else None


def meant_for(state: CaseState, zone: str, what: str = "grafts") -> Generator[Step, Any, bool]:
    """Whether grafts or sites are really in a zone; asked once of a zone that is not treated."""
    if not asks_before(state, zone):
        return True
    label = state.plan.zone_by_key[zone].label
    options = (Option("y", "yes, enter it", True), Option("n", "no", False))
    return bool((yield Choice(f"{label} is not treated by the plan. Are the {what} there?", options)))


def asks_before(state: CaseState, zone: str) -> bool:
    """Whether a zone is not treated and still without grafts and sites: the first may be a slip."""
    placed = any(count for (where, _), count in state.tally.placed.items() if where == zone)
    return bool(state.plan.zone_by_key[zone].not_treated) and not placed and zone not in state.tally.sites


#: Makes a command of a number, and of what else it says.
Numbered = Callable[..., c.Command]


def how_many(ask: str, make: Numbered, **rest: str | None) -> Dialogue:
    """A number, for an action that was asked without one."""
    count = yield Number(ask)
    return make(count=count, **rest)


def harvest(state: CaseState) -> Dialogue:
    """Which harvest left the body, or is all out."""
    options: list[tuple[str, object]] = []
    for harvest in state.plan.harvests:
        clock = state.tally.harvests.get(harvest.key, HarvestClock())
        if clock.started_at_ms is None:
            options.append((f"harvest {harvest.key} starts", c.StartHarvest(harvest=harvest.key)))
        elif clock.ended_at_ms is None:
            options.append((f"harvest {harvest.key} is all out", c.EndHarvest(harvest=harvest.key)))
    answer = yield Choice(
        "Harvest:" if options else "All harvests are entered.",
        numbered(options),
        means="A harvest starts when its first tissue leaves the body: its time out counts from then. "
        "It is all out when nothing more of it will come.",
    )
    if isinstance(answer, c.EndHarvest):
        return answer
    minutes = yield Number("how many minutes ago did the first tissue come out? (0 = now)", "min")
    return c.StartHarvest(harvest=answer.harvest, minutes_ago=minutes)


def note() -> Dialogue:
    """A remark for the record."""
    text = yield Words(
        "Note (no names):", means="It is saved and shown in the summary; counts do not change."
    )
    return c.AddNote(text=text)


def count_dish(state: CaseState, harvests: Iterable[str], keys: Keys | None = None) -> Dialogue:
    """What a hand count of one size of one harvest found."""
    place: Place = yield Choice(
        "Counted by hand:",
        numbered((PLACES_IN_A_WORD[place], place) for place in PLACES),
        means="One size of one harvest, in dishes or with the placers. The tally is set to what you found; "
        "a difference is a mismatch until it is explained.",
    )
    size = yield Choice("of size", _size_options(state, keys))
    harvest = yield Choice("of harvest", numbered((harvest, harvest) for harvest in harvests))
    found = yield Number("grafts found", unhurried=True)
    return c.CountDish(size=size, harvest=harvest, place=place, found=found)


def finish_segment(harvest: str) -> Dialogue:
    """The segment on the board is finished: how long it was."""
    length = yield Number(
        "Length of the finished segment? (0 = not measured)",
        "mm",
        decimals=True,
        means="The lengths are used to forecast the rest of the strip.",
        unhurried=True,
    )
    return c.FinishSegment(harvest=harvest, length_mm=length or None)


def new_initials(who: str) -> Generator[Step, Any, str]:
    """The initials of the person who takes the station over."""
    ask = f"Who takes over from {who}? Initials:"
    while True:
        initials: str = yield Words(
            ask, capitals=True, means="From now on taps here are theirs.", unhurried=True
        )
        if is_initials(initials) and initials != who:
            return initials
        wrong = clipped(initials, 8)
        ask = f"{wrong}: use a capital and up to three capitals or digits, not your own. Initials:"


def hand_over(who: str) -> Dialogue:
    """Who takes the station over; the screen reads the new initials from the command's ``left``."""
    initials = yield from new_initials(who)
    return HandOverTo(left=who, initials=initials)


class HandOverTo(c.HandOver, frozen=True, kw_only=True):
    """A hand-over together with who comes."""

    initials: str


def set_aside(cause: SetAsideCause, keys: tuple[str, ...], noun: TapNoun) -> Dialogue:
    """Keys or clicks that no hand made: whether they count all the same."""
    options = (Option("y", "count", True), Option("n", "leave out", False))
    counted = yield Choice(f"Count {several(len(keys), noun)} set aside?", options, escape="leave out")
    return c.SetKeysAside(cause=cause, keys=keys, counted=counted)


def why_aside(cause: SetAsideCause, keys: tuple[str, ...], noun: TapNoun) -> str:
    """What keys or clicks were set aside, and why."""
    if cause == "held":
        return f'{len(keys)} × "{keys[0]}" came faster than a hand can press: a key held down?'
    which = f": {clipped(' '.join(keys), 60)}" if noun == "key" else ""
    return f"{several(len(keys), noun)} came faster than a hand can press{which}"


class RevisePlanBy(c.Command, frozen=True, kw_only=True):
    """Who decides that the plan is revised, and how."""

    who: str
    revise: c.RevisePlan


def accept_replan(state: CaseState, revise: c.RevisePlan) -> Dialogue:
    """Whether the plan is revised as proposed, and who decides that."""
    options = (Option("y", "accept", True), Option("n", "not yet", False))
    answer = yield Choice(
        "Accept? All stations go by it at once.",
        options,
        means="Cut and placed grafts stay; what is still owed changes.",
    )
    if not answer:
        return None
    who = yield from person(state, "Who decides?")
    return RevisePlanBy(who=who, revise=revise)


LEAVE: Final = Choice(
    "Leave this station? The case continues.", (Option("y", "leave", True), Option("n", "stay", False))
)


def leaving(ends: str | None = None) -> Choice:
    """What is asked of somebody who wants to leave; practice and drills ask it in words of their own."""
    return LEAVE if ends is None else replace(LEAVE, ask=ends)


def leave(asked: Choice = LEAVE) -> Dialogue:
    """Whether to leave this station."""
    answer = yield asked
    return c.LeaveStation() if answer else None
