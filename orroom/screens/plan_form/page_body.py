"""The pages of the form for a plan: tables of fields, remarks, problems; its help."""

from collections.abc import Sequence
from typing import Final

from rich.cells import cell_len

from orroom.case.plan import Plan
from orroom.figures.wording import decimal, several
from orroom.files.plan_draft import default_text, text_at
from orroom.files.plan_fields import PAGES, Field, Row, zone_names
from orroom.files.right_words import right_value
from orroom.screens.plan_form.form import PROBLEMS, Form
from orroom.screens.plan_form.naming import problem_in_words, why_wrong
from orroom.screens.terminal.pages import Block
from orroom.screens.terminal.painting import (
    Line,
    Span,
    Tone,
    beside_name,
    clipped,
    first_that_fits,
    line,
    padded,
    wrapped,
)
from orroom.screens.terminal.question_lines import asked_blocks

MOST_CELL: Final = 18

_HELP: Final = (
    ("arrows", "move; a click does too"),
    ("typing", "writes into the field; Enter keeps it, Esc restores the field"),
    ("Enter", "type in the field with what is in it, or show its choices"),
    ("Tab", "next page (also Page Down); Shift+Tab or Page Up: previous page"),
    ("letters", "are typed into a field of words; there, press Esc before a key below"),
    ("s", "save the plan; only a plan without problems can be saved"),
    ("o", "save the plan and open its case, when the form was opened from the start screen"),
    ("n", "add a row (also Insert)"),
    ("x", "remove the row, after a question; a field in no list is emptied (also Delete)"),
    ("u", "undo the last change"),
    ("p", "every problem; Enter there goes to its field"),
    ("r", "remarks on the plan; none blocks saving"),
    ("Esc", "leave; an unfinished plan can be kept as a draft"),
    ("lists", "neighbours, allowed sizes and readings are separated by spaces: HL FC"),
    ("corners", "an outline's corners are x,y in cm, separated by spaces:  0,0 2,0.5 2.5,3"),
    ("shares", "are fractions of 1: 0.2 is a fifth"),
    (
        "480/484",
        "grafts planned, and the expected yield of the donor; ▲ more is planned than that, or may be",
    ),
    ("✗", "a problem; put the cursor there to read it below the fields"),
    ("(30)", "the default if the field is empty; = worked out from others"),
)


def page_body(form: Form, width: int, rows: int) -> list[Line]:
    """What a page shows, in at most this many lines."""
    if form.own_page is not None:
        return _table(form, width, rows)
    if form.page == PROBLEMS:
        return _problems(form, width, rows)
    found = advice_lines(form, width)
    start = min(form.row, max(0, len(found) - rows))
    shown = found[start : start + rows]
    if start + rows < len(found) and shown:
        more = several(len(found) - start - rows + 1, "more line")
        words = first_that_fits((f" {more}: ↓ or click here", f" {more} ↓"), width)
        shown[-1] = line(Span(words, "dim", "further(1)"))
    return shown


