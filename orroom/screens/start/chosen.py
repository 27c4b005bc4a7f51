"""What can be chosen on the start screen, and what its menus are made of."""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from orroom.case.terms import Role
from orroom.screens.start.lines import NOWHERE, Item, Menu, Text
from orroom.screens.terminal.painting import Tone

if TYPE_CHECKING:
    from orroom.case import commands as c
    from orroom.case.plan import Plan
    from orroom.formats.chosen import Whom
    from orroom.formats.summary_formats import FhirVersion, Format
    from orroom.record.cases import FoundCase, FoundPlan
    from orroom.summary.summary import ShareLevel

#: Needs the terminal for itself, or ends the start screen.
Outside = Literal[
    "open", "final count", "replay", "write plan", "change plan", "sample day", "practice", "drill", "demo",
    "machine", "settings", "leave",
]  # fmt: skip
#: Is done in the background while the start screen stays.
Inside = Literal[
    "make", "check", "spacing", "sheets", "density", "elasticity", "key card", "guide", "import",
    "summary", "report", "compare", "status", "hand over", "fates", "re-plan", "flow", "verify",
    "verify seal", "back up", "restore", "export", "rescue", "lock", "sign off", "close", "reopen",
    "archive", "archive report", "habits", "drill sheet", "drill curve",
]  # fmt: skip
What = Inside | Outside
KEYS: Final = "123456789"


@dataclass(frozen=True, slots=True)
class Report:
    """A summary in a file: its format, what is left out of it, whether it is the first page alone.

    ``whom`` it is for chooses what is in it and what is left out.
    """

    form: Format
    share: ShareLevel = "full"
    brief: bool = False
    fhir: FhirVersion = "r4b"
    whom: Whom | None = None


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is to be done: with which case or plan file, at which role, by whom, and why or what with.

    ``file`` is another file that it takes or adds to; ``typed`` was typed, or names what is wanted.
    """

    what: What
    path: Path | None = None
    role: Role = "overview"
    who: str = ""
    reason: str = ""
    sign_off: c.SignOff | None = None
    report: Report | None = None
    file: Path | None = None
    typed: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """What lies in the folders, and which of them comes first.

    ``templates`` are plans that came with orroom; ``guide`` its pages, each with its title.
    """

    cases: tuple[FoundCase, ...] = ()
    plans: tuple[FoundPlan, ...] = ()
    where: str = ""
    templates: tuple[FoundPlan, ...] = ()
    events: tuple[Path, ...] = ()
    tables: tuple[Path, ...] = ()
    archives: tuple[Path, ...] = ()
    guide: tuple[tuple[str, str], ...] = ()


#: Asks some menus, one after the other; answers what was chosen by them, or ``None``.
Flow = Generator[Menu, object, Chosen | None]
#: What a menu's item can be worth: something to do, another menu, a text, a flow, or an answer to its own.
Opens = Chosen | Menu | Text | Callable[[], Flow]

BACK: Final = Item("escape", "back")
LEAVE: Final = Item("f10", "leave", Chosen("leave"))
#: Below every menu but the first.
BAR: Final = (BACK, LEAVE)


class Offered(NamedTuple):
    """What can be done; ``key`` is a letter of its own, or it has the next number."""

    label: str
    value: object
    key: str = ""
    more: tuple[str, ...] = ()
    tone: Tone = "plain"


def numbered(*offered: Offered) -> tuple[Item, ...]:
    """Items for a menu: digits for those without a letter, as far as there are digits."""
    numbers = iter(f"{KEYS}0")
    return tuple(
        Item(each.key or next(numbers, ""), each.label, each.value, each.more, each.tone) for each in offered
    )


def initials_menu(title: str, plan: Plan, role: str = "", opened_by: str = "") -> Menu:
    """Who it is: the plan's staff, those of the role first, then who opened the case; or initials typed."""
    staff = sorted(plan.staff, key=lambda each: each.role != role)
    people: dict[str, str] = {each.initials: each.role for each in staff}
    if opened_by:
        people.setdefault(opened_by, "opened the case")
    items = numbered(*(Offered(f"{initials:<4} {what}", initials) for initials, what in people.items()))
    typed = "or type initials, then Enter:"
    return Menu(title, (), items[: len(KEYS)], BAR, asks=typed, initials=True, begin=NOWHERE)


def file_menu(title: str, found: tuple[Path, ...], about: str) -> Menu:
    """Which file: one of those found, or a path that is typed."""
    items = numbered(*(Offered(str(each), each) for each in found))
    return Menu(title, (about,), items, BAR, asks="or type its path, then Enter:", begin=NOWHERE)


def path_of(answer: object) -> Path:
    """The path that was chosen or typed."""
    return answer if isinstance(answer, Path) else Path(str(answer)).expanduser()
