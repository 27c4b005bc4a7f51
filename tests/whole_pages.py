"""Whole pages, as somebody reads them: of an eventful day, every screen, report, question and help.

``python tests/whole_pages.py`` writes them again, after a change that is meant; read what changed with
``git diff --word-diff tests/recorded/pages``.
"""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields, replace
from functools import cache, partial
from pathlib import Path
from tempfile import TemporaryDirectory

from cases import Record, opened_case, small_plan
from eventful_day import closed_day, counted_day, eventful_day
from painted import PAINTERS
from start_menus import NOW_MS, UNREADABLE, a_case
from three_days import day_1, day_2
from whole_command_line import COMMANDS, what_it_says
from whole_refusals import bad_entries, no_toml, refusals

from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.case.final_count import groups_to_count, person_counts
from orroom.case.replay import Moment, Replay
from orroom.case.settings import Checks
from orroom.case.terms import CAUTIONS, ROLES, Role, visible
from orroom.cli.commands_page import commands_page
from orroom.cli.data_page import data_page
from orroom.cli.status import card_of
from orroom.errors import OrroomError
from orroom.figures.case_times import case_times
from orroom.figures.pace.rest_of_day import foretold
from orroom.figures.prompts import prompts
from orroom.figures.recount import recount
from orroom.figures.replan.proposal import aims_now, expected_supply, replan
from orroom.files.plan_draft import draft_of
from orroom.formats.csv_tables import to_csv_tables
from orroom.formats.fhir.bundle import to_fhir
from orroom.formats.flow_page import bars, flow_blocks
from orroom.formats.markdown import markdown
from orroom.formats.sheets.written import to_html
from orroom.formats.summary_blocks import blocks_of
from orroom.formats.summary_formats import written
from orroom.record.cases import FoundCase, FoundPlan
from orroom.screens.plan_form.form import PAGE_NAMES, Form
from orroom.screens.plan_form.lines import form_lines
from orroom.screens.replay.keys import KEYS
from orroom.screens.replay.lines import replay_lines
from orroom.screens.replay.player import Player
from orroom.screens.replay.strip import strip_of
from orroom.screens.settings.lines import Look, settings_lines
from orroom.screens.settings.pages import pages as settings_pages
from orroom.screens.settings.sheet import Sheet
from orroom.screens.start.case_menus import case_menu
from orroom.screens.start.chosen import Chosen, Found
from orroom.screens.start.lines import Menu, Text
from orroom.screens.start.menus import home_menu
from orroom.screens.stations import (
    checking,
    correcting,
    final_questions,
    prompt_questions,
    questions,
    site_making,
    team_questions,
)
from orroom.screens.stations.views.compared import compared_lines
from orroom.screens.stations.views.final_count import CountUnderWay, counting_lines
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.handover import handover_lines
from orroom.screens.stations.views.overview import overview_book
from orroom.screens.stations.views.pages import figure_blocks, help_blocks
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Step
from orroom.screens.terminal.pages import paged
from orroom.screens.terminal.painting import Line, text_of
from orroom.summary.summary import Summary, summarise
from orroom.words.entries import entry_words
from orroom.words.explanation import Asked
from orroom.words.fates import fates_overview
from orroom.words.plan import plan_overview
from orroom.words.replan import replan_text
from orroom.words.spacing import plan_spacing
from orroom.words.status import changes, finish_expected, present, status_at, text
from orroom.words.worked_out import worked_out

FOLDER = Path(__file__).parent / "recorded" / "pages"
SIZES = ((80, 24), (120, 40), (200, 60), (40, 12))


DAYS = ("under way", "counted", "closed", "second")


@cache
def day(kind: str) -> Record:
    """A day under way, counted, closed, or the second day of a case of two days."""
    if kind == "second":
        return day_2(day_1().state)
    return {"under way": eventful_day, "counted": counted_day, "closed": closed_day}[kind]()


@cache
def summary(kind: str) -> Summary:
    return summarise(day(kind).state, "5f" * 32)


# Reports


