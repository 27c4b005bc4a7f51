"""The prompts below a screen. What is overdue grows in size and in words, step by step, and never flashes."""

import re
from collections.abc import Iterator, Sequence
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from orroom.case.care import first_harvest_ms
from orroom.case.state import CaseState
from orroom.case.terms import PLACERS_CARE
from orroom.figures.case_times import case_times
from orroom.figures.prompts import Prompt, Step, prompts, urgent_first
from orroom.figures.wording import Times, clock_time, day, when_due
from orroom.screens.terminal.digits import ROWS, Scale, block_digits, in_capitals, largest_scale
from orroom.screens.terminal.painting import (
    BETWEEN,
    Line,
    Span,
    Tone,
    clipped,
    first_that_fits,
    line,
    padded,
    shortened,
    width_of,
    wrapped_buttons,
)

MARK: dict[Step, str] = {
    "resting": "‖",
    "paused": "‖",
    "waiting": "◷",
    "due": "◉",
    "overdue": "!",
    "long overdue": "!",
}
TONE: dict[Step, Tone] = {
    "resting": "dim",
    "waiting": "dim",
    "paused": "dim",
    "due": "notice",
    "overdue": "pressing",
    "long overdue": "pressing",
}
#: So much of a prompt's name is always shown.
LEAST_NAME = 8
#: From this width on there is room to say in words how many more there are.
ROOM_FOR_WORDS = 40
#: Rows for prompts that are not overdue, however much room there is.
CALM_ROWS = 2
#: What is due within minutes is marked, and not as grey as what is due later.
NEAR: Final[tuple[str, Tone]] = ("◕", "strong")
#: Words that large capitals have no room for.
ARTICLES: Final = re.compile(r"\b(the|a|an) ", re.IGNORECASE)
#: Of what Space does so many columns are shown on the key line at most.
SHORT_ACT: Final = 16
#: From this width and height on an overview hangs on a wall and is read from afar.
WALL = (120, 40)


class _Standing(Struct, frozen=True):
    """A prompt, how the case's times are written, and the key that answers it, if one does."""

    prompt: Prompt
    times: Times
    key: str = ""

    @property
    def late(self) -> bool:
        """Whether its grace is over."""
        return self.prompt.step in {"overdue", "long overdue"}

    @property
    def shown_key(self) -> str:
        """The key that answers it now, empty while it is not due."""
        return self.key if self.late or self.prompt.step == "due" else ""

    def span(self, room: int) -> Span:
        """The prompt as a button of at most ``room`` columns: fewer words, then fewer of its name's."""
        room -= 1 + (room > ROOM_FOR_WORDS)  # nothing touches the edge where there is room for words
        text = first_that_fits(self._texts(), room - self.late)
        return Span(f" {text}{' ' * self.late}", mark_of(self.prompt)[1], self.action)

    def _texts(self) -> Iterator[str]:
        short: Step = "overdue" if self.prompt.step == "long overdue" else self.prompt.step
        bare = replace(self.prompt, reading_remark=None)
        steps = ((self.prompt, self.prompt.step), (self.prompt, short), (bare, short))
        if self.shown_key:
            does = "to enter it" if self.prompt.takes_reading else "when done"
            yield from (f"{self._words(*each)} · {self.key} {does}" for each in steps)
            yield from (f"{self._words(*each)} · {self.key}" for each in steps)
            if bare.brief != bare.label:
                yield f"{self._words(replace(bare, label=bare.brief), short)} · {self.key}"
                yield self._words(replace(bare, label=bare.brief), short)
            for label in _shorter(bare.label):
                for each in (label, label.replace(" … ", "…")):
                    yield f"{self._words(replace(bare, label=each), short)} · {self.key}"
        yield from (self._words(*each) for each in steps[:2])
        yield from (
            self._words(replace(bare, label=each), short) for each in (bare.brief, *_shorter(bare.label))
        )

    def _words(self, prompt: Prompt, step: Step) -> str:
        return prompt_words(prompt, step, self.times)

    @property
    def action(self) -> str:
        return f"answer_prompt('{self.prompt.key}')"


