"""Which report of a case is wanted: its format, what is left out of it, whole or its first page alone."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

from orroom.screens.start.chosen import BAR, Chosen, Flow, Offered, Report, file_menu, numbered, path_of
from orroom.screens.start.lines import Menu

if TYPE_CHECKING:
    from orroom.formats.chosen import Whom
    from orroom.summary.summary import ShareLevel

#: The formats of a report, each with what it is for; the first three have a first page.
REPORTS: Final = (
    ("HTML: a page for a browser", Report("html")),
    ("PDF: to print", Report("pdf")),
    ("Markdown: plain text", Report("md")),
    ("CSV: a folder of tables for a spreadsheet", Report("csv")),
    ("JSON: for programs", Report("json")),
    ("FHIR R4B: for a hospital's records", Report("fhir")),
    ("FHIR R5: for a hospital's records", Report("fhir", fhir="r5")),
)
FIRST_PAGES: Final = frozenset({"html", "pdf", "md"})
#: What can be left out of a report.
SHARED: Final[tuple[tuple[str, ShareLevel], ...]] = (
    ("everything", "full"),
    ("no initials: roles instead", "roles"),
    ("anonymous: also no dates, codes or typed words", "anonymous"),
)


#: Whom a report can be for, each with its key.
WHOM: Final[tuple[tuple[str, str, Whom], ...]] = (
    ("s", "for the surgeon", "surgeon"),
    ("a", "for the anaesthesia record", "anaesthesia"),
    ("m", "for a quality meeting", "meeting"),
    ("r", "for research", "research"),
    ("f", "for the patient's file: grafts, hairs, density by area", "file"),
)


def _report(path: Path, report: Report) -> Chosen:
    return Chosen("report", path, report=report)


def reports_menu(path: Path) -> Menu:
    """Every format of a summary, each at every sharing level, whole or its first page alone."""
    offered = [Offered(words, _shared_menu(path, words, report)) for words, report in REPORTS]
    offered.append(Offered("compare it with a paper count", partial(compare, path)))
    about = "Each is written next to the case."
    return Menu("Reports: in which format?", (about,), numbered(*offered), BAR)


def _shared_menu(path: Path, words: str, report: Report) -> Menu:
    offered = [Offered(said, _report(path, replace(report, share=share))) for said, share in SHARED]
    if report.form in FIRST_PAGES:
        offered += [
            Offered(f"the first page alone, {said}", _report(path, replace(report, share=share, brief=True)))
            for said, share in SHARED
        ]
        offered += [Offered(said, _report(path, replace(report, whom=whom)), key) for key, said, whom in WHOM]
    return Menu(f"{words}: with what in it?", (), numbered(*offered), BAR)


def compare(path: Path) -> Flow:
    """Which paper count the case is compared with."""
    about = "A file with a line for each size: size,grafts,hairs."
    answer = yield file_menu("Compare with which paper count?", (), about)
    return Chosen("compare", path, file=path_of(answer))
