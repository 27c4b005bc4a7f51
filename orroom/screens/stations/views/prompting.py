"""The prompts below a screen. What is late grows: a row of its own, on a wall large; it never flashes."""

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
    wrapped_buttons,
)

MARK: dict[Step, str] = {
    "resting": "‖",
    "paused": "‖",
    "waiting": "◷",
    "due": "◉",
    "late": "!",
}
TONE: dict[Step, Tone] = {
    "resting": "dim",
    "waiting": "dim",
    "paused": "dim",
    "due": "notice",
    "late": "pressing",
}
#: So much of a prompt's name is always shown.
LEAST_NAME = 8
#: From this width on there is room to say in words how many more there are.
ROOM_FOR_WORDS = 40
#: Rows for prompts that are not late, however much room there is.
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
        """Whether it has been due for longer than its first minute."""
        return self.prompt.step == "late"

    @property
    def shown_key(self) -> str:
        """The key that answers it now, empty while it is not due."""
        return self.key if self.prompt.pressing else ""

    def span(self, room: int) -> Span:
        """The prompt as a button of at most ``room`` columns: fewer words, then fewer of its name's."""
        room -= 1 + (room > ROOM_FOR_WORDS)  # nothing touches the edge where there is room for words
        text = first_that_fits(self._texts(), room - self.late)
        return Span(f" {text}{' ' * self.late}", mark_of(self.prompt)[1], self.action)

    def _texts(self) -> Iterator[str]:
        bare = replace(self.prompt, reading_remark=None)
        if self.shown_key:
            does = "to enter it" if self.prompt.takes_reading else "when done"
            yield from (f"{self._words(each)} · {self.key} {does}" for each in (self.prompt, bare))
            yield from (f"{self._words(each)} · {self.key}" for each in (self.prompt, bare))
            if bare.brief != bare.label:
                yield f"{self._words(replace(bare, label=bare.brief))} · {self.key}"
                yield self._words(replace(bare, label=bare.brief))
            for label in _shorter(bare.label):
                for each in (label, label.replace(" … ", "…")):
                    yield f"{self._words(replace(bare, label=each))} · {self.key}"
        yield self._words(self.prompt)
        yield from (self._words(replace(bare, label=each)) for each in (bare.brief, *_shorter(bare.label)))

    def _words(self, prompt: Prompt) -> str:
        return prompt_words(prompt, self.times)

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
    if ARTICLES.match(
        f"{words[1]} "
    ):  # change the holding solution: what it is about says more than the verb
        ways = [f"{words[0]} {words[-1]}", words[-1]]
    else:
        ways = [f"{words[0]} … {words[-1]}"] * (len(words) > 2)
    return [
        label,
        *ways,
        f"{words[0]} …",
        f"{words[0][:LEAST_NAME]}…",
    ]


def prompt_words(prompt: Prompt, times: Times) -> str:
    """One prompt in words: ``◷ wet the dishes in 9 min``, ``! WET THE DISHES · 25 min late``.

    Late are whole minutes, without a time of day: the two would differ by the seconds that no clock shows.
    """
    mark, label = mark_of(prompt)[0], prompt.label
    remark = f" ({prompt.reading_remark})" if prompt.reading_remark else ""
    match prompt.step:
        case "resting":
            words = f"{label} is off: record of {day(prompt.silent_from_ms, times.offset_minutes)}"
        case "paused":
            words = f"{label} paused until {clock_time(prompt.paused_until_ms, times)}"
        case "waiting":
            words = f"{label} {when_due(prompt.late_ms, seconds=prompt.care == PLACERS_CARE)}"
        case "due":
            words = f"{label} DUE NOW"
        case "late":
            words = f"{label.upper()} · {when_due(prompt.late_ms)}"
    return f"{mark} {words}{remark}"


