"""The open question: what is asked, its answers as buttons or what is being typed, and Esc; its help."""

from collections.abc import Sequence

from msgspec.structs import replace
from rich.cells import chop_cells

from orroom.case.terms import MAX_TEXT
from orroom.screens.terminal.asking import Choice, Number, Option, Question, Step, Words
from orroom.screens.terminal.keys import shown_key
from orroom.screens.terminal.painting import (
    Line,
    Span,
    beside_name,
    clipped,
    letter_lines,
    line,
    width_of,
    wrapped,
    wrapped_buttons,
)

QUESTION_ROWS = 10
#: Where a question's answers do not fit, their labels are cut to these columns, step by step.
SHORTER_LABELS = (12, 8, 4, 1)


def question_lines(
    question: Question, width: int, rows: int = QUESTION_ROWS, *, helps: bool = True
) -> list[Line]:
    """A question with its answers, or what is typed, in at most ``rows`` lines; F1 too if it ``helps``."""
    step = question.step
    if step is None:
        return []
    ask = [
        Span(f" {' ' if row else '▸'} {text} ", "strong")
        for row, text in enumerate(wrapped(step.ask, width - 4))
    ]
    if isinstance(step, Choice):
        return _choice_lines(step, ask, width, rows, helps=helps)
    return _typed_lines(step, question.typed, ask, width, rows, helps=helps)


def _and_help(buttons: list[Span], width: int, rows: int, *, helps: bool) -> list[Line]:
    """Buttons, and behind them the way to the help if that takes no line more."""
    lines = wrapped_buttons(buttons, width, rows)
    for words in ("F1 help", "F1") if helps else ():
        more = wrapped_buttons([*buttons, Span(f" {words} ", "button", "press('f1')")], width, rows)
        if len(more) == len(lines):
            return more
    return lines


def asked_blocks(question: Question, width: int) -> list[list[Line]]:
    """For the help: what is asked and meant, what is typed so far, every key that answers, all of it whole.

    An answer is a button; Enter is none, nor Esc, which closes the help first.
    """
    step = question.step
    if step is None:
        return []
    found = [line(Span(f" {row}", "strong")) for row in wrapped(f"▸ {step.ask}", width - 2)]
    found += [line(f" {row}") for row in wrapped(step.means, width - 2)]
    if question.typed:
        found += [line(" ", Span(row, "cursor")) for row in wrapped(f"typed: {question.typed}▌", width - 2)]
    if question.remark:
        found += [line(Span(f" {row}", "wrong")) for row in wrapped(f"✗ {question.remark}", width - 2)]
    return [found, *(beside_name(name, text, width) for name, text in _answers(step))]


def _answers(step: Step) -> list[tuple[Span, str]]:
    """Every key that answers a step, and what it does."""
    escape = step.escape if isinstance(step, Choice) else "back"
    if isinstance(step, Choice):
        found = [
            (Span(f" {shown_key(each.key):>6} ", "button", f"press('{each.key}')"), each.label)
            for each in step.options
            if each.label
        ]
        bare = " ".join(shown_key(each.key) for each in step.options if not each.label)
        found += [(Span("    any "), f"of {bare}")] if bare else []
    else:
        found = [
            (Span("   type "), _typed_words(step)),
            (Span("      ⌫ "), "deletes the last character"),
            (Span("  Enter "), "takes what is typed"),
        ]
    found.append((Span("    Esc "), f"closes this page; again:  {escape}"))
    return [(replace(name, text=f"{name.text} "), text) for name, text in found]


def _typed_words(step: Number | Words) -> str:
    """What may be typed."""
    if isinstance(step, Words):
        return "initials: capitals and digits" if step.capitals else f"a text of up to {MAX_TEXT} characters"
    unit = f", in {step.unit}" if step.unit else ""
    return f"a number{', also with a point' if step.decimals else ''}{unit}"


def _choice_lines(step: Choice, ask: Sequence[Span], width: int, rows: int, *, helps: bool) -> list[Line]:
    """Every answer with its key, the labels as long as there is room for, and Esc."""
    escape = Span(f" Esc {step.escape} ", "button", "press('escape')")
    lines: list[Line] = []
    for room in (width - 12, *SHORTER_LABELS):
        answers = [
            Span(f" {_answer(each, room)} ", "button", f"press('{each.key}')") for each in step.options
        ]
        buttons = _and_help([ask[-1], *answers, escape], width, len(answers) + 2, helps=helps)
        lines = [*map(line, ask[:-1]), *buttons]
        if len(lines) <= rows:
            break
    return lines


def _answer(option: Option, room: int) -> str:
    """A key and its words; a digit is set apart, so that it does not read as a number of what follows."""
    apart = ":" if option.key.isdigit() and option.label else ""
    return f"{shown_key(option.key)}{apart} {clipped(option.label, room)}"


def _typed_lines(
    step: Number | Words, typed: str, ask: Sequence[Span], width: int, rows: int, *, helps: bool
) -> list[Line]:
    """What is typed behind the question if it fits there, else below it: its end, if not all of it fits."""
    digits = ""
    if isinstance(step, Number):
        digits = "0123456789." if step.decimals else "0123456789"
    pressed = [Span(f" {digit} ", "button", f"press('{digit}')") for digit in digits]
    others = [
        Span(" ⌫ ", "button", "press('backspace')"),
        Span(" Enter ", "button", "press('enter')"),
        Span(" Esc back ", "button", "press('escape')"),
    ]
    letters = letter_lines(width, "press") if isinstance(step, Words) and step.capitals else []
    keys = [*letters, *_and_help([*pressed, *others], width, rows, helps=helps)]
    if len(ask) + 1 + len(keys) > rows:  # the keyboard has them too
        keys = _and_help(others, width, rows, helps=helps)
    unit = f" {step.unit}" if isinstance(step, Number) and step.unit else ""
    behind = line(ask[-1], Span(f"{typed}▌", "cursor"), unit)
    if width_of(behind) <= width:
        return [*map(line, ask[:-1]), behind, *keys]
    whole = chop_cells(f"{typed}▌", width - 4)
    shown = whole[-max(1, rows - len(ask) - len(keys)) :]
    marks = ["…" if len(shown) < len(whole) else " ", *" " * (len(shown) - 1)]
    below = [line(f" {mark} ", Span(row, "cursor")) for mark, row in zip(marks, shown, strict=True)]
    below[-1] += line(unit)
    return [*map(line, ask), *below, *keys]
