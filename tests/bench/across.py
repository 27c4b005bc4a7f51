"""Totals over many closed cases: out of an archive, beside listing case files, beside folding each."""

from __future__ import annotations

import shutil
from contextlib import closing
from pathlib import Path

from orroom.archive.adding import Archive, How
from orroom.case.events import CaseSignedOff, Entry, Stamp
from orroom.figures.counts import by_size
from orroom.record.case_clock import case_clock
from orroom.record.case_file import CaseFile
from orroom.record.cases import found_cases
from tests.bench.archive import filled, made_cases, totals
from tests.bench.long_cases import long_case
from tests.bench.measuring import Row, Target, Topic, interleaved, took_ms
from tests.bench.ways_of_counting import replayed

#: Entries of each case: a recorded day.
LENGTH = 3000
WANTED = 10_000


def measure(folder: Path, *, quick: bool) -> Topic:
    """Folders of copies of a closed case, listed and folded in turn."""
    files, folded, archived = (100, 5, 300) if quick else (1000, 50, WANTED)
    topic = Topic(
        "totals over closed cases",
        f"An archive of {archived:,} cases (`archive.py` says how they are made): totals by size out of it. "
        f"Beside it {files:,} closed cases of {LENGTH:,} entries, a folder each. Listing: from asking "
        "`found_cases` until plans, counts and stations of all are there and added up, per case; and opening "
        "each and folding it. The files are in the page cache.",
    )
    closed, listing = _closed(folder / "closed.orroom"), folder / "listed"
    for number in range(files):
        (listing / f"{number:04}").mkdir(parents=True)
        shutil.copy(closed, listing / f"{number:04}" / f"CASE-{number:04}.orroom")
    paths = sorted(listing.glob("*/*.orroom"))

    def listed() -> float:
        standings = [each.standing for each in found_cases([listing])]
        return float(sum(each.cut for each in standings if each is not None))

    def opened_and_folded() -> float:
        return float(
            sum(count.usable for path in paths[:folded] for count in by_size(replayed(path)).values())
        )

    found = interleaved(
        {
            "listed": lambda: took_ms(listed) / files,
            "opened and folded": lambda: took_ms(opened_and_folded) / folded,
        },
        3,
    )
    rows = {name: Row(name, took, "ms a case") for name, took in found.items()}
    topic.rows += rows.values()
    for name, row in rows.items():
        seconds = row.p50 * WANTED / 1000
        topic.notes.append(
            f"{name}: {WANTED:,} cases would take {seconds:.1f} s (extrapolated, in proportion)"
        )
    archive = _archive(folder / "archived", archived)
    out_of_it = Row(
        f"all {archived:,} out of the archive", [took_ms(lambda: totals(archive)) for _ in range(9)]
    )
    topic.rows.append(out_of_it)
    topic.targets.append(Target(f"{archived:,} cases out of the archive", out_of_it.p50 / 1000, 1.5, "s"))
    assert listed() / files == opened_and_folded() / folded, "the listing and the fold differ"
    return topic


def _archive(folder: Path, cases: int) -> Path:
    """An archive of so many cases, its catalogue made."""
    folder.mkdir()
    archive = folder / "archive"
    with closing(Archive(archive)) as kept:
        for path in made_cases(folder, 3):
            kept.add(path, How(site="north"))
    filled(archive, cases, ("cases",))
    totals(archive)
    return archive


def _closed(path: Path) -> Path:
    """A case that is signed off, as one file with nothing in its log."""
    long_case(path, LENGTH)
    with CaseFile.open(path) as case_file:
        now_ms = case_clock(case_file).now_ms()
        with case_file.turn():
            seq = case_file.seal().seq + 1
            case_file.append([Entry(seq, Stamp(now_ms, "desk", seq, "NP"), CaseSignedOff(second="GH"))])
        case_file.settle()
    return path
