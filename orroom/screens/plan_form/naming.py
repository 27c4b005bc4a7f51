"""How the form names what is in it: a row, the place of a problem, what is wrong with a field."""

from collections.abc import Iterable

from orroom.files.plan_draft import Wrong, value_at
from orroom.files.plan_fields import PAGES, Field, Page, Row
from orroom.files.plan_rules import Raw
from orroom.files.plan_words import KEY_FIELDS


def row_name(draft: Raw, page: Page, row: Row) -> str:
    """How a row is called: by its entry's key if it has one, else by its number; a field by its name."""
    if page.rows_of is None or row.entry is None:
        return row.label
    key = value_at(draft, (page.rows_of, row.entry, KEY_FIELDS.get(page.rows_of, "key")))
    return key if isinstance(key, str) and key else row.label


def problem_in_words(draft: Raw, found: Wrong) -> str:
    """A problem by page, field and row of the form; what is in no field, as the file has it."""
    where = found.problem.where
    if found.page is not None and found.field is not None:
        page = PAGES[found.page]
        of = f" of {row_name(draft, page, page.rows(draft)[found.row])}" if page.rows_of else ""
        where = f"{page.name}: {found.field.name}{of}"
    return f"{where}: {found.problem.wrong}; {found.problem.right}"


def why_wrong(draft: Raw, wrongs: Iterable[Wrong], field: Field) -> str:
    """What is wrong with a field that is filled in, and what would be right; empty if nothing is."""
    if value_at(draft, field.loc) is None:
        return ""
    found = (each.problem for each in wrongs if each.field is not None and each.field.loc == field.loc)
    return next((f"{each.wrong}; {each.right}" for each in found), "")
