"""The faults that spot checks ask for, on the settings' pages. It runs without a terminal."""

from collections.abc import Iterator
from functools import partial
from typing import Final

from orroom.case.settings import MOST_FAULTS
from orroom.case.terms import FAULTS, CheckSubject
from orroom.screens.settings.sheet import Row, Sheet
from orroom.screens.terminal.asking import Choice, Dialogue, Option, Words

WORDS: Final = Words("The fault in words:")
_CHANGES: Final = (
    Option("1", "other words", "words"),
    Option("x", "take it out", "out"),
    Option("s", "the whole list as it comes", "as it comes"),
)


def fault_rows(sheet: Sheet) -> Iterator[Row]:
    """A row for each fault, by the number it is asked for with, and one to add another."""
    for subject in FAULTS:
        faults, here = sheet.settings.checks.of(subject), sheet.has("checks", subject)
        for number, fault in enumerate(faults, 1):
            yield Row(f"{subject} {number}", fault, here, partial(_fault, sheet, subject, number - 1))
        if len(faults) < MOST_FAULTS:
            yield Row(f"+ add a fault of {subject}", "", here, partial(_new_fault, sheet, subject))


def _fault(sheet: Sheet, subject: CheckSubject, place: int) -> Dialogue:
    """A fault in other words, taken out, or the list as it comes."""
    loc, faults = ("checks", subject), [*sheet.settings.checks.of(subject)]
    how = yield Choice(f"{faults[place]}:", _CHANGES)
    if how != "as it comes":
        faults[place : place + 1] = [(yield WORDS)] if how == "words" else []
    sheet.put(loc, None if how == "as it comes" else faults)
    return None


def _new_fault(sheet: Sheet, subject: CheckSubject) -> Dialogue:
    sheet.put(("checks", subject), [*sheet.settings.checks.of(subject), (yield WORDS)])
    return None