def prompt_lines(
    state: CaseState, now_ms: int, width: int, rows: int = 3, harvest: str = "h", answer: str = ""
) -> list[Line]:
    """The prompts, the most urgent first, in ``rows`` lines at most, and how many more there are.

    What is late has a line of its own, in capitals; all of it is one block.
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
    lines = [_row(each, width) for each in alone]
    return lines + _flowed(others, width, min(CALM_ROWS, rows - len(lines)))


def _standing(state: CaseState, now_ms: int, answer: str) -> list[_Standing]:
    """The prompts, the most urgent first: that one is what the key ``answer`` answers."""
    times = case_times(state)
    found = urgent_first(prompts(state, now_ms))
    return [_Standing(each, times, "" if number else answer) for number, each in enumerate(found)]


def _row(late: _Standing, width: int) -> Line:
    """A late prompt on a line of its own, all of it a button and marked."""
    span = late.span(width)
    return (replace(span, text=padded(span.text, width)),)


def _more(hidden: Sequence[_Standing]) -> list[Span]:
    """How many find no room, how many of them are late, or else due; in fewer words; nothing if all do."""
    if not hidden:
        return []
    count, late = len(hidden), sum(each.late for each in hidden)
    pressing, how = (late, "late") if late else (sum(each.prompt.pressing for each in hidden), "due")
    if not pressing:
        return [Span(f"and {count} more", "dim"), Span(f"+{count}", "dim")]
    words = f"and {count} more {how}" if pressing == count else f"and {count} more, {pressing} {how}"
    return [Span(words, "notice"), Span(f"+{pressing} {how}", "notice"), Span(f"+{count}", "dim")]


def _flowed(found: Sequence[_Standing], width: int, rows: int) -> list[Line]:
    """Prompts next to each other; those that find no room are counted."""
    if not found:
        return []
    lines: list[Line] = []
    for left_out in range(len(found)):
        shown = [each.span(width) for each in found[: len(found) - left_out]]
        more = _more(found[len(found) - left_out :])[width < ROOM_FOR_WORDS :]
        for words in more if len(shown) == rows == 1 else ():
            shown = [found[0].span(width - len(BETWEEN) - len(words.text))]
            more = [words]
            if "…" not in shown[0].text and found[0].shown_key in shown[0].text:
                break  # else its time and its key are not what gives way
        lines = wrapped_buttons([*shown, *more[:1]], width - (width > ROOM_FOR_WORDS), rows + 1)
        if len(lines) <= rows:
            break
    return lines[:rows]


def wall_prompt_lines(
    state: CaseState, now_ms: int, width: int, rows: int, harvest: str = "h", answer: str = "", large: int = 1
) -> list[Line]:
    """The prompts for a wall: the latest, as many as ``large``, are read from afar; the others below."""
    found = _standing(state, now_ms, answer)
    if not found or not found[0].late:
        return prompt_lines(state, now_ms, width, rows, harvest, answer)
    late = [each for each in found if each.late]
    lines = _large(late[:large], width)
    small = late[large:][: rows - 1]
    lines += [_row(each, width) for each in small]
    return lines + _flowed(found[len(late[:large]) + len(small) :], width, 1)


def _large(late: Sequence[_Standing], width: int) -> list[Line]:
    """What is to be done and how late it is, in large capitals of one size; all of it in words below each.

    What does not fit with its minutes is large alone. Where it is too long even so, or has no such letters,
    its words are above the minutes: no figure is without what it is a figure of.
    """
    for with_minutes in (True, False):
        best = [_largest(each, width, with_minutes=with_minutes) for each in late]
        scale = min((scale for scale, _ in best), key=lambda each: each.width)
        if scale.width:
            texts = [text for _, text in best]
            return [row for each in zip(late, texts, strict=True) for row in _drawn(*each, scale, width)]
    minutes = [when_due(each.prompt.late_ms).upper() for each in late]
    scale = largest_scale([max(minutes, key=len)], width - 4, ROWS)
    drawn = (_drawn(*each, scale, width, above=True) for each in zip(late, minutes, strict=True))
    return [row for rows in drawn for row in rows]


def _largest(late: _Standing, width: int, *, with_minutes: bool) -> tuple[Scale, str]:
    """The largest scale for what is to be done, in all its words or in fewer, and those words."""
    minutes = f" · {when_due(late.prompt.late_ms).upper()}" if with_minutes else ""
    label, brief = late.prompt.label, late.prompt.brief
    acts = [in_capitals(each) for each in (label, ARTICLES.sub("", label), ARTICLES.sub("", brief))]
    drawn = list(dict.fromkeys(f"{each}{minutes}" for each in acts if each is not None))
    scaled = [(largest_scale([each], width - 4, ROWS), each) for each in drawn]
    return max(scaled, key=lambda each: each[0].width, default=(Scale(0, 1), ""))


def _drawn(late: _Standing, text: str, scale: Scale, width: int, *, above: bool = False) -> list[Line]:
    """One large row of text, its words below it, or ``above``; all of it a button."""
    large, words = [f"  {row}" for row in block_digits(text, scale)], late.span(width).text
    rows = [words, *large, ""] if above else ["", *large, words]
    return [(Span(padded(row, width), "pressing", late.action),) for row in rows]