def mark_of(prompt: Prompt) -> tuple[str, Tone]:
    """The mark of a prompt, and how it is painted."""
    return NEAR if prompt.near else (MARK[prompt.step], TONE[prompt.step])


def answer_words(state: CaseState, now_ms: int) -> str:
    """What the key that answers prompts does now: the one that it answers, or of how many it asks which."""
    found = urgent_first(prompts(state, now_ms))
    if not found:
        return "prompt done"
    first, due = found[0], sum(each.pressing for each in found)
    if not due:
        return "prompt done?"
    if due > 1:
        return f"done: which of {due}?"
    act = first_that_fits([first.label, first.brief, *_shorter(first.label)], SHORT_ACT)
    return act if first.takes_reading else f"done: {act}"


def _shorter(label: str) -> list[str]:
    """A name and ways to say it in fewer words, never in parts of one unless it is a single long word."""
    words = label.split()
    if len(words) == 1:
        return [label, shortened(label, LEAST_NAME)]
    return [
        label,
        *([f"{words[0]} … {words[-1]}"] * (len(words) > 2)),
        f"{words[0]} …",
        f"{words[0][:LEAST_NAME]}…",
    ]


def prompt_words(prompt: Prompt, step: Step, times: Times) -> str:
    """One prompt in words: ``◷ wet dishes in 9 min``, ``! WET DISHES · 25 MIN LATE, due at 10:31``."""
    mark = mark_of(prompt)[0] if step == "waiting" else MARK[step]
    label = prompt.label
    when = when_due(prompt.late_ms, seconds=prompt.care == PLACERS_CARE)
    remark = f" ({prompt.reading_remark})" if prompt.reading_remark else ""
    match step:
        case "resting":
            words = f"{label} is off: record of {day(prompt.silent_from_ms, times.offset_minutes)}"
        case "paused":
            words = f"{label} paused until {clock_time(prompt.paused_until_ms, times)}"
        case "waiting":
            words = f"{label} {when}"
        case "due":
            words = f"{label} DUE NOW"
        case "overdue":
            words = f"{label.upper()} · {when}"
        case _:
            words = f"{label.upper()} · {when.upper()}, due at {clock_time(prompt.due_at_ms, times)}"
    return f"{mark} {words}{remark}"


def prompt_lines(
    state: CaseState, now_ms: int, width: int, rows: int = 3, harvest: str = "h", answer: str = ""
) -> list[Line]:
    """The prompts, the most urgent first, in ``rows`` lines at most, and how many more there are.

    What is late has a line of its own, in capitals; once one is long overdue, all of them are one block.
    ``harvest`` is the key that enters one, ``answer`` the key that answers the first prompt.
    """
    found = _standing(state, now_ms, answer)
    if first_harvest_ms(state.tally) is None and not state.tally.signed_off:
        start = f"prompts start when the harvest is entered ({harvest})"
        if width < ROOM_FOR_WORDS:
            start = f"prompts start at harvest ({harvest})"
        hint = [line(Span(clipped(f" {start}", width), "dim"))] if rows > 1 or not _pressing(found) else []
        reminders = _shown(found, width, rows - len(hint)) if found and rows > len(hint) else []
        return [*reminders, *hint]
    if not found:
        what = "signed off" if state.tally.signed_off else "no prompts"
        return [line(Span(clipped(f" {what}", width), "dim"))]
    return _shown(found, width, rows)


def _pressing(found: Sequence[_Standing]) -> bool:
    """Whether one is due, the first if any."""
    return bool(found) and found[0].prompt.pressing


