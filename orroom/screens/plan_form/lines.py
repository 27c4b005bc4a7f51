"""The form for a plan: its pages as tables of fields, what is wrong, and what it adds up to alongside."""

from collections.abc import Callable, Sequence
from math import ceil
from typing import Final

from msgspec.structs import replace
from rich.cells import cell_len

from orroom.case.plan import Plan, shared_out
from orroom.figures.wording import NO_DATA, decimal, grafts, several
from orroom.files.plan_draft import text_at
from orroom.files.plan_fields import Field
from orroom.files.right_words import right_value
from orroom.screens.plan_form.form import ADVICE, PAGE_NAMES, PROBLEMS, Form
from orroom.screens.plan_form.outlook import Outlook
from orroom.screens.plan_form.page_body import advice_lines, page_body
from orroom.screens.terminal.layout import Block, Rank, stacked
from orroom.screens.terminal.painting import (
    Line,
    Span,
    Tone,
    clipped,
    first_that_fits,
    line,
    one_of,
    rule,
    spread,
    wrapped,
    wrapped_buttons,
)
from orroom.screens.terminal.question_lines import QUESTION_ROWS, question_lines

#: From this height on every page has a button, and problems of a field have more lines.
ROOM_FOR_ALL: Final = 18
#: Of the name of the file so many columns are shown at least.
LEAST_NAME: Final = 8
#: From this width on figures stand with their words.
WIDE: Final = 60
#: From this width on there is room to say what a mark means.
ROOM_FOR_WORDS: Final = 100
#: A narrower one leaves out what F1 is called, so that the ways to save and to leave are seen.
ROOM_FOR_F1_WORD: Final = 44
#: More is planned than the donor is expected to give.
OVER: Final = "▲"
LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def form_lines(form: Form, width: int, height: int, name: str = "") -> list[Line]:
    """All lines of the form; ``name`` is what is written, as a file."""
    return _stacked(form, width, height, name, lambda rows: page_body(form, width, rows))


def furthest(form: Form, width: int, height: int) -> int:
    """By how many lines the page of advice can be scrolled until its last line is shown."""
    room = height

    def noted(rows: int) -> list[Line]:
        nonlocal room
        room = rows
        return []

    _stacked(form, width, height, "", noted)
    return max(0, len(advice_lines(form, width)) - room)


def _stacked(form: Form, width: int, height: int, name: str, body: Callable[[int], list[Line]]) -> list[Line]:
    """What stands around a page, and the page in the room that is left."""
    tall = height >= ROOM_FOR_ALL
    above = [
        Block([_header(form, width, name)], Rank.HEADER),
        Block(_tabs(form, width, tall), Rank.HEADER),
        Block([rule(width)] if tall else [], Rank.RULE),
    ]
    below = [
        Block(_field_line(form, width), Rank.TYPED),
        Block(_field_words(form, width, 3 if tall else 1), Rank.MISMATCHES),
        Block(_totals(form, width, 2), Rank.FIGURES),
        Block(_zone_line(form, width), Rank.DETAIL),
        Block(_message(form, width, 3 if tall else 1), Rank.MESSAGE),
        Block(_keys(form, width, height), Rank.KEYS),
    ]
    return stacked(above, body, below, height, least=3)


# Above: what is written, the pages.


def _header(form: Form, width: int, name: str) -> Line:
    what = "CHANGE THE PLAN" if form.revising else "PLAN"
    code = str(form.draft.get("case") or "")
    right = [_problem_count(form), Span("  "), _advice_count(form), Span(" ")]
    counts = sum(cell_len(span.text) for span in right)
    left = f" {first_that_fits((f'{what}  {code}', code), width - counts - 2)} "
    unsaved = ("not saved  ", "* ", "") if form.changed else ("",)
    mark = first_that_fits(unsaved, max(0, width - cell_len(left) - counts - 1))
    room = width - cell_len(left) - cell_len(mark) - counts - 1
    file = f" {clipped(name, room)}" if room >= LEAST_NAME else ""
    return spread(line(Span(left, "strong"), Span(mark, "notice"), Span(file, "dim")), tuple(right), width)


def _problem_count(form: Form) -> Span:
    found = len(form.known.wrongs) + (form.known.refused is not None)
    if found:
        return Span(f"✗ {several(found, 'problem')}", "wrong", f"page({PROBLEMS})")
    tone: Tone = "plain" if form.known.outlook.advice else "done"
    return Span("● no problems", tone, f"page({PROBLEMS})")


def _advice_count(form: Form) -> Span:
    advice = form.known.outlook.advice
    if advice is None:
        return Span(f"remarks {NO_DATA}", "dim", f"page({ADVICE})")
    tone: Tone = "notice" if advice else "dim"
    return Span(f"remarks {len(advice)}" if advice else "no remarks", tone, f"page({ADVICE})")


