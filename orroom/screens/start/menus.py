"""What the start screen offers and asks: its menus, made of the cases and plans that were found."""

from collections import Counter
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final, Literal, NamedTuple

from orroom.case import commands as c
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import CAUTIONS, Role
from orroom.figures.wording import Times, clock_time, grafts, moment, several
from orroom.record.cases import FoundCase, FoundPlan, Standing
from orroom.screens.start.lines import NOWHERE, Item, Menu, Text
from orroom.screens.stations import final_questions as questions
from orroom.screens.terminal.asking import Choice, Dialogue, Step, Words

What = Literal[
    "open", "make", "write plan", "change plan", "final count", "summary", "page", "pdf", "verify", "back up",
    "sheets", "lock", "sign off", "close", "reopen", "replay", "practice", "demo", "machine", "settings",
    "leave",
]  # fmt: skip

#: What is done inside the start screen; all else needs the terminal for itself, or ends it.
INSIDE: Final[frozenset[What]] = frozenset(
    {"make", "sheets", "summary", "page", "pdf", "verify", "back up", "lock", "sign off", "close", "reopen"}
)
KEYS: Final = "123456789"


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is to be done: with which case or plan file, at which role, by whom, and why or what with."""

    what: What
    path: Path | None = None
    role: Role = "overview"
    who: str = ""
    reason: str = ""
    sign_off: c.SignOff | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """What lies in the folders, and which of them comes first."""

    cases: tuple[FoundCase, ...] = ()
    plans: tuple[FoundPlan, ...] = ()
    where: str = ""


#: Asks some menus, one after the other; answers what was chosen by them, or ``None``.
Flow = Generator[Menu, object, Chosen | None]
#: What a menu's item can be worth: something to do, another menu, a text, a flow, or an answer to its own.
Opens = Chosen | Menu | Text | Callable[[], Flow]

BACK: Final = Item("escape", "back")
LEAVE: Final = Item("f10", "leave", Chosen("leave"))
#: Below every menu but the first.
BAR: Final = (BACK, LEAVE)


def home_menu(found: Found, now_ms: int) -> Menu:
    """The cases, and what can be done without one."""
    codes = Counter(_code(each) for each in found.cases if not each.copy)
    items = [
        Item(
            KEYS[place] if place < len(KEYS) else "",
            _named(each),
            each,
            _told(each, now_ms, alone=codes[_code(each)] == 1),
            "wrong" if each.standing is None or each.not_intact else "plain",
        )
        for place, each in enumerate(found.cases)
    ]
    bar = [
        Item("n", "new case", plans_menu(found)),
        Item("p", "practice", Chosen("practice")),
        Item("d", "demo", Chosen("demo")),
        Item("m", "this machine", Chosen("machine")),
        Item("s", "settings", Chosen("settings")),
        Item("c", "cautions", Text("Cautions", "\n\n".join(CAUTIONS))),
        LEAVE,
    ]
    about = () if items else ("No cases yet. n: new case; p: two minutes of practice.",)
    return Menu("ORROOM  choose a case", about, tuple(items), tuple(bar), CAUTIONS, where=found.where)


def _named(found: FoundCase) -> str:
    standing = found.standing
    if standing is None:
        return f"≠ {found.path.name}: cannot be read"
    state = "● signed off" if standing.signed_off else "○ open"
    copy = "a copy, " if found.copy else ""
    title = f"  {standing.plan.title}" if standing.plan.title else ""
    warning = "≠ NOT INTACT  " if found.not_intact else ""
    return f"{warning}{standing.plan.case}  {copy}{state}{title}"


def _code(found: FoundCase) -> str | None:
    return None if found.standing is None else found.standing.plan.case


def _told(found: FoundCase, now_ms: int, *, alone: bool) -> tuple[str, ...]:
    """How it stands; also where it lies, if it is a copy or not ``alone`` with its code."""
    standing = found.standing
    if standing is None:
        return (found.problem,)
    planned = grafts(standing.plan.planned())
    last = _when(standing.last_at_ms, now_ms, standing.utc_offset_minutes)
    counts = (
        f"{grafts(standing.usable)} usable, {grafts(standing.placed)} placed of {planned} · last entry {last}"
    )
    if standing.counting:
        counts = f"‖ a count is being made · last entry {last}"
    where = str(found.path) if found.copy or not alone else ""
    return tuple(each for each in (found.not_intact, counts, _at_it(standing), where) if each)


def _at_it(standing: Standing) -> str:
    if not standing.stations:
        return ""
    return "in use by: " + ", ".join(f"{each.role} {each.who}" for each in standing.stations)


def _when(at_ms: int, now_ms: int, offset_minutes: int) -> str:
    """A time of today, or the day alone for one of another day."""
    then, now = moment(at_ms, offset_minutes), moment(now_ms, offset_minutes)
    return clock_time(at_ms, Times(offset_minutes)) if then.date() == now.date() else f"{then:%Y-%m-%d}"


class _Offered(NamedTuple):
    """What can be done with a case; ``key`` is a letter of its own, or it has the next number."""

    label: str
    value: Opens
    key: str = ""


def case_menu(found: FoundCase, now_ms: int) -> Menu:
    """What can be done with a case."""
    standing, path = found.standing, found.path
    if standing is None:
        verify = Item("1", "verify: is the record unchanged?", Chosen("verify", path))
        return Menu(path.name, (found.problem,), (verify,), BAR)
    live: list[_Offered] = [
        _Offered("cutting station", partial(open_station, found, "cutting")),
        _Offered("placing station", partial(open_station, found, "placing")),
        _Offered("overview", Chosen("open", path, "overview")),
        _Offered("change the plan", partial(change_plan, found)),
    ]
    so_far = "" if standing.signed_off or found.copy else " so far"
    told = [
        _Offered(f"summary{so_far}", Chosen("summary", path)),
        _Offered(f"summary{so_far} as a page to print: HTML, next to it", Chosen("page", path), "h"),
        _Offered(f"summary{so_far} as a PDF, next to it", Chosen("pdf", path), "p"),
        _Offered("verify: is the record unchanged?", Chosen("verify", path)),
        _Offered("back up: a copy next to it", Chosen("back up", path)),
        _Offered("new case: this plan is its template", Chosen("write plan", path)),
    ]
    if found.copy:  # what is entered into a copy is not in the case
        offered = list(told)
    elif standing.signed_off:
        offered = [
            *told[:3],
            _Offered("locked copy: nothing can be entered in it", Chosen("lock", path)),
            *told[3:],
            _Offered("reopen it", partial(reopen, found)),
            _Offered("overview", Chosen("open", path, "overview")),
        ]
    else:
        offered = [
            *live,
            *told,
            _Offered("final count, by two people one after the other", Chosen("final count", path), "k"),
            _Offered("sign off, by two people", Chosen("sign off", path)),
        ]
    offered.append(_Offered("replay: the day as it was", Chosen("replay", path)))
    numbers = iter(f"{KEYS}0")
    items = [Item(each.key or next(numbers), each.label, each.value) for each in offered]
    return Menu(_named(found), _told(found, now_ms, alone=True), tuple(items), BAR)


def initials_menu(title: str, plan: Plan, role: str = "") -> Menu:
    """Who it is: the plan's staff, those of the role first, or initials typed."""
    staff = sorted(plan.staff, key=lambda each: each.role != role)
    items = [
        Item(key, f"{person.initials:<4} {person.role}", person.initials)
        for key, person in zip(KEYS, staff, strict=False)
    ]
    typed = "or type initials, then Enter:"
    return Menu(title, (), tuple(items), BAR, asks=typed, initials=True, begin=NOWHERE)