def _shown(found: Sequence[_Standing], width: int, rows: int) -> list[Line]:
    """One prompt or more, the most urgent first."""
    if found[0].prompt.step == "resting":  # and so are all others
        date = day(found[0].prompt.silent_from_ms, found[0].times.offset_minutes)
        words = [f" ‖ old record ({date}): prompts are off", f" ‖ record of {date}: no prompts"]
        return [line(Span(first_that_fits(words, width), "dim", "answer"))]
    late = [each for each in found if each.late]
    alone = late if len(late) == len(found) <= rows else late[: rows - 1]
    others = found[len(alone) :]
    block = any(each.prompt.step == "long overdue" for each in late)
    lines = [_row(each, width, block=block) for each in alone]
    return lines + _flowed(others, width, min(CALM_ROWS, rows - len(lines)))


def _standing(state: CaseState, now_ms: int, answer: str) -> list[_Standing]:
    """The prompts, the most urgent first: that one is what the key ``answer`` answers."""
    times = case_times(state)
    found = urgent_first(prompts(state, now_ms))
    return [_Standing(each, times, "" if number else answer) for number, each in enumerate(found)]


def _row(late: _Standing, width: int, *, block: bool) -> Line:
    """A late prompt on a line of its own, all of it a button; in a ``block`` the whole row is marked."""
    span = late.span(width)
    if block:
        return (replace(span, text=padded(span.text, width)),)
    return (span, Span(" " * (width - width_of((span,))), "plain", late.action))


def _flowed(found: Sequence[_Standing], width: int, rows: int) -> list[Line]:
    """Prompts next to each other; those that find no room are counted."""
    if not found:
        return []
    lines: list[Line] = []
    spans = [each.span(width) for each in found]
    for left_out in range(len(found)):
        words = f"and {left_out} more" if width >= ROOM_FOR_WORDS else f"+{left_out}"
        more = [Span(words, "dim")] if left_out else []
        shown = spans[: len(found) - left_out]
        if len(shown) == rows == 1 and more:  # the time at its end is not what gives way
            shown = [found[0].span(width - len(BETWEEN) - len(words))]
            if "…" in shown[0].text or found[0].shown_key not in shown[0].text:  # these words matter less
                more = [Span(f"+{left_out}", "dim")]
                shown = [found[0].span(width - len(BETWEEN) - len(more[0].text))]
        lines = wrapped_buttons([*shown, *more], width - (width > ROOM_FOR_WORDS), rows + 1)
        if len(lines) <= rows:
            break
    return lines[:rows]


def wall_prompt_lines(
    state: CaseState, now_ms: int, width: int, rows: int, harvest: str = "h", answer: str = ""
) -> list[Line]:
    """The prompts for a wall: what the most urgent late one asks for is read from afar, others below."""
    found = _standing(state, now_ms, answer)
    if not found or not found[0].late:
        return prompt_lines(state, now_ms, width, rows, harvest, answer)
    first, others = found[0], found[1:]
    lines = _large(first, width)
    late = [each for each in others if each.late]
    lines += [_row(each, width, block=True) for each in late[: rows - 1]]
    return lines + _flowed(others[len(late[: rows - 1]) :], width, 1)


def _large(late: _Standing, width: int) -> list[Line]:
    """What is to be done and how late it is, in large capitals; all of it in words below.

    What does not fit with its minutes is large alone. Where it is too long even so, or has no such letters,
    its words are above the minutes: no figure is without what it is a figure of.
    """
    minutes, words = when_due(late.prompt.late_ms).upper(), late.span(width).text
    label, brief = late.prompt.label, late.prompt.brief
    acts = [in_capitals(each) for each in (label, ARTICLES.sub("", label), ARTICLES.sub("", brief))]
    drawn = list(dict.fromkeys(each for each in acts if each is not None))
    for texts in ([f"{each} · {minutes}" for each in drawn], drawn):
        scaled = [(largest_scale([each], width - 4, ROWS), each) for each in texts]
        scale, large = max(scaled, key=lambda each: each[0].width, default=(Scale(0, 1), ""))
        if scale.width:
            rows = ["", *(f"  {row}" for row in block_digits(large, scale)), words]
            break
    else:
        scale = largest_scale([minutes], width - 4, ROWS)
        rows = [words, *(f"  {row}" for row in block_digits(minutes, scale)), ""]
    return [(Span(padded(row, width), "pressing", late.action),) for row in rows]