def _tabs(form: Form, width: int, tall: bool) -> list[Line]:
    """Every page where there is room, else this one and its neighbours."""
    wrong = {each.page for each in form.known.wrongs}
    tabs = [
        one_of(f"{'✗' if number in wrong else ''}{name}", f"page({number})", here=number == form.page)
        for number, name in enumerate(PAGE_NAMES)
    ]
    rows = wrapped_buttons(tabs, width, len(tabs))
    if tall and len(rows) <= 3:
        return rows
    before, after = tabs[form.page - 1], tabs[(form.page + 1) % len(tabs)]
    where = f" {form.page + 1}/{len(tabs)}"
    near = [replace(before, text=f"‹{before.text}"), tabs[form.page], replace(after, text=f"{after.text}›")]
    return [(*wrapped_buttons(near, width - len(where), 1)[0], Span(where, "dim"))]


# Below: the field, what is wrong with it, totals, message, keys.


def _field_line(form: Form, width: int) -> list[Line]:
    """The field under the cursor: its name, what it holds or what is typed."""
    field = form.field
    if field is None:
        return [()]
    label = form.named(form.rows[form.row])
    of = f" of {label}" if form.rows_of else ""
    ask = f"{clipped(f' ▸ {field.name}{of}', width // 2)}: "
    room = width - cell_len(ask) - 1
    if form.typed is None:
        return [line(Span(ask, "strong"), clipped(text_at(form.draft, field), room))]
    return [line(Span(ask, "strong"), *_being_typed(form.typed.text, form.typed.caret, room))]


def _being_typed(typed: str, caret: int, room: int) -> list[Span]:
    """What is typed around the caret, as much of it as there is room for."""
    before, after = typed[:caret], typed[caret:]
    before = before if len(before) <= room else f"…{before[-room:]}"
    while cell_len(before) > max(1, room - 2 - min(8, cell_len(after))):
        before = f"…{before[2:]}" if len(before) > 2 else before[1:]
    return [Span(f"{before}▌", "cursor"), Span(clipped(after, max(0, room - cell_len(before) - 1)), "cursor")]


def _field_words(form: Form, width: int, most: int) -> list[Line]:
    """What is wrong with the field under the cursor, or else what would be right."""
    field = form.field
    if field is None:
        return []
    wrong = [each for each in form.known.wrongs if each.field is not None and each.field.loc == field.loc]
    found = [f"{each.problem.wrong}; {each.problem.right}" for each in wrong]
    tone: Tone = "wrong" if found else "dim"
    if not found:
        right = right_value(field.loc, Plan).replace(" in quotation marks", "")
        right = f"{field.beware} {right[:1].upper()}{right[1:]}" if field.beware else right
        found = ["Enter offers its choices" if field.kind == "choice" else right]
    rows = [
        f"{' ' if place or not wrong else '✗'} {row}"
        for sentence in found
        for place, row in enumerate(wrapped(sentence, width - 4))
    ]
    if len(rows) > most:
        rows[most - 1] = clipped(f"{rows[most - 1]} {rows[most]}", width - 2)
    return [line(Span(f" {row}", tone)) for row in rows[:most]]


def _totals(form: Form, width: int, most: int) -> list[Line]:
    """Planned by size against what the donor is expected to give; what is over comes first if narrow."""
    known = form.known.outlook
    whole = _beside_expected(known.planned, known.expected, _rounded(known.expected))
    parts = [Span(f"planned/expected {whole}" if width >= WIDE else whole, _tone(whole))]
    shares = _shares(known)
    by_size = [
        f"{each.size}: {_beside_expected(each.planned, each.expected, shares.get(each.size))}"
        for each in known.sizes
    ]
    if width < WIDE:
        by_size.sort(key=lambda text: OVER not in text)
    parts += [Span(text, _tone(text)) for text in by_size]
    if known.left_out:
        zones = several(known.left_out, "zone")
        parts.append(
            Span(f"({zones} left out: not complete)" if width >= WIDE else f"({zones} left out)", "dim")
        )
    if width >= WIDE and known.hairs is not None and known.planned:
        mean = decimal(known.hairs / known.planned, 2)
        parts.append(Span(f"{decimal(known.hairs, 0)} hairs, {mean} a graft"))
    if width >= WIDE and known.expected_range is not None:
        low, high = (decimal(each, 0) for each in known.expected_range[:2])
        low_words = f" {OVER} may be too few" if width >= ROOM_FOR_WORDS else f" {OVER} low"
        words = f"expected range {low}–{high}{low_words if known.planned > known.expected_range[0] else ''}"
        parts.append(Span(words, _tone(words)))
    return [line(" ", *each) for each in wrapped_buttons(parts, width - 1, most)]


def _rounded(expected: float | None) -> int | None:
    return None if expected is None else round(expected)


def _shares(known: Outlook) -> dict[str, int]:
    """What is expected of each size in whole grafts, which add up to the whole that is shown."""
    expected = {each.size: each.expected for each in known.sizes if each.expected}
    whole = _rounded(known.expected)
    return shared_out(whole, expected) if whole is not None and expected else {}


def _beside_expected(planned: int, expected: float | None, shown: int | None) -> str:
    """``480/484``; ``500▲/484`` if more are planned than the donor is expected to give."""
    if expected is None:
        return grafts(planned)
    return f"{grafts(planned)}{OVER if planned > ceil(expected) else ''}/{grafts(shown or 0)}"


