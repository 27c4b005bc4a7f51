"""A drill's score, from its sheet and its record alone: slips, where they are, pace, answers to prompts."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final, Literal

from msgspec import Struct

from orroom.case import events as e
from orroom.case.care import due_at_ms
from orroom.case.state import CaseState
from orroom.drill.alignment import Pair, aligned, reached
from orroom.drill.entered import Entered, entered, set_right
from orroom.drill.sheet import Item, Kind, Sheet, differing
from orroom.drill.times import Typical, typical
from orroom.figures.shares import Proportion, proportion

#: The drill's one round of care.
CARE: Final = "wet"
#: From so many lines missing at the end on, a drill was left before its end. Common practice, no source.
LEFT_BEFORE_END: Final = 3
#: So many lines before it are looked through for what was entered twice: a new reader repeats two.
REPEATED: Final = 2

SlipKind = Literal["missed", "doubled", "added", "wrong", "not set right"]
#: How each kind of slip is called, and which kinds count together.
ROWS: Final[dict[str, tuple[SlipKind, ...]]] = {
    "missed": ("missed",),
    "doubled": ("doubled", "added"),
    "wrong": ("wrong", "not set right"),
}


class Slip(Struct, frozen=True):
    """One thing that is not as asked: at which line of the sheet, from 1, and by which entry of the record.

    What was ``doubled`` or ``added`` came after that line. Something ``wrong`` differs in these fields.
    """

    kind: SlipKind
    line: int
    asked: Item | None = None
    entered: Item | None = None
    entry: int | None = None
    differs: tuple[str, ...] = ()


class Score(Struct, frozen=True):
    """How a drill went.

    ``asked`` is how many items its sheet asks, up to the line after which it was ``left`` (``None``: all of
    them). ``set_right`` is how many slips were undone, cancelled or moved without being asked. ``wait`` is
    the time from one item to the next, ``answer`` from when a prompt is due until its answer, in seconds;
    ``unanswered`` prompts were due when the last item was entered.
    """

    kind: Kind
    level: int
    seed: int
    asked: int
    slips: tuple[Slip, ...]
    set_right: int
    wait: Typical | None
    answer: Typical | None
    unanswered: int
    left: int | None = None

    @property
    def as_read(self) -> int:
        """How much of what was asked was entered as it was read."""
        return self.asked - sum(
            each.asked is not None and each.kind in ("missed", "wrong", "not set right")
            for each in self.slips
        )

    def share(self, *kinds: SlipKind) -> Proportion | None:
        """Of what was asked, how many have a slip of these kinds."""
        return proportion(sum(each.kind in kinds for each in self.slips), self.asked)


def score(sheet: Sheet, state: CaseState) -> Score:
    """The score of a sheet that was entered in this record."""
    whole, found = sheet.asked(), entered(state, sheet.kind)
    left = _left_after(whole, found)
    asked = whole if left is None else tuple(each for each in whole if each[0] <= left)
    items = [item for _, item in asked]
    pairs = aligned(items, [each.item for each in found], lambda one, other: len(differing(one, other)))
    answers, unanswered = _answers(state, found)
    slips = tuple(_slips(sheet, asked, found, pairs))
    built_in = sum(left is None or line < left for line, _ in sheet.struck())
    built_in -= sum(each.kind == "not set right" for each in slips)
    return Score(
        kind=sheet.kind,
        level=sheet.level,
        seed=sheet.seed,
        asked=len(asked),
        slips=slips,
        set_right=max(0, set_right(state) - built_in),
        wait=typical(list(_waits(sheet, state, asked, found, pairs))),
        answer=typical(answers),
        unanswered=unanswered,
        left=left,
    )


def _left_after(asked: Sequence[tuple[int, Item]], found: Sequence[Entered]) -> int | None:
    """The line after which nothing was entered any more, where that is well before the end of the sheet."""
    gone_through = reached([item for _, item in asked], [each.item for each in found])
    last = max((line for line, _ in asked[:gone_through]), default=0)
    return last if len({line for line, _ in asked if line > last}) >= LEFT_BEFORE_END else None


def _slips(
    sheet: Sheet, asked: Sequence[tuple[int, Item]], found: Sequence[Entered], pairs: Sequence[Pair]
) -> Iterator[Slip]:
    struck = dict(sheet.struck())
    place = 0  # how many of the asked items come before
    for pair in pairs:
        line = asked[max(0, place - 1)][0] if asked else 0
        if pair.asked is None:
            if pair.entered is not None:
                yield _added(struck, asked, place, line, found[pair.entered])
            continue
        place += 1
        line, item = asked[pair.asked]
        if pair.entered is None:
            yield Slip("missed", line, item)
        elif (got := found[pair.entered]).item != item:
            left = struck.get(line - 1) == got.item
            kind: SlipKind = "not set right" if left else "wrong"
            yield Slip(kind, line, item, got.item, got.seq, differing(item, got.item))


def _added(
    struck: dict[int, Item], asked: Sequence[tuple[int, Item]], place: int, line: int, more: Entered
) -> Slip:
    """What was entered and not asked: left though it was to be undone, entered twice, or neither."""
    until = asked[place][0] if place < len(asked) else line + 3
    for number in range(line, until):
        if struck.get(number) == more.item:
            return Slip("not set right", number + 1, entered=more.item, entry=more.seq)
    near = [*reversed(asked[max(0, place - REPEATED) : place]), *asked[place : place + 1]]
    for number, item in near:
        if item == more.item:
            return Slip("doubled", number, item, more.item, more.seq)
    return Slip("added", line, entered=more.item, entry=more.seq)


def _waits(
    sheet: Sheet,
    state: CaseState,
    asked: Sequence[tuple[int, Item]],
    found: Sequence[Entered],
    pairs: Sequence[Pair],
) -> Iterator[float]:
    """Seconds from one item to the next; of a count, for each item its part of the time that it took.

    Left out: the wait while readers change, and while nobody sat at the station.
    """
    if sheet.kind == "count":
        yield from _counting(state)
        return
    changes = [line for line, each in enumerate(sheet.lines, 1) if each.fault == "new reader"]
    line_of = {each.entered: asked[each.asked][0] for each in pairs if None not in each}  # type: ignore[index]  # not None
    joined = [each.stamp.at_ms for each in state.log if isinstance(each.event, e.StationJoined)]
    for number, (one, other) in enumerate(pairwise(found)):
        before, after = line_of.get(number), line_of.get(number + 1)
        changed = before and after and any(before < each < after for each in changes)
        again = any(one.at_ms < each <= other.at_ms for each in joined)
        if not (changed or again) and one.seq != other.seq:
            yield (other.at_ms - one.at_ms) / 1000


def _counting(state: CaseState) -> Iterator[float]:
    begun: dict[str, int] = {}
    for entry in state.standing():
        match entry.event:
            case e.FinalCountBegun():
                begun[entry.stamp.who] = entry.stamp.at_ms
            case e.FinalCounted(groups=groups) if entry.stamp.who in begun and groups:
                yield (entry.stamp.at_ms - begun[entry.stamp.who]) / 1000 / len(groups)


def _answers(state: CaseState, found: Sequence[Entered]) -> tuple[list[float], int]:
    """How long each prompt waited for its answer, in seconds; how many waited at the last item."""
    given = [each for each in state.standing() if isinstance(each.event, e.CareGiven)]
    waited = [
        (each.stamp.at_ms - each.event.due_at_ms) / 1000
        for each in given
        if isinstance(each.event, e.CareGiven)
        and each.event.due_at_ms is not None
        and each.event.due_at_ms <= each.stamp.at_ms
    ]
    due = due_at_ms(state.tally, CARE)
    last = max((each.at_ms for each in found), default=0)
    return waited, int(due is not None and due < last)
