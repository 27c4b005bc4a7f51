"""What the start screen says of a case, and what can be done with it."""

from collections.abc import Generator, Sequence
from functools import partial
from pathlib import Path

from orroom.case import commands as c
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.figures.wording import Times, clock_time, grafts, moment, several
from orroom.record.cases import FoundCase, Standing
from orroom.screens.start.chosen import (
    BAR,
    KEYS,
    Chosen,
    Flow,
    Found,
    Offered,
    Report,
    file_menu,
    initials_menu,
    numbered,
    path_of,
)
from orroom.screens.start.lines import NOWHERE, Item, Menu
from orroom.screens.start.report_menus import reports_menu
from orroom.screens.stations import final_questions as questions
from orroom.screens.terminal.asking import Choice, Dialogue, Step, Words


def named(found: FoundCase) -> str:
    """A case in the list: its code, its state, its title."""
    standing = found.standing
    if standing is None:
        return f"≠ {found.path.name}: cannot be read"
    state = "● signed off" if standing.signed_off else "○ open"
    copy = "a copy, " if found.copy else ""
    title = f"  {standing.plan.title}" if standing.plan.title else ""
    warning = "≠ NOT INTACT  " if found.not_intact else ""
    return f"{warning}{standing.plan.case}  {copy}{state}{title}"


def code_of(found: FoundCase) -> str | None:
    """The code of a case that can be read."""
    return None if found.standing is None else found.standing.plan.case


def state_words(found: FoundCase, now_ms: int, *, alone: bool) -> tuple[str, ...]:
    """How it stands; also where it lies, if it is a copy or not ``alone`` with its code."""
    standing = found.standing
    if standing is None:
        return (found.problem,)
    planned = grafts(standing.plan.planned())
    last = _when(standing.last_at_ms, now_ms, standing.utc_offset_minutes)
    left = standing.usable - standing.placed
    rest = f", {grafts(left)} {'left' if standing.signed_off else 'waiting'}" if left else ""
    usable, placed = grafts(standing.usable), grafts(standing.placed)
    counts = f"{usable} usable, {placed} placed of {planned}{rest} · last entry {last}"
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


def case_menu(found: FoundCase, everything: Found, now_ms: int) -> Menu:
    """What can be done with a case."""
    standing, path = found.standing, found.path
    if standing is None:
        beside = (each for each in everything.cases if each.path.parent == path.parent and each.standing)
        in_place = tuple(each.path for each in beside)
        items = numbered(
            Offered("verify: is the record unchanged?", Chosen("verify", path)),
            Offered("restore a copy in its place", partial(put_back, path, in_place)),
        )
        return Menu(path.name, (found.problem,), items, BAR)
    live = [
        Offered("cutting station", partial(open_station, found, "cutting")),
        Offered("placing station", partial(open_station, found, "placing")),
        Offered("overview", Chosen("open", path, "overview")),
        Offered("change the plan", partial(change_plan, found)),
    ]
    so_far = "" if standing.signed_off or found.copy else " so far"
    offers = [
        Offered(f"summary{so_far}", Chosen("summary", path)),
        Offered(
            f"summary{so_far} as HTML: saved next to the case",
            Chosen("report", path, report=Report("html")),
            "h",
        ),
        Offered(
            f"summary{so_far} as a PDF: saved next to the case",
            Chosen("report", path, report=Report("pdf")),
            "p",
        ),
        Offered("reports: every format, for whom, what is left out", reports_menu(path), "r"),
        Offered("verify: is the record unchanged?", Chosen("verify", path)),
        Offered("back up: a copy saved next to the case", Chosen("back up", path)),
        Offered("new case: this plan is its template", Chosen("write plan", path)),
    ]
    more = Offered("more: state, hand-over, export, archive …", _more_menu(found, everything), "m")
    copies = _copies(found, everything, now_ms)
    if found.copy:  # what is entered into a copy is not in the case
        offered = [*offers, more]
    elif standing.signed_off:
        offered = [
            *offers[:4],
            Offered("locked copy: nothing can be entered in it", Chosen("lock", path)),
            *offers[4:],
            Offered("reopen it", partial(reopen, found)),
            Offered("overview", Chosen("open", path, "overview")),
            more,
            *copies,
        ]
    else:
        offered = [
            *live,
            *offers,
            Offered("final count, by two people one after the other", Chosen("final count", path), "k"),
            Offered("sign off, by two people", Chosen("sign off", path)),
            more,
            *copies,
        ]
    offered.append(Offered("replay: the day as it was", Chosen("replay", path)))
    return Menu(named(found), state_words(found, now_ms, alone=True), numbered(*offered), BAR)