def _tone(text: str) -> Tone:
    return "notice" if OVER in text else "plain"


def _zone_line(form: Form, width: int) -> list[Line]:
    """How dense the zone under the cursor is planned."""
    entry = form.entry
    if form.rows_of != "zones" or entry is None:
        return []
    zone = form.known.outlook.zones.get(entry)
    if zone is None:
        return [line(Span(clipped(" this zone adds up to nothing yet", width), "dim"))]
    found = f"{decimal(zone.grafts_per_cm2)} grafts/cm², {decimal(zone.hairs_per_cm2)} hairs/cm²"
    if zone.together_per_cm2 is not None:
        found += f", {decimal(zone.together_per_cm2)} with the old"
    if width < WIDE:
        name = form.named(form.rows[form.row])
    else:
        name, found = zone.label, f"{found} ({grafts(zone.grafts)} grafts on {decimal(zone.area_cm2, 2)} cm²)"
    return [line(Span(clipped(f" {name}: {found}", width), "mine"))]


def _message(form: Form, width: int, most: int) -> list[Line]:
    if form.question is not None and form.question.remark:
        return [line(Span(clipped(f" ✗ {form.question.remark}", width), "wrong"))]
    rows = wrapped(form.message, width - 2) or [""]
    if len(rows) > most:
        rows[most - 1] = clipped(f"{rows[most - 1]} …", width - 2)
    return [line(Span(f" {row}", form.tone)) for row in rows[:most]]


def _keys(form: Form, width: int, height: int) -> list[Line]:
    """The question that is open, what can be clicked to type, or the keys that work now."""
    if form.question is not None:
        return question_lines(form.question, width, min(QUESTION_ROWS, height - 2))
    if form.typed is not None:
        return _typing_keys(form.field, width, 4 if height >= ROOM_FOR_ALL else 2)
    small = height < ROOM_FOR_ALL
    help_, *moving = _buttons(
        ("F1 help" if width >= ROOM_FOR_F1_WORD else "F1", "f1"),
        (_enter_word(form), "enter"),
        ("Tab page", "tab"),
    )
    letters = _buttons(
        ("s go on" if form.revising else "s save", "f2"),
        ("o save, open case" if form.opens else "", "f5"),
        ("Esc leave", "f10"),
        ("n add" if form.rows_of else "", "f7"),
        ("x remove" if form.rows_of else "x empty" if form.own_page is not None else "", "f8"),
        ("u undo", "f6"),
        ("p problems", "f3"),
        ("r remarks", "f4"),
    )
    if form.letters_work:
        shown = [help_, *letters, *moving] if small else [help_, *moving, *letters]
    else:
        after = Span(" Esc: " if small else " Esc, then: ", "dim")
        if width < ROOM_FOR_F1_WORD:  # the words alone, to be clicked: their letters come with Esc
            letters = [replace(each, text=f" {each.text.strip().partition(' ')[2]} ") for each in letters]
        shown = [help_, after, *letters] if small else [help_, *moving, after, *letters]
    return wrapped_buttons(shown, width, 1 if small else 2)


def _buttons(*words_and_keys: tuple[str, str]) -> list[Span]:
    """A button for each key that has words now."""
    return [Span(f" {words} ", "button", f"press('{key}')") for words, key in words_and_keys if words]


def _enter_word(form: Form) -> str:
    """What Enter does where the cursor is."""
    if form.page == PROBLEMS:
        return "Enter go there" if form.known.wrongs else ""
    if form.field is None:
        return ""
    return "Enter choose" if form.field.kind == "choice" else "Enter type"


def _typing_keys(field: Field | None, width: int, most: int) -> list[Line]:
    """Enter and Esc, and what the field takes, for someone who has only a mouse."""
    ends = [
        Span(" Enter ", "button", "press('enter')"),
        Span(" Esc as it was ", "button", "press('escape')"),
        Span(" ⌫ ", "button", "press('backspace')"),
    ]
    digits = "0123456789"
    letters = field is not None and field.kind in ("text", "keys")
    characters = f"{digits}.{'-' if letters else ''}{LETTERS if letters else ''}"
    if field is not None and field.kind in ("corners", "numbers"):
        characters += ",-"
    typed = [Span(f" {each} ", "button", f"type('{each}')") for each in characters]
    if field is not None and field.kind != "number":
        typed.append(Span(" space ", "button", "type(' ')"))
    rows = _tight(typed, width)
    return [*rows, *wrapped_buttons(ends, width, 1)] if len(rows) < most else wrapped_buttons(ends, width, 1)


def _tight(buttons: Sequence[Span], width: int) -> list[Line]:
    """Buttons side by side with one column between them."""
    rows: list[list[Span]] = [[]]
    for button in buttons:
        if sum(cell_len(span.text) for span in rows[-1]) + cell_len(button.text) + 1 > width:
            rows.append([])
        rows[-1] += [button, Span(" ")]
    return [tuple(row) for row in rows]