def in_json(kind: str) -> str:
    return json.dumps(json.loads(summary(kind).model_dump_json()), indent=0, ensure_ascii=False)


def in_tables(kind: str) -> str:
    tables = to_csv_tables(summary(kind))
    return "\n".join(f"{name}\n{table.replace(chr(13), '')}" for name, table in tables.items())


def first_page(kind: str) -> str:
    """The first page as it is in a browser."""
    whole = written(summary(kind), "html")
    return whole[whole.index("<article") : whole.index("</article>")].replace("><", ">\n<")


def in_fhir(kind: str) -> str:
    """Only what somebody reads in a bundle: words, numbers and units, not how it is built."""
    bundle = json.loads(to_fhir(summary(kind), "r4b"))
    return "\n".join(_leaves(bundle))


def _leaves(part: object, name: str = "") -> Iterator[str]:
    match part:
        case dict():
            for key, each in part.items():
                if key not in {"fullUrl", "reference", "system", "div"}:
                    yield from _leaves(each, key)
        case list():
            for each in part:
                yield from _leaves(each, name)
        case _:
            yield f"{name}: {part}"


def page_of_flow(kind: str) -> str:
    record = day(kind)
    found = foretold(record.state, record.now_ms).flow
    times = case_times(record.state)
    return markdown(flow_blocks(found, times)) + "\n".join(bars(found, times))


def page_of_replan(kind: str) -> str:
    state = day(kind).state
    answer = replan(state.plan, state.tally.placed, expected_supply(state, {}), aims_now(state, ()))
    return replan_text(answer, state)