def open_station(found: FoundCase, role: Role) -> Flow:
    """Who sits down at a station."""
    who = yield initials_menu(f"{role.capitalize()} station: who sits there?", _plan(found), role)
    return Chosen("open", found.path, role, str(who))


def make_case(path: Path, plan: Plan) -> Flow:
    """Who opens the case that a plan file becomes."""
    who = yield initials_menu(f"Case {plan.case} from {path.name}: who opens it?", plan)
    return Chosen("make", path, who=str(who))


def change_plan(found: FoundCase) -> Flow:
    """Who changes the plan; the form asks for all else."""
    who = yield initials_menu("Change the plan: who decides?", _plan(found), "surgeon")
    return Chosen("change plan", found.path, who=str(who))


def sign_off(path: Path, state: CaseState) -> Flow:
    """All that a station asks of the two who close a case, and once more whether they do."""
    case = state.plan.case
    closing = yield from _asked(f"Sign off {case}", questions.sign_off(state))
    if not isinstance(closing, questions.SignOffBy):
        return None
    sure = yield Menu(
        f"Sign off {case} by {closing.who} and {closing.sign_off.second}?",
        (
            *(f"Stays open: {each.sentence}: {each.because}" for each in closing.sign_off.left_open),
            "The case is then locked until it is reopened with a reason. A locked copy is made.",
        ),
        (Item("y", "sign off", True), Item("n", "not yet", False)),
        BAR,
        begin=NOWHERE,
        own_keys=True,
    )
    return Chosen("close", path, who=closing.who, sign_off=closing.sign_off) if sure else None


