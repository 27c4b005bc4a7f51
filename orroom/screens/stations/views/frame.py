"""What every screen shows around its own part: header, prompts, mismatches, question, message, key line."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from msgspec import Struct, field
from rich.cells import cell_len

from orroom.case.rules import Refusal
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.figures.case_times import case_times
from orroom.figures.holding import harvest_ages, harvests_unknown, oldest_out
from orroom.figures.wording import (
    clock_time,
    clock_time_with_seconds,
    harvests_listed,
    how_long,
    several,
    which_day,
)
from orroom.screens.stations.views.in_sight import lesson_lines, limit_lines, mismatch_lines
from orroom.screens.stations.views.past_prompts import past_prompt_lines
from orroom.screens.stations.views.prompting import WALL, answer_words, prompt_lines, wall_prompt_lines
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.digits import ROWS, block_digits, largest_scale
from orroom.screens.terminal.keys import Keys
from orroom.screens.terminal.layout import Block, Rank
from orroom.screens.terminal.painting import (
    MESSAGE_ROWS,
    Line,
    Span,
    Tone,
    beside,
    clipped,
    first_that_fits,
    line,
    message_rows,
    spread,
    width_of,
    wrapped,
    wrapped_buttons,
)
from orroom.screens.terminal.question_lines import QUESTION_ROWS, question_lines

if TYPE_CHECKING:
    from orroom.figures.pace.rest_of_day import Foretold


class Reading(Struct, frozen=True):
    """Pages over the screen: the help, or how its figures are worked out; the page from 0."""

    of: Literal["help", "figures"]
    page: int


class Glance(Struct):
    """What a screen shows that is not in the record: who sits there, what is being typed or asked."""

    role: Role
    who: str
    keys: Keys = field(default_factory=Keys.standard)
    harvest: str = "A"
    zone: int = 0
    size: int = 0
    #: The lane that entries are for: its letter, ``NO_LANE``, or empty while none is open.
    lane: str = ""
    #: By lane the keys of the zone and the size that the cursor is on, where they were chosen here.
    spots: dict[str, tuple[str, str]] = field(default_factory=dict)
    typed: str = ""
    question: Question | None = None
    #: Whether keys that were set aside count: asked before all else, and ``behind`` it this many taps wait.
    doubt: Question | None = None
    why_aside: str = ""
    behind: int = 0
    message: str = ""
    message_tone: Tone = "plain"
    #: What must be seen: it stays until the next key, whatever else there is to say meanwhile.
    notice: str = ""
    #: What the last message refused, and by which rule.
    refusal: Refusal | None = None
    flashed: str = ""
    waiting: int = 0
    trouble: str | None = None
    #: The first entry that is not to be trusted, as it was found once after opening.
    not_intact: int | None = None
    focused: bool = True
    reading: Reading | None = None
    #: While practising: what to do next; at a drill, that it is one.
    lesson: str = ""
    #: What was forecast last; worked out apart, since it takes longer than a repaint may.
    foretold: Foretold | None = None
    #: The page of an overview that does not fit on one, from 0.
    page: int = 0
    #: A screen as it was: its keys do nothing.
    replayed: bool = False
    past: bool = False  #: and not as it is now: nobody has to do what its prompts say
    width: int = 80
    height: int = 24

    @property
    def asked(self) -> bool:
        """Whether something is asked: then keys are shown for its answers alone."""
        return self.question is not None or self.doubt is not None


#: Grafts that are with placers in no lane, while lanes are open.
NO_LANE = "="
#: While the record takes nothing, and no tap waits for it yet.
NONE_KEPT = "TAPS CANNOT BE KEPT NOW"
#: The mark of taps that do not reach the record; no prompt has it.
NOT_KEPT = "■"
#: From this height on there is room to say large what keeps taps from the record.
ROOM_FOR_LARGE = 20

#: A narrower screen shows the time without its seconds, shorter words.
ROOM_FOR_SECONDS, ROOM_FOR_WORDS = 44, 60
#: From this width on placing has the case's code in its header, with fewer other words.
ROOM_FOR_CASE = 80

#: The most rows that prompts take: small screens have one, so that counts keep theirs.
SMALL_PROMPT_ROWS, PROMPT_ROWS, TALL_PROMPT_ROWS = 1, 3, 6
#: A wall has one large prompt, and one more for every so many rows more.
ROWS_A_LARGE_ONE = 20


def header_lines(state: CaseState, now_ms: int, glance: Glance, *middle: str) -> list[Line]:
    """Role and person, what matters most now, case and time; below it that the record is not intact, if so.

    ``middle`` are the words for what matters most, the fullest first: the first that fit are shown.
    """
    who = f"initials {glance.who}" if glance.width >= ROOM_FOR_WORDS and glance.who else glance.who
    left = line(" ", Span(f"{glance.role.upper()}", "strong"), f"  {who}")
    time = Span(_time_now(state, now_ms, glance.width), "strong")
    room = glance.width - width_of(left) - len(time.text) - 5
    said, beside = middle or out_words(state, now_ms), cell_len(state.plan.case) + 3
    kept = (
        beside
        if glance.role == "placing"
        and glance.width >= ROOM_FOR_CASE
        and any(cell_len(each) + beside <= room for each in said)
        else 0
    )
    found = first_that_fits(said, room - kept)
    case = f"{state.plan.case}   " if cell_len(found) + beside <= room else ""
    head = spread(left, line(case, time, " "), glance.width, line(Span(found, "strong")))
    return [head, *_not_intact_lines(state, glance), *lesson_lines(glance.lesson, glance.width)]


def _time_now(state: CaseState, now_ms: int, width: int) -> str:
    """The time; its seconds give way first, sooner where there is a day before it."""
    times = case_times(state)
    least = ROOM_FOR_WORDS if which_day(now_ms, times) else ROOM_FOR_SECONDS
    return (clock_time_with_seconds if width >= least else clock_time)(now_ms, times)


def _not_intact_lines(state: CaseState, glance: Glance) -> list[Line]:
    """From which entry on the record is not to be trusted: it says so itself, or it was found on opening."""
    said = [1 + (each.same or 0) for each in state.tally.differences.values()]
    found = [*said, *([] if glance.not_intact is None else [glance.not_intact])]
    if not found:
        return []
    where = f"NOT INTACT from entry {min(found):,} on"
    texts = [f" ≠ THE RECORD IS {where}: orroom verify", f" ≠ RECORD {where}", f" ≠ {where}"]
    return [line(Span(first_that_fits(texts, glance.width), "wrong"))]


def out_words(state: CaseState, now_ms: int) -> tuple[str, ...]:
    """How long the oldest graft has been out of the body, in words and in fewer of them."""
    ages = harvest_ages(state, now_ms)
    oldest, unknown = oldest_out(ages), harvests_unknown(ages)
    if oldest is None:
        if unknown:
            return (f"time out not known: {unknown.why}", unknown.brief, "out ?")
        return ("nothing is out of the body", "nothing is out", "none out")
    out = how_long(oldest.out_ms)
    if unknown:
        harvests = harvests_listed(unknown.harvests)
        return (
            f"oldest out {out}, {harvests} not known: {unknown.brief}",
            f"out {out}, {harvests} not known",
            f"out {out}",
        )
    return (f"oldest out {out}", f"out {out}", out)


def hidden_lines(glance: Glance, what: Sequence[str]) -> list[Line]:
    """What there is no room for, in a line; none while something is asked: its answers need the room."""
    if not what or glance.asked:
        return []
    texts = [f"{', '.join(what)} (make the window larger)", ", ".join(what)]
    left_out = [several(len(what) - kept, "other thing") for kept in range(len(what))]
    texts += [f"{', '.join(what[:kept])}, {left_out[kept]}" for kept in range(len(what) - 1, 0, -1)]
    return [line(Span(first_that_fits([f" hidden: {each}" for each in texts], glance.width - 1), "dim"))]


def below_blocks(
    state: CaseState, now_ms: int, glance: Glance, keys: int, mismatches: int = 1, turn: Sequence[Span] = ()
) -> list[Block]:
    """What is below on every screen: mismatches and limits, prompts, message, keys or the open question."""
    answerable = not (glance.replayed or state.tally.signed_off)
    key = glance.keys.shown(glance.role, "explain") if answerable else ""
    wrong = [*limit_lines(state, now_ms, glance.width, key), *mismatch_lines(state, glance.width, mismatches)]
    return [
        Block(wrong, Rank.MISMATCHES),
        Block(_prompts(state, now_ms, glance), Rank.PROMPTS),
        Block(message_lines(glance, state), Rank.MESSAGE),
        Block(key_lines(glance, keys, turn, answer_words(state, now_ms)), Rank.KEYS),
    ]


def _prompts(state: CaseState, now_ms: int, glance: Glance) -> list[Line]:
    """The prompts in as many rows as this screen has for them."""
    harvest = glance.keys.shown(glance.role, "harvest")
    if glance.past:
        rows = SMALL_PROMPT_ROWS if glance.height < ROOM_FOR_LARGE else PROMPT_ROWS
        return past_prompt_lines(state, now_ms, glance.width, rows)
    asked = glance.question is not None or glance.doubt is not None  # its answers are the only keys
    answer = "" if glance.replayed or asked else glance.keys.shown(glance.role, "answer")
    if glance.height < ROOM_FOR_LARGE:
        return prompt_lines(state, now_ms, glance.width, SMALL_PROMPT_ROWS, harvest, answer)
    if glance.height < WALL[1]:
        return prompt_lines(state, now_ms, glance.width, PROMPT_ROWS, harvest, answer)
    wall = glance.role == "overview" and glance.width >= WALL[0]
    if not wall:
        return prompt_lines(state, now_ms, glance.width, TALL_PROMPT_ROWS, harvest, answer)
    large = 1 + (glance.height - WALL[1]) // ROWS_A_LARGE_ONE
    return wall_prompt_lines(state, now_ms, glance.width, TALL_PROMPT_ROWS, harvest, answer, large)


def key_lines(glance: Glance, rows: int = 2, turn: Sequence[Span] = (), answers: str = "") -> list[Line]:
    """The keys that work now, each of them a button, in ``rows`` lines; or the question that is open.

    ``turn`` are buttons that come first; ``answers`` is which prompt is answered by a key. Where some keys
    find no room, the help is said to have all.

    A question takes as many lines as it needs, up to ``QUESTION_ROWS``, and leaves the message its own.
    """
    if glance.replayed:
        return []
    if (question := glance.doubt or glance.question) is not None:
        rows = min(QUESTION_ROWS, glance.height - MESSAGE_ROWS)
        return question_lines(question, glance.width, rows, helps=glance.doubt is None)
    return list(_keys_that_fit(glance.keys, glance.role, glance.width, rows, tuple(turn), answers))


@lru_cache(64)  # the same from tap to tap
def _keys_that_fit(
    keys: Keys, role: Role, width: int, rows: int, turn: Line, answers: str
) -> tuple[Line, ...]:
    words = {"answer": answers} if answers else {}
    buttons = [
        Span(f" {key.shown} {words.get(key.action, key.word)} ", "button", key.action)
        for key in keys.of(role)
        if key.on_key_line and key.action not in {"help", f"role('{role}')"}
    ]
    lines: list[Line] = []
    for left_out in range(len(buttons) + 1):
        # The way to the help is never left out, and says where some keys are there alone.
        helps = "all keys" if left_out else "help"
        way = Span(f" {keys.shown(role, 'help')} {helps} ", "button", "help")
        shown = [*turn, way, *buttons[: len(buttons) - left_out]]
        lines = wrapped_buttons(shown, width, rows + 1)
        if len(lines) <= rows:
            break
    return tuple(lines)


def message_lines(glance: Glance, state: CaseState) -> list[Line]:
    """What the last key did, or what is in the way of the record: that comes first.

    A refusal may take some lines; when there is nothing to say there is one empty line. What keeps taps from
    the record is large where there is room.
    """
    if glance.trouble and glance.height >= ROOM_FOR_LARGE:
        return _not_on_disk(glance)
    if glance.trouble or glance.waiting:
        why = f": {glance.trouble}" if glance.trouble else ""
        taps = f"{several(glance.waiting, 'tap')} NOT ON DISK YET" if glance.waiting else NONE_KEPT
        return message_rows(f"{NOT_KEPT} {taps}{why}", glance.width, "wrong")
    if not glance.focused:
        return _no_focus(glance)
    if glance.doubt is not None:
        behind = f" ({several(glance.behind, 'later tap waits', 'later taps wait')} for the answer)"
        wait = behind if glance.behind else ""
        return message_rows(f"? {glance.why_aside}{wait}", glance.width, "wrong")
    if glance.notice:
        return message_rows(f"✗ {glance.notice}", glance.width, "wrong")
    if state.tally.signed_off:
        words = "‖ signed off: locked until it is reopened."
        last_key = message_rows(glance.message, glance.width, glance.message_tone) if glance.message else []
        return [*message_rows(words, glance.width, "notice"), *last_key][:MESSAGE_ROWS]
    if glance.question is not None and glance.question.remark:
        return message_rows(f"✗ {glance.question.remark}", glance.width, "wrong")
    return message_rows(glance.message, glance.width, glance.message_tone)


def _not_on_disk(glance: Glance) -> list[Line]:
    """How many taps wait, in large digits, and why."""
    figure = str(glance.waiting)
    digits = block_digits(figure, largest_scale([figure], glance.width // 3, ROWS))
    left = max(len(row) for row in digits) + 4
    taps = f"TAP{'S' * (glance.waiting != 1)} NOT ON DISK YET" if glance.waiting else NONE_KEPT
    why = f"{(glance.trouble or '').rstrip('.')}.".replace("?.", "?")
    kept = "They are kept and" if glance.waiting else "Taps made now wait and are"
    words = wrapped(f"{why} {kept} tried again; count on paper too.", glance.width - left - 1)
    found = [f"{NOT_KEPT} {taps}", "", *words][:ROWS]
    return beside(
        ([line(Span(f"  {row}", "wrong")) for row in digits], left),
        ([line(Span(each, "wrong")) for each in found], glance.width - left),
    )


def _no_focus(glance: Glance) -> list[Line]:
    """That keys go to another window, across the whole screen."""
    text = f"{NOT_KEPT} NO FOCUS: KEYS GO TO ANOTHER WINDOW. CLICK HERE."
    found = line(Span(clipped(f"{text:^{glance.width}}", glance.width), "cursor"))
    if glance.height < ROOM_FOR_LARGE:
        return [found]
    empty = line(Span(" " * glance.width, "cursor"))
    return [empty, found, empty]
