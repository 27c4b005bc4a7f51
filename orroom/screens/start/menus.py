"""The first menu of the start screen: the cases that were found, a new one, and what needs no case."""

from collections import Counter
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Final

from orroom.case.plan import Plan
from orroom.case.terms import CAUTIONS
from orroom.figures.wording import grafts, several
from orroom.record.cases import FoundCase, FoundPlan
from orroom.screens.start.case_menus import code_of, named, state_words
from orroom.screens.start.chosen import BAR, LEAVE, Chosen, Flow, Found, Offered, initials_menu, numbered
from orroom.screens.start.learning_menus import learning_menu
from orroom.screens.start.lines import Item, Menu, Text
from orroom.screens.start.other_menus import other_menu

#: From this number of cases on they can be searched.
MANY_CASES: Final = 30
#: A new plan in the form.
WRITE: Final = Chosen("write plan")


def home_menu(found: Found, now_ms: int) -> Menu:
    """The cases, and what can be done without one. Copies are under the case that they are of."""
    cases = without_copies(found.cases)
    rows = _rows(cases, now_ms)
    bar = [
        Item("n", "new case", plans_menu(found) if cases or found.plans else WRITE),
        Item("t", "templates", templates_menu(found)),
        *([Item("f", "find", partial(find, rows))] if len(cases) >= MANY_CASES else []),
        Item("l", "sample day", Chosen("sample day")),
        Item("p", "practice", learning_menu()),
        Item("o", "more", other_menu(found)),
        Item("c", "cautions", Text("Cautions", "\n\n".join(CAUTIONS))),
        Item("d", "demo", Chosen("demo")),
        LEAVE,
    ]
    about = _states(cases) if len(cases) >= MANY_CASES else ()
    if not cases:
        about = ("No cases yet. n: new case; l: look at a sample day; p: practice and drills.",)
    return Menu("ORROOM  choose a case", about, numbered(*rows), tuple(bar), CAUTIONS, where=found.where)


def without_copies(cases: Sequence[FoundCase]) -> tuple[FoundCase, ...]:
    """The cases but for copies of those that are there themselves."""
    there = {each.standing.begun for each in cases if each.standing is not None and not each.copy}
    return tuple(
        each for each in cases if not each.copy or each.standing is None or each.standing.begun not in there
    )


def _rows(cases: Sequence[FoundCase], now_ms: int) -> list[Offered]:
    codes = Counter(map(code_of, cases))
    return [
        Offered(
            named(each),
            each,
            more=state_words(each, now_ms, alone=codes[code_of(each)] == 1),
            tone="wrong" if each.standing is None or each.not_intact else "plain",
        )
        for each in cases
    ]


def _states(cases: Sequence[FoundCase]) -> tuple[str]:
    """How many cases there are in each state."""
    states = Counter("cannot be read" if each.standing is None else each.standing.state for each in cases)
    return (f"{', '.join(f'{number} {state}' for state, number in states.items())} · f finds one",)


def find(rows: Sequence[Offered]) -> Flow:
    """The cases of whose row in the list something was typed."""
    asked = "Part of a code, a title, a day, initials, or a state: open, signed off"
    sought = str((yield Menu("Find a case", (asked,), (), BAR, asks="Find:")))
    there = [each for each in rows if sought.casefold() in " ".join((each.label, *each.more)).casefold()]
    none = () if there else ("No case has that.",)
    yield Menu(f"{several(len(there), 'case')} with “{sought}”", none, numbered(*there), BAR)
    return None


# A new case.


def plans_menu(found: Found) -> Menu:
    """Where a new case's plan comes from: written now, an earlier case, or a file."""
    offered = [Offered("write a new plan", WRITE, "n")]
    earlier = [each for each in found.cases if each.standing is not None and not each.copy]
    if earlier:
        offered.append(Offered("change an earlier case's plan into a new one", _earlier_menu(earlier), "e"))
    offered += _plans_offered(found.plans, found.where)
    return Menu("New case: from which plan?", (), numbered(*offered), BAR)


def templates_menu(found: Found) -> Menu:
    """The plans that came with orroom."""
    about = "Invented plans. Change one into your own, or make its case to try it."
    offered = _plans_offered(found.templates, found.where)
    return Menu("New case: from which template?", (about,), numbered(*offered), BAR)


def _earlier_menu(cases: Sequence[FoundCase]) -> Menu:
    """Which case's plan is the template of a new one."""
    offered = [Offered(named(each), Chosen("write plan", each.path)) for each in cases]
    return Menu("New case: from which earlier one?", (), numbered(*offered), BAR)


def _plans_offered(plans: Sequence[FoundPlan], where: str) -> list[Offered]:
    """Plan files, those with mistakes last."""
    return [
        _mended(each) if each.plan is None else _offered(each.path, each.plan, where)
        for each in sorted(plans, key=lambda each: each.plan is None)
    ]


def _mended(found: FoundPlan) -> Offered:
    """A plan file with mistakes."""
    first = found.problem.partition("\n")[0].rpartition(": ")[2]
    items = numbered(
        Offered("fix it in the form", Chosen("write plan", found.path)),
        Offered("what is wrong", Text("This plan cannot be used as it is", found.problem)),
    )
    menu = Menu(f"{found.path.name} has mistakes", (), items, BAR)
    return Offered(f"≠ {found.path.name}", menu, more=(f"{found.path}: {first}",), tone="wrong")


def _offered(path: Path, plan: Plan, where: str) -> Offered:
    """A valid plan file: who opens its case, or what else can be done with it."""
    people = [
        Offered(f"{each.initials:<4} opens the case {plan.case}", Chosen("make", path, who=each.initials))
        for each in plan.staff
    ]
    items = numbered(
        *people,
        Offered("somebody else opens it: type initials", partial(make_case, path, plan), "i"),
        Offered("change it first: a new plan from this one", Chosen("write plan", path), "c"),
        Offered("check it: remarks and totals", Chosen("check", path), "k"),
        Offered("spacing of its sites", Chosen("spacing", path), "w"),
        Offered(
            "print sheets: labels, tally, zones, figures (PDF next to the plan)", Chosen("sheets", path), "p"
        ),
    )
    menu = Menu(
        f"New case from {path.name}: who opens it?",
        (
            f"{plan.title}: {several(len(plan.zones), 'zone')}, {grafts(plan.planned())} grafts planned.",
            f"The case gets a folder of its own: {where.rstrip('/')}/{plan.case}",
        ),
        items,
        BAR,
    )
    more = (f"{grafts(plan.planned())} grafts planned · {path}",)
    return Offered(f"{plan.case}  {plan.title}", menu, more=more)


def make_case(path: Path, plan: Plan) -> Flow:
    """Who opens the case that a plan file becomes."""
    who = yield initials_menu(f"Case {plan.case} from {path.name}: who opens it?", plan)
    return Chosen("make", path, who=str(who))