def _asked(title: str, dialogue: Dialogue) -> Generator[Menu, object, c.Command | None]:
    """What a station would ask in its key line, asked in menus; answers what came of it."""
    try:
        step = next(dialogue)
        while True:
            step = dialogue.send((yield _menu_of(title, step)))
    except StopIteration as done:
        command: c.Command | None = done.value
        return command


def _menu_of(title: str, step: Step) -> Menu:
    """One step of a question; what is typed is a text or initials."""
    if isinstance(step, Choice):
        items = tuple(Item(each.key, each.label, each.value) for each in step.options)
        return Menu(title, (step.ask,), items, BAR, begin=NOWHERE, own_keys=True)
    initials = isinstance(step, Words) and step.capitals
    return Menu(title, (step.ask,), (), BAR, asks="Type it, then Enter:", initials=initials, begin=NOWHERE)


def reopen(found: FoundCase) -> Flow:
    """Who reopens a case, and why."""
    who = yield initials_menu("Reopen: who decides?", _plan(found), "surgeon")
    reasons = ("signed off too early", "an entry was forgotten", "something was counted wrong")
    reason = yield Menu(
        "Reopen: why?",
        (),
        tuple(Item(key, each, each) for key, each in zip(KEYS, reasons, strict=False)),
        BAR,
        asks="or type why, then Enter:",
    )
    return Chosen("reopen", found.path, who=str(who), reason=str(reason))


def plans_menu(found: Found) -> Menu:
    """Where a new case's plan comes from: written now, or a file."""
    written = Item("n", "write a new plan", Chosen("write plan"))
    items = [
        Item(
            KEYS[place] if place < len(KEYS) else "",
            f"{each.plan.case}  {each.plan.title}" if each.plan is not None else f"≠ {each.path.name}",
            _with_plan(each, found.where),
            (f"{grafts(each.plan.planned())} grafts planned · {each.path}",)
            if each.plan is not None
            else (f"{each.path}: {each.problem.partition(chr(10))[0].rpartition(': ')[2]}",),
            "plain" if each.plan is not None else "wrong",
        )
        for place, each in enumerate(sorted(found.plans, key=lambda each: each.plan is None))
    ]
    earlier = [each for each in found.cases if each.standing is not None and not each.copy]
    if earlier:
        items.insert(0, Item("e", "change an earlier case's plan into a new one", _earlier_menu(earlier)))
    return Menu("New case: from which plan?", (), (written, *items), BAR)


def _earlier_menu(cases: Sequence[FoundCase]) -> Menu:
    """Which case's plan is the template of a new one."""
    items = [
        Item(KEYS[place] if place < len(KEYS) else "", _named(each), Chosen("write plan", each.path))
        for place, each in enumerate(cases)
    ]
    return Menu("New case: from which earlier one?", (), tuple(items), BAR)


def _with_plan(found: FoundPlan, where: str) -> Opens:
    """What can be done with a plan file."""
    wrong = Text("This plan cannot be used as it is", found.problem)
    if found.plan is None:
        put_right = Item("1", "fix it in the form", Chosen("write plan", found.path))
        return Menu(
            f"{found.path.name} has mistakes", (), (put_right, Item("2", "what is wrong", wrong)), BAR
        )
    plan = found.plan
    make = Item("1", f"make the case {plan.case} from it as it is", partial(make_case, found.path, plan))
    form = Item("2", "change it first: a new plan from this one", Chosen("write plan", found.path))
    sheets = Item(
        "3", "print sheets: labels, tally, zones, figures (PDF next to it)", Chosen("sheets", found.path)
    )
    about = f"{plan.title}: {several(len(plan.zones), 'zone')}, {grafts(plan.planned())} grafts planned."
    return Menu(
        f"New case from {found.path.name}",
        (about, f"The case gets a folder of its own: {where.rstrip('/')}/{plan.case}"),
        (make, form, sheets),
        BAR,
    )


def _plan(found: FoundCase) -> Plan:
    if found.standing is None:
        raise LookupError(f"{found.path} cannot be read")
    return found.standing.plan