def _copies(found: FoundCase, everything: Found, now_ms: int) -> list[Offered]:
    """Locked copies and backups of a case, if there are any."""
    copies = _copies_of(found, everything)
    if not copies:
        return []
    rows = numbered(
        *(Offered(named(each), each, more=state_words(each, now_ms, alone=False)) for each in copies)
    )
    menu = Menu(f"Copies of {named(found)}", (), rows, BAR)
    return [Offered(several(len(copies), "copy", "copies"), menu, "c")]


# More.


def _copies_of(found: FoundCase, everything: Found) -> list[FoundCase]:
    begun = found.standing and found.standing.begun
    return [
        each
        for each in everything.cases
        if each.copy and each.standing is not None and each.standing.begun == begun
    ]


def _more_menu(found: FoundCase, everything: Found) -> Menu:
    """What is wanted less often of a case."""
    path = found.path
    offered = [
        Offered("state in plain lines", Chosen("status", path)),
        Offered("hand-over: what the person who comes has to know", Chosen("hand over", path)),
        Offered("grafts left, and what became of them", Chosen("fates", path)),
        Offered("re-plan: a proposal for the rest", Chosen("re-plan", path)),
        Offered("flow: which size runs out when", Chosen("flow", path), "f"),
        Offered("verify against the seal on a printed summary", partial(verify_seal, path)),
        Offered("export all entries: JSON lines", Chosen("export", path, typed=".jsonl")),
        Offered("export all entries: Parquet table", Chosen("export", path, typed=".parquet")),
    ]
    if not found.copy:
        copies = tuple(each.path for each in _copies_of(found, everything))
        offered.append(Offered("restore a copy in its place", partial(put_back, path, copies)))
    if found.standing is not None and found.standing.signed_off:
        offered.append(Offered("add it to an archive", partial(put_away, path, everything.archives), "a"))
    elif not found.copy:
        offered.append(
            Offered("add the taps of a rescue file", partial(rescue, path, everything.events), "t")
        )
    return Menu(f"{named(found)}: more", (), numbered(*offered), BAR)


def verify_seal(path: Path) -> Flow:
    """The seal that was printed."""
    about = (
        "It is at the foot of a summary: a number, a colon, digits and letters. Eight of these are enough."
    )
    typed = yield Menu("Verify against a printed seal", (about,), (), BAR, asks="Seal:")
    return Chosen("verify seal", path, typed=str(typed))


def put_back(path: Path, copies: tuple[Path, ...]) -> Flow:
    """Which copy takes the place of a case."""
    about = "What is there now is looked at first, and kept under another name."
    copy = path_of((yield file_menu(f"Restore {path.name}: from which copy?", copies, about)))
    sure = (
        Item("y", "restore it, if that loses no entry", "keep"),
        Item("l", "restore it even so: entries of the present file are in that file only", "lose"),
        Item("n", "not now", ""),
    )
    title = f"Put {copy.name} in the place of {path.name}?"
    answer = yield Menu(title, (), sure, BAR, begin=NOWHERE, own_keys=True)
    return Chosen("restore", path, file=copy, typed=str(answer)) if answer else None


def rescue(path: Path, events: Sequence[Path]) -> Flow:
    """Which rescue file's taps are added."""
    found = tuple(each for each in events if ".rescue-" in each.name)
    about = "Taps that never reached the case. What is there already is not taken twice."
    return Chosen("rescue", path, file=path_of((yield file_menu("Add which rescue file?", found, about))))


def put_away(path: Path, archives: tuple[Path, ...]) -> Flow:
    """To which archive a signed-off case is added, and whether days stay."""
    about = "Without code, initials, typed words. A folder that is not there yet is made."
    archive = path_of((yield file_menu("Add it to which archive?", archives, about)))
    days = numbered(Offered("only the month stays", ""), Offered("the day and every time stay", "dates"))
    kept = yield Menu(f"Add it to {archive.name}", (), days, BAR)
    return Chosen("archive", path, file=archive, typed=str(kept))


# What is asked before something is done.


def open_station(found: FoundCase, role: Role) -> Flow:
    """Who sits down at a station."""
    who = yield initials_menu(
        f"{role.capitalize()} station: who sits there?", _plan(found), role, _opener(found)
    )
    return Chosen("open", found.path, role, str(who))


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


def _opener(found: FoundCase) -> str:
    return found.standing.opened_by if found.standing is not None else ""


def _plan(found: FoundCase) -> Plan:
    if found.standing is None:
        raise LookupError(f"{found.path} cannot be read")
    return found.standing.plan