def _table(form: Form, width: int, room: int) -> list[Line]:
    """The rows of a page that there is room for, around the cursor; the left column always stays."""
    page = PAGES[form.page]
    rows, heads = form.rows, page.heads(form.draft)
    if not rows:
        return [
            line(
                Span(first_that_fits((" nothing here yet; ", " none yet; "), width - 14), "dim"),
                Span(" n add a row ", "button", "press('f7')"),
            ),
        ]
    texts = [
        [_cell(form, field, number, place) for place, field in enumerate(row.cells)]
        for number, row in enumerate(rows)
    ]
    single = page.rows_of is None or len(heads) == 1
    labels, most_label = [row.label for row in rows], width // 2 if single else width // 4
    if named := _with_names(form, rows):
        room_for_names = width - sum(_widths(heads, texts, width)) - len(heads) - 6
        if max(map(cell_len, named)) <= room_for_names:
            labels, most_label = named, room_for_names
    left = _left(labels, most_label)
    widths = [width - left - 2 if single else needed for needed in _widths(heads, texts, width)]
    shown = _columns_shown(widths, form.column, width - left - 2)
    if shown[0] > 0:  # the column that says whose row it is has gone
        labels = [form.named(row) for row in rows]
        left = _left(labels, most_label)
        shown = _columns_shown(widths, form.column, width - left - 2)
    wrong = {each.field.loc for each in form.known.wrongs if each.field is not None}
    bad = {
        (number, place)
        for number, row in enumerate(rows)
        for place, field in enumerate(row.cells)
        if field is not None and field.loc in wrong
    }
    lines: list[Line] = []
    if any(heads):
        more = "‹" if shown[0] else " "
        names = " ".join(padded(clipped(heads[place], widths[place]), widths[place]) for place in shown)
        more_right = " ›" if shown[-1] + 1 < len(heads) else ""
        lines.append(line(Span(f"{more}{' ' * (left - 1)}{names}{more_right}", "dim")))
    under = max(1, room - len(lines))
    found = under > 1 and len(rows) > under
    under -= found
    start = max(0, min(form.row - under // 2, len(rows) - under))
    labels = [padded(clipped(label, left - 4), left - 4) for label in labels]
    there = range(start, min(len(rows), start + under))
    spare = under - len(there)
    for each in there:
        lines.append(_row_line(form, labels[each], each, texts[each], widths, shown, bad))
        why = _why_lines(form, each, width)[:spare]
        lines += why
        spare -= len(why)
    where = f" {there.start + 1}–{there.stop} of {len(rows)} (↑ ↓)"
    return [*lines, line(Span(where, "dim"))] if found else lines


def _widths(heads: Sequence[str], texts: Sequence[Sequence[tuple[str, Tone]]], width: int) -> list[int]:
    """What each column needs."""
    return [
        min(MOST_CELL, width // 2, max(3, cell_len(head), *(cell_len(text[place][0]) for text in texts)))
        for place, head in enumerate(heads)
    ]


def _with_names(form: Form, rows: Sequence[Row]) -> list[str]:
    """The keys of zones with their names, on the pages where a row has its zone's key alone."""
    names = zone_names(form.draft)
    if form.rows_of != "zones" or any(row.label == f"{(row.entry or 0) + 1}" for row in rows):
        return []
    return [f"{row.label} {names.get(row.entry or 0, '')}".rstrip() for row in rows]


def _why_lines(form: Form, row: int, width: int) -> list[Line]:
    """Under a row that has been left, what is wrong with what was filled in there."""
    if row == form.row:
        return []
    cells = [each for each in form.rows[row].cells if each is not None]
    found = [
        f"✗ {each.name}: {why}" for each in cells if (why := why_wrong(form.draft, form.known.wrongs, each))
    ]
    return [line(Span(f"   {each}", "wrong")) for words in found for each in wrapped(words, width - 4)]


def _left(labels: Sequence[str], most: int) -> int:
    """How wide what stands at the left of the rows is, with the mark of the cursor's row."""
    return min(max(map(cell_len, labels)), most) + 4


def _columns_shown(widths: Sequence[int], column: int, room: int) -> list[int]:
    """The columns that there is room for, so that the cursor's is among them."""
    start = 0
    while start < column and sum(widths[start : column + 1]) + column - start > room:
        start += 1
    shown = [start]
    for place in range(start + 1, len(widths)):
        if sum(widths[start : place + 1]) + place - start > room:
            break
        shown.append(place)
    return shown


def _row_line(
    form: Form,
    label: str,
    number: int,
    texts: Sequence[tuple[str, Tone]],
    widths: Sequence[int],
    shown: Sequence[int],
    bad: set[tuple[int, int]],
) -> Line:
    here, cells = number == form.row, form.rows[number].cells
    spans = [Span(f" {label} ", "strong" if here else "dim"), Span("▸ " if here else "  ", "strong")]
    for place in shown:
        text, tone = texts[place]
        if (number, place) in bad:
            text, tone = f"✗{text}", "wrong"
        if here and place == form.column:
            tone = "cursor"
        action = f"field({number},{place})" if cells[place] is not None else ""
        spans += [Span(padded(clipped(text, widths[place]), widths[place]), tone, action), Span(" ")]
    return tuple(spans)


def _cell(form: Form, field: Field | None, row: int, column: int) -> tuple[str, Tone]:
    """What a cell shows: its value, or dim what goes if it is left empty."""
    if field is None:
        return "", "dim"
    measure = f"{field.name} " if "shape" in field.loc and field.loc[-1] != "kind" else ""
    typed = form.typed if (row, column) == (form.row, form.column) else None
    text = text_at(form.draft, field) if typed is None else f"{typed.text}▌"
    if text:
        return f"{measure}{text}", "plain"
    if field.loc[-1] == "area_cm2" and (zone := form.known.outlook.zones.get(int(field.loc[1]))) is not None:
        return f"={decimal(zone.area_cm2, 2)}", "dim"
    default = default_text(field)
    return (f"{measure}({default})" if default else f"{measure}·"), "dim"


# The pages behind.


def _problems(form: Form, width: int, room: int) -> list[Line]:
    """Every problem, each with the way to its field; the one under the cursor is among them."""
    if not form.known.wrongs:
        refused = form.known.refused
        found = f"✗ {refused}" if refused else "● No problems: s saves the plan."
        return [line(Span(f" {row}", "wrong" if refused else "done")) for row in wrapped(found, width - 2)]
    at = min(form.row, len(form.known.wrongs) - 1)
    blocks = [
        [
            Span(
                f"{'▸' if number == at and not row else ' '}{' ' if row else '✗'} {text}",
                "cursor" if number == at else "plain",
                f"problem({number})",
            )
            for row, text in enumerate(wrapped(problem_in_words(form.draft, each), width - 4))
        ]
        for number, each in enumerate(form.known.wrongs)
    ]
    more = room > 1 and sum(map(len, blocks)) > room
    room -= more
    start = at
    while start and sum(map(len, blocks[start - 1 : at + 1])) <= room:
        start -= 1
    lines = [line(span) for block in blocks[start:] for span in block][:room]
    where = f" {at + 1} of {several(len(blocks), 'problem')} (↑ ↓)"
    return [*lines, line(Span(where, "dim"))] if more else lines


def advice_lines(form: Form, width: int) -> list[Line]:
    """The remarks on the plan, with reasons and sources, however many lines it takes."""
    advice = form.known.outlook.advice
    if advice is None:
        return [line(Span(f" {row}", "dim")) for row in wrapped(_NO_ADVICE, width - 2)]
    skipped = [line(f" {row}") for each in form.known.outlook.skipped for row in wrapped(each, width - 2)]
    if not advice:
        found = [line(Span(f" {row}", "done")) for row in wrapped(_NOTHING_TO_SAY, width - 2)]
        return [*found, *skipped]
    lines: list[Line] = []
    for each in advice:
        lines += [line(Span(f" {'·' if not row else ' '} {text}", "strong"))
                  for row, text in enumerate(wrapped(each.sentence, width - 4))]  # fmt: skip
        lines += [line(f"   {text}") for text in wrapped(f"Why: {each.reason}.", width - 4)]
        lines += [line(Span(f"   {text}", "dim")) for text in wrapped(f"Source: {each.source}.", width - 4)]
    only = (line(Span(f" {row}", "dim")) for row in wrapped(_ONLY_ADVICE, width - 2))
    return [*lines, *skipped, *only]


_NOTHING_TO_SAY: Final = "● No remarks."
_NO_ADVICE: Final = "Fix the problems first (p lists them); then the remarks are here."
_ONLY_ADVICE: Final = "None of these blocks the plan: the surgeon decides."


def help_blocks(form: Form, width: int) -> list[Block]:
    """What is asked or typed, then what keys do and numbers mean."""
    blocks: list[Block] = []
    if form.question is not None:
        blocks += asked_blocks(form.question, width)
    elif (field := form.field) is not None and form.typed is not None:
        found = f"▸ {field.name}, typed: {form.typed.text}▌"
        right = right_value(field.loc, Plan).replace(" in quotation marks", "")
        blocks = [
            [line(Span(f" {row}", "strong")) for row in wrapped(found, width - 2)],
            [line(f" {row}") for row in wrapped(right, width - 2)],
        ]
    later: list[Line] = [()] if blocks else []
    for key, found in _HELP:
        blocks.append([*later, *beside_name(Span(f" {key:<8}", "strong"), found, width - 1)])
        later = []
    return blocks
