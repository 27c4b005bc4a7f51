"""Work that needs no case of the list: records from elsewhere, key cards, small sums, archives, guide."""

from functools import partial
from pathlib import Path
from typing import Final

from orroom.screens.start.chosen import BAR, Chosen, Flow, Found, Offered, file_menu, numbered, path_of
from orroom.screens.start.lines import Menu

CARDS: Final = ("cutting", "placing", "overview", "count")


def other_menu(found: Found) -> Menu:
    """Work that needs no case of the list."""
    offered = [
        Offered("import: a case file from exported entries", partial(bring_in, found.events)),
        Offered("key cards to print", _cards_menu()),
        Offered("spacing of sites for a density", density),
        Offered("scalp elasticity", elasticity),
        Offered("archive: a report on closed cases", partial(report_on, found.archives)),
        Offered("archive: learn how wrong forecasts were", partial(learn_from, found.archives)),
        Offered("guide: longer pages", _guide_menu(found)),
        Offered("this machine: is it fit for a case?", Chosen("machine"), "m"),
        Offered("settings of the clinic", Chosen("settings"), "s"),
    ]
    return Menu("Other work", (), numbered(*offered), BAR)


def bring_in(events: tuple[Path, ...]) -> Flow:
    """Which file of entries becomes a case file."""
    about = "The case gets a folder of its own and is the same record, entry by entry."
    answer = yield file_menu("Import: from which file of entries?", events, about)
    return Chosen("import", file=path_of(answer))


def _cards_menu() -> Menu:
    offered = [
        Offered("final count" if each == "count" else f"{each} station", Chosen("key card", typed=each))
        for each in CARDS
    ]
    return Menu("A key card, on one A5 page: for what?", (), numbered(*offered), BAR)


def density() -> Flow:
    """The density whose spacing is worked out."""
    typed = yield Menu("Spacing of sites", (), (), BAR, asks="Sites per cm²:")
    return Chosen("density", typed=str(typed))


def elasticity() -> Flow:
    """What was measured on the scalp."""
    about = "Two marks 50 mm apart; the distance between them when the scalp is pressed together."
    typed = yield Menu("Scalp elasticity", (about,), (), BAR, asks="Millimetres when pressed:")
    return Chosen("elasticity", typed=str(typed))


def report_on(archives: tuple[Path, ...]) -> Flow:
    """Which archive is reported on, and how it is to be read."""
    archive = path_of((yield file_menu("Report on which archive?", archives, "An archive is a folder.")))
    forms = numbered(
        Offered("read it here", "text"),
        Offered("a page to print: HTML, next to the archive", "html"),
        Offered("a table: CSV, next to the archive", "csv"),
    )
    form = yield Menu(f"Report on {archive.name}: how?", (), forms, BAR)
    return Chosen("archive report", archive, typed=str(form))


def learn_from(archives: tuple[Path, ...]) -> Flow:
    """From which archive forecasts learn."""
    about = "Its last 10 to 50 cases correct the overview's finish from then on."
    return Chosen("habits", path_of((yield file_menu("Learn from which archive?", archives, about))))


def _guide_menu(found: Found) -> Menu:
    offered = [Offered(title, Chosen("guide", typed=page)) for page, title in found.guide]
    return Menu("The guide", (), numbered(*offered), BAR)