def page_of_status(kind: str) -> str:
    """The state, then what is said of every change while the day goes on."""
    record = day(kind)
    now = status_at(record.state, record.now_ms)
    later = status_at(record.state, record.now_ms + 40 * 60_000)
    half = fold(record.state.log[: record.state.seq // 2])
    earlier = status_at(half, record.now_ms - 50 * 60_000)
    found = (
        *present(now),
        *finish_expected(record.state, record.now_ms),
        *changes(earlier, now),
        *changes(now, later),
    )
    return "\n".join(text(each, now, plain=False) for each in found)


def page_of_entries(kind: str) -> str:
    state = day(kind).state
    return "\n".join(f"{entry.seq} {entry_words(entry.event, state.plan)}" for entry in state.log)


# Screens


def glance(kind: str, role: Role, size: tuple[int, int]) -> Glance:
    record = day(kind)
    known = foretold(record.state, record.now_ms)
    parts = {"width": size[0], "height": size[1], "harvest": "A", "foretold": known}
    return Glance(role=role, who="CD" if role == "placing" else "AB", **parts)


def screens(kind: str, role: Role) -> str:
    """A station's screen in every size, page by page."""
    record, said = day(kind), []
    for size in SIZES:
        shown = glance(kind, role, size)
        pages = overview_book(record.state, record.now_ms, shown).pages if role == "overview" else [None]
        for page in range(len(pages)):
            shown.page = page
            said.append(_words(PAINTERS[role](record.state, record.now_ms, shown), size))
    return "\n".join(said)


def _words(lines: Sequence[Line], size: tuple[int, int] | None = None) -> str:
    head = [] if size is None else [f"—— {size[0]} × {size[1]}"]
    return "\n".join([*head, *(text_of(each).rstrip() for each in lines)])


def over_it(kind: str, role: Role) -> str:
    """Its help, and how each figure on it is worked out."""
    record, shown = day(kind), glance(kind, role, (80, 24))
    asked = Asked(record.state, record.now_ms, shown.who, "A", "FRONT", shown.foretold)
    blocks = [*help_blocks(shown, CAUTIONS), *figure_blocks(shown, worked_out(role, asked))]
    return "\n".join(_words(page) for page in paged(blocks, 1000))


def final_count() -> str:
    """Somebody counts; then the counts of two are compared."""
    record, said = day("counted"), []
    first, second = (each.found for each in person_counts(record.state))
    compared = recount(record.state, first, second)
    for size in (SIZES[0], SIZES[-1]):
        shown = glance("counted", "overview", size)
        count = CountUnderWay("AB", groups_to_count(record.state), record.state.seq, blind=True)
        for key in ("1", "2", "enter", "enter", "down", "4"):
            count.press(key)
        said.append(_words(counting_lines(record.state, record.now_ms, shown, count), size))
        said += [
            _words(compared_lines(record.state, record.now_ms, shown, compared, at, turned), size)
            for at in (0, 2)
            for turned in range(3)
        ]
    return "\n".join(said)


def hand_over(kind: str) -> str:
    record = day(kind)
    return "\n".join(
        _words(handover_lines(record.state, record.now_ms, glance(kind, "placing", size), who), size)
        for size in SIZES
        for who in ("AB", "CD")
    )


# Questions


def asked(kind: str) -> str:
    """Every question of a station, by every way of answering it, and what is entered then."""
    record = day(kind)
    state, due = record.state, tuple(prompts(record.state, record.now_ms))
    counts = person_counts(state)
    found: dict[str, Callable[[], Dialogue]] = {
        "cut several": partial(questions.cut_several, state, "A"),
        "discard while cutting": partial(questions.discard_while_cutting, state, "A"),
        "discard": partial(questions.discard_waiting, state, "2", 3, "a"),
        "divide": partial(questions.divide, state, "A"),
        "go to zone": partial(questions.go_to_zone, state),
        "care": partial(prompt_questions.give_care, due[-1]),
        "care, early": partial(prompt_questions.give_early, due[0]),
        "which prompt": partial(prompt_questions.answer_which, due),
        "which was done": partial(prompt_questions.which_was_done, due, due[-1], "space"),
        "pause": partial(prompt_questions.pause, due),
        "harvest": partial(questions.harvest, state),
        "note": questions.note,
        "count a dish": partial(questions.count_dish, state, ("A", "B")),
        "segment": partial(questions.finish_segment, "A"),
        "hand over": partial(questions.hand_over, "AB"),
        "set aside": partial(questions.set_aside, "held", ("1", "1", "2"), "taps"),
        "leave": questions.leave,
        "leave practice": partial(
            questions.leave, Choice("End practice? This case is deleted.", questions.LEAVE.options)
        ),
        "spot check, cutting": partial(checking.spot_check, state, "cutting", None, _checks()),
        "spot check, placing": partial(checking.spot_check, state, "placing", "FRONT", _checks()),
        "cancel": partial(correcting.correct, lambda: state, lambda command: None),
        "move": partial(correcting.move, lambda: state, "CD"),
        "explain": partial(correcting.explain, state),
        "sites": partial(site_making.sites, state, "FRONT"),
        "stick and place": partial(site_making.stick_and_place, state, "MID"),
        "team": partial(team_questions.team, state),
        "who counts": partial(final_questions.who_counts, state),
        "fates": partial(final_questions.fates, state, None),
        "sign off": partial(final_questions.sign_off, state),
    }
    if counts:
        found["who counts again"] = partial(final_questions.who_counts_again, state, counts)
        compared = recount(state, counts[0].found, counts[1].found)
        found["take a count"] = partial(final_questions.take_count, compared.groups[2])
    return "\n".join(line for name, ask in found.items() for line in (f"—— {name}", *_ways(ask, ())))


def _checks() -> Checks:
    return Checks()


#: By this many answers a question has been asked in every way that differs.
DEEPEST = 5


def _ways(ask: Callable[[], Dialogue], answers: tuple[object, ...], deepest: int = DEEPEST) -> Iterator[str]:
    """What is asked after these answers, and so on with each answer to that; or what they enter."""
    dialogue, indent = ask(), "  " * len(answers)
    try:
        step = dialogue.send(None)
        for each in answers:
            step = dialogue.send(each)
    except StopIteration as done:
        yield f"{indent}→ {_entered(done.value)}"
        return
    yield f"{indent}{step.ask}{' ' + step.unit if isinstance(step, Number) else ''}"
    if step.means and not answers:
        yield f"{indent}({step.means})"
    if len(answers) < DEEPEST:
        for label, value in _answers(step):
            yield f"{indent}» {label}"
            yield from _ways(ask, (*answers, value))


def _answers(step: Step) -> Iterator[tuple[str, object]]:
    """All options but those of a long list alike; one that is wrong, if any is."""
    if isinstance(step, Choice):
        yield from ((f"{each.key} {each.label}", each.value) for each in step.options)
        return
    for value in (3, 40) if isinstance(step, Number) else ("QZ",):
        fault = step.fault(value) if step.fault else ""
        if fault:
            yield f"{value}: {fault}", value
        else:
            yield str(value), value
            return


def _entered(command: c.Command | None) -> str:
    return "nothing" if command is None else repr(command)


def refused() -> str:
    """What is refused on each day, before it is opened, and just after."""
    days = {"not opened": Record(), "opened": opened_case()} | {kind: day(kind) for kind in DAYS}
    return "\n".join(refusals(days))


# What belongs to no station


def start_menus() -> str:
    """Everything that can be chosen on the start screen, menu by menu."""
    counted = a_case("T-2", signed_off=True, stations=(), last_at_ms=NOW_MS - 90_000_000)
    copy = a_case("T-1", path=Path("T-1.copy-1.orroom"), copy=True, entries=299)
    plans = (FoundPlan(Path("plan.toml"), small_plan(), ""), FoundPlan(Path("bad.toml"), None, "size 1: bad"))
    found = Found(
        (a_case(), copy, counted, UNREADABLE),
        plans,
        where="~/cases",
        templates=plans[:1],
        events=(Path("taps.jsonl"),),
        archives=(Path("archive"),),
        guide=(("it", "For IT"),),
    )
    return "\n".join(_chosen(home_menu(found, NOW_MS), found, set(), ""))


def _chosen(value: object, found: Found, seen: set[str], indent: str) -> Iterator[str]:
    match value:
        case Menu():
            yield f"{indent}—— {value.title}"
            if value.title in seen:
                return
            seen.add(value.title)
            yield from (f"{indent}{each}" for each in (*value.about, *value.notes, value.asks) if each)
            for item in value.all:
                more = " · ".join(item.more)
                yield f"{indent}{item.key} {item.label}{more and ' · '}{more}"
                yield from _chosen(item.value, found, seen, f"{indent}    ")
        case Text():
            yield f"{indent}{value.title}: {value.text}"
        case FoundCase():
            yield from _chosen(case_menu(value, found, NOW_MS), found, seen, indent)
        case flow_of if callable(flow_of):
            flow = flow_of()
            try:
                step = flow.send(None)
                while True:
                    yield from _chosen(replace(step, items=()), found, set(), indent)
                    yield from (f"{indent}{each.key} {each.label}" for each in step.items)
                    step = flow.send(step.items[0].value if step.items else "AB")
            except StopIteration as done:
                yield f"{indent}→ {_set(done.value)}"
            except OrroomError:
                yield f"{indent}→ reads the case file"
        case Chosen():
            yield f"{indent}→ {_set(value)}"


def _set(chosen: object) -> str:
    """What is set in it."""
    parts = ((each.name, getattr(chosen, each.name)) for each in fields(chosen)) if chosen else ()
    return ", ".join(f"{name} {_set(part) if name == 'report' else part}" for name, part in parts if part)


def replayed() -> str:
    """The day replayed: as it was half-way, seen as each of the stations, and its strip; its keys."""
    record, said = day("closed"), [f"{key.shown} {key.word}: {key.help}" for key in KEYS]
    replay = Replay(list(record.state.log))
    for view in ("overview", "cutting", "placing", "count"):
        for size in SIZES[:2]:
            for seq in (40, record.state.seq):
                at = Moment(seq, replay.entries[seq - 1].stamp.at_ms)
                player = Player(at, view, "AB", width=size[0], height=size[1])
                strip = strip_of(replay, size[0])
                said.append(_words(replay_lines(replay, strip, player), size))
    return "\n".join(said)


def plan_form() -> str:
    form, said = Form(draft_of(small_plan())), []
    for size in SIZES[:2]:
        for page in range(len(PAGE_NAMES)):
            form.go(page)
            said.append(_words(form_lines(form, *size, "plan.toml"), size))
    return "\n".join(said)


def settings() -> str:
    with TemporaryDirectory() as folder:
        sheet, said = Sheet(Path(folder) / "settings.toml"), []
        for page in range(len(settings_pages(sheet))):
            look = Look(page=page, row=0, width=80, height=60)
            said.append(_words(settings_lines(settings_pages(sheet), "settings.toml", None, look)))
            for row in settings_pages(sheet)[page].rows:
                step = next(row.dialogue())  # what it is answered with is written at once
                options = step.options if isinstance(step, Choice) else ()
                keys = " · ".join(f"{each.key} {each.label}" for each in options)
                said.append(f"{row.name}: {step.ask} {keys}")
        return "\n".join(said)


def plan_texts() -> str:
    plan = small_plan()
    second = day("second").state.plan
    return "\n".join((plan_overview(plan), plan_spacing(plan), plan_overview(second)))


def sheets() -> str:
    """The words on what is printed from a plan, sheet by sheet."""
    body = to_html(small_plan()).partition("<body")[2]
    return "\n".join(each.strip() for each in re.findall(r">([^<>]+)<", body) if each.strip())


PAGES: dict[str, Callable[[], str]] = {
    **{
        f"summary, {kind}": partial(lambda kind: markdown(blocks_of(summary(kind))), kind)
        for kind in ("under way", "closed", "second")
    },
    "summary in JSON": partial(in_json, "closed"),
    "summary in tables": partial(in_tables, "counted"),
    "summary in FHIR": partial(in_fhir, "closed"),
    "first page": partial(first_page, "closed"),
    "first page, counted": partial(first_page, "counted"),
    **{f"flow, {kind}": partial(page_of_flow, kind) for kind in ("under way", "second")},
    **{f"re-plan, {kind}": partial(page_of_replan, kind) for kind in ("under way", "second")},
    "status": partial(page_of_status, "under way"),
    "entries": partial(page_of_entries, "closed"),
    "fates": lambda: fates_overview(day("counted").state),
    **{f"{role}, {kind}": partial(screens, kind, role) for role in ROLES for kind in ("under way", "closed")},
    **{f"{role}, explained": partial(over_it, "under way", role) for role in ROLES},
    "final count": final_count,
    "hand-over": partial(hand_over, "under way"),
    **{f"asked, {kind}": partial(asked, kind) for kind in ("under way", "counted")},
    "refused": lambda: "\n".join(
        refusals({"not opened": Record(), "opened": opened_case(), **{kind: day(kind) for kind in DAYS}})
    ),
    "bad entries": lambda: "\n".join(bad_entries(opened_case())),
    "no TOML": lambda: "\n".join(no_toml()),
    "plan form": plan_form,
    "settings": settings,
    "start": start_menus,
    "replay": replayed,
    "plan": plan_texts,
    "sheets": sheets,
    "key cards": lambda: "\n".join(card_of(each)[0] for each in (*ROLES, "count")),
    "commands": commands_page,
    "data": data_page,
    **{f"command line, {what}": partial(what_it_says, *lines) for what, lines in COMMANDS.items()},
}


def page(name: str) -> str:
    """A page as it is now."""
    return visible(PAGES[name]()).rstrip("\n") + "\n"


def file_of(name: str) -> Path:
    """Where it is recorded."""
    return FOLDER / f"{name.replace(', ', '-').replace(' ', '-')}.txt"


if __name__ == "__main__":
    os.environ["ORROOM_SETTINGS"] = str(FOLDER / "none.toml")
    FOLDER.mkdir(exist_ok=True)
    for each in sys.argv[1:] or PAGES:
        file_of(each).write_text(page(each), "utf-8")
