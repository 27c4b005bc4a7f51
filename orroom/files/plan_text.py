"""A draft as the text of a plan file: a new one with short comments, an edited one with its own."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any, Final, NamedTuple

import tomlkit
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Comment, InlineTable, Item, Table, Whitespace

from orroom.case.plan import Plan
from orroom.files.old_names import text_in_todays_names
from orroom.files.plan_draft import Draft
from orroom.files.plan_words import KEY_FIELDS

#: The comment before each part of a new file.
_COMMENTS: Final = {
    "format": "The plan of one case. orroom check lists every mistake; orroom plan opens it in a form.",
    "case": "a pseudonym: no names, no record numbers",
    "earlier": "the patient's case before this one, by its code or the path of its file",
    "cautions": "sentences that are repeated in the summary",
    "sizes": 'The graft sizes: "1" to "4" hairs, and "M" for multi-unit grafts with their mean hairs.',
    "zones": "The recipient zones, with an area in cm² or a shape in cm, and targets by size or a density.",
    "harvests": "Grafts harvested together: a strip, or a batch of punched grafts.",
    "donor": "Expected yield of the donor: strip in cm, density readings along it, shares by size, loss.",
    "care": "Care rounds. The intervals are common practice, without a source: set your own.",
    "limits": "Thresholds for prompts and remarks. All of them are the surgeon's.",
    "staff": "Initials only, and what each does.",
}


#: A comment before a heading, with whatever blank lines there are around it.
_SPACED: Final = re.compile(r"\n*^(#[^\n]*)\n+(?=\[)", re.MULTILINE)


class Written(NamedTuple):
    """The text of a file, and whether it kept the comments of the one before."""

    text: str
    comments_kept: bool


def text_of(draft: Draft, before: str | None = None) -> Written:
    """The file that holds exactly this draft: ``before`` with what has changed, or a new one."""
    if before is None:
        return Written(_new(draft), comments_kept=True)
    try:
        document = tomlkit.parse(text_in_todays_names(before.removeprefix("\ufeff").replace("\r\n", "\n")))
        _bring_up(document, draft)
        text = tomlkit.dumps(document)
        if _same(tomllib.loads(text), draft):
            ends = "\r\n" if "\r\n" in before else "\n"
            return Written(text.replace("\n", ends), comments_kept=True)
    except (TOMLKitError, tomllib.TOMLDecodeError):
        pass  # a file written in a way that cannot be changed piece by piece is written again
    return Written(_new(draft), comments_kept=False)


def _new(draft: Draft) -> str:
    """A file of its own: plain fields first, then tables, each part with a short comment before it."""
    known = [name for name in Plan.__struct_fields__ if name in draft]
    names = sorted(
        [*known, *(name for name in draft if name not in known)], key=lambda n: _is_tables(draft[n])
    )
    document = tomlkit.document()
    for name in names:
        if name in _COMMENTS:
            document.add(tomlkit.comment(_COMMENTS[name]))
        document.add(name, _item(draft[name], top=True))
    return _SPACED.sub(r"\n\n\1\n", tomlkit.dumps(document)).lstrip("\n")


def _is_tables(value: object) -> bool:
    """Whether a part stands under headings of its own, which have to come after the plain fields."""
    return isinstance(value, Mapping) or (
        isinstance(value, list) and bool(value) and all(isinstance(each, Mapping) for each in value)
    )


def _item(value: Any, *, top: bool = False) -> Item:  # noqa: ANN401 - any value of a plan
    """A value as it is written; ``top`` is a part of the plan, or an entry of one."""
    if isinstance(value, Mapping):
        made: Table | InlineTable = tomlkit.table() if top else tomlkit.inline_table()
        for key, each in value.items():
            made.add(str(key), _item(each))
        return made
    if top and isinstance(value, list) and _is_tables(value):
        rows = tomlkit.aot()
        for each in value:
            rows.append(_item(each, top=True))
        return rows
    if isinstance(value, list):
        array = tomlkit.array()
        array.extend(_item(each) for each in value)
        return array
    made_of: Item = tomlkit.item(value)
    return made_of


# A file that is there already: only what has changed is written again.


def _bring_up(holder: Any, draft: Mapping[str, Any]) -> None:  # noqa: ANN401 - tomlkit's containers
    """Have a document or a table hold exactly ``draft``."""
    for name in [str(name) for name in holder if str(name) not in draft]:
        _take_out(holder, name)
    for name, value in draft.items():
        old = holder.get(name)
        if name in holder and _same(old, value):
            continue
        if isinstance(old, AoT) and _is_tables(value) and isinstance(value, list):
            _bring_up_rows(old, value, KEY_FIELDS.get(name, "key"))
        elif isinstance(old, Table) and isinstance(value, Mapping):
            _bring_up(old, value)
        else:
            holder[name] = _item(value, top=isinstance(holder, Container) and name not in holder)


def _take_out(holder: Any, name: str) -> None:  # noqa: ANN401 - tomlkit's containers
    """Take a field out; comments at its end belong to what comes next, and stay."""
    names = [str(each) for each in holder]
    before = holder[names[names.index(name) - 1]] if names[0] != name else None
    old = holder[name]
    del holder[name]
    tail = _tail_of(_last(old))
    if (above := _last(before)) is not None and tail:
        _tail_of(above)
        _add(above, tail)


def _bring_up_rows(rows: AoT, wanted: Sequence[Mapping[str, Any]], key: str) -> None:
    """Have the entries of a list be those wanted, each known by its key; comments stay where they stood."""
    old, new = ([str(each.get(key)) for each in listed] for listed in (rows, wanted))
    tail = _tail_of(rows[-1])
    place = 0
    for _, start, end, new_start, new_end in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        paired = min(end - start, new_end - new_start)
        for each in wanted[new_start : new_start + paired]:
            _bring_up(rows[place], each)
            place += 1
        for _ in range(end - start - paired):
            _take_row_out(rows, place)
        for each in wanted[new_start + paired : new_end]:
            rows.insert(place, _item(each, top=True))  # type: ignore[arg-type]  # a table is a mapping
            _add(rows[place], [tomlkit.nl()])
            if place and not _ends_apart(rows[place - 1]):
                _add(rows[place - 1], [tomlkit.nl()])
            place += 1
    _tail_of(rows[-1])
    _add(rows[-1], tail)


def _take_row_out(rows: AoT, place: int) -> None:
    """Take an entry out; comments at its end belong to the next one, those before it go with it."""
    comments = _tail_of(rows[place])
    del rows[place]
    if place:
        _tail_of(rows[place - 1])
        _add(rows[place - 1], comments)
    elif len(rows) and any(isinstance(each, Comment) for each in comments):
        rows[0].trivia.indent = "".join(each.as_string() for each in comments).lstrip("\n")


def _last(item: object) -> Table | None:
    """The table at whose end something stands: the item itself, or a list's last entry."""
    if isinstance(item, AoT):
        return item[-1] if len(item) else None
    return item if isinstance(item, Table) else None


def _tail_of(table: Table | None) -> list[Item]:
    """Blank lines and comments at the end of a table, taken out of it: they belong to what comes next."""
    tail: list[Item] = []
    while table is not None and table.value.body and _ends_apart(table):
        tail.insert(0, table.value.body.pop()[1])
    return tail


def _ends_apart(table: Table) -> bool:
    """Whether a table ends with a blank line or a comment."""
    return isinstance(table.value.body[-1][1], Comment | Whitespace) if table.value.body else False


def _add(table: Table, items: Sequence[Item]) -> None:
    table.value.body.extend((None, item) for item in items)


def _plain(value: Any) -> Any:  # noqa: ANN401 - any value of a plan
    return value.unwrap() if isinstance(value, Item | Container) else value


def _same(one: Any, other: Any) -> bool:  # noqa: ANN401 - any values of a plan
    """Whether two values are written alike, as 1 and 1.0 are not."""
    one, other = _plain(one), _plain(other)
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_same(one[name], other[name]) for name in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    return repr(one) == repr(other)
