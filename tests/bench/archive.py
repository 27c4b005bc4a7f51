"""An archive of many cases: ``python -m tests.bench.archive [--quick] [--json]`` prints what it takes.

A few days are simulated, signed off, written as case files and added as anybody would. The other cases are
those days again under other pseudonyms, months and sites, written by DuckDB: the same files to read, without
hours of simulation. So *add* is measured on the distinct days only, everything else on the whole archive.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from orroom.archive.adding import Archive, How
from orroom.archive.catalogue import SUFFIX, rows
from orroom.archive.parquet import database
from orroom.archive.pseudonyms import beside
from orroom.case import commands as c
from orroom.case.closing import open_at_sign_off
from orroom.case.evolve import fold
from orroom.demo.recorded import recorded
from orroom.files.plan_file import load_plan
from orroom.record.case_file import CaseFile
from orroom.recording import record_all, record_once

SAMPLES = Path(__file__).parents[2] / "sample_cases"
PLANS = ("frontal-midscalp", "frontal-midscalp", "vertex", "hairline")
SITES = ("north", "south", "west")
FIRST_DAY_MS = 1_609_746_000_000  # 2021-01-04
MONTH_MS = 2_629_800_000
MONTHS = 60


def made_cases(folder: Path, days: int) -> list[Path]:
    """Case files of so many simulated days, signed off."""
    found = []
    for number in range(days):
        plan = load_plan(SAMPLES / PLANS[number % len(PLANS)] / "plan.toml")
        entries = recorded(plan, number, FIRST_DAY_MS + number % MONTHS * MONTH_MS, 60)
        path = folder / f"day-{number}.orroom"
        with CaseFile.create(path) as case_file:
            record_all(case_file, entries, str(path))
            left = open_at_sign_off(fold(case_file.entries_after(0)))
            why = {"open_because": "a simulated day", "informed": "CD"} if left else {}
            record_once(case_file, c.SignOff(second="CD", **why), "AB")
        found.append(path)
    return found


def filled(folder: Path, cases: int, parts: tuple[str, ...]) -> None:
    """Fill an archive up to so many cases: those that it has, under other pseudonyms, months and sites."""
    having = sorted((folder / "cases").glob("site=*/year=*/*.parquet"))
    chance = random.Random(1)
    with closing(database()) as connection:
        for number in range(len(having), cases):
            kept, month = chance.choice(having), chance.randrange(MONTHS)
            year, site, name = 2021 + month // 12, chance.choice(SITES), f"{number:016x}"
            first = f"DATE '{year}-{month % 12 + 1:02d}-01'"
            for part in parts:
                changed = f"'{name}' AS case_id" + (f", {first} AS month" if part == "cases" else "")
                path = folder / part / f"site={site}" / f"year={year}" / f"{name}.parquet"
                path.parent.mkdir(parents=True, exist_ok=True)
                source = folder / part / kept.relative_to(folder / "cases")
                connection.execute(
                    f"COPY (SELECT * REPLACE ({changed}) FROM read_parquet('{source}', "
                    f"hive_partitioning = false)) TO '{path}' (FORMAT parquet, COMPRESSION zstd)"
                )


def took_ms(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def program(*arguments: str) -> None:
    """A whole run of the program, output thrown away."""
    subprocess.run(
        [sys.executable, "-m", "orroom", *arguments], check=True, stdout=subprocess.DEVNULL, timeout=600
    )


def size_mb(folder: Path) -> float:
    return sum(path.stat().st_size for path in folder.rglob("*.parquet")) / 1e6


def asked(folder: Path, part: str, select: str) -> float:
    """How long a query over one part takes in a fresh database, in ms."""
    with closing(database()) as connection:
        files = f"read_parquet('{folder}/{part}/site=*/year=*/*.parquet', hive_partitioning = true)"
        return took_ms(lambda: connection.execute(f"SELECT {select} FROM {files}").fetchall())


TOTALS = "count(*), sum(placed), sum(placed_1), sum(placed_2), sum(placed_3), sum(hairs_placed)"
BY_SIZE = "histogram(size) FILTER (WHERE kind = 'grafts_placed' AND stands), sum(count)"


def totals(folder: Path) -> None:
    """Totals by size of all cases, the way a report gets at them."""
    with closing(database()) as connection:
        rows(connection, folder, f"SELECT {TOTALS} FROM kept")


def measured(days: int, cases: int, most: int) -> dict[str, object]:
    """Every figure, by its name with its unit."""
    found: dict[str, object] = {}
    with tempfile.TemporaryDirectory() as scratch:
        folder, archive = Path(scratch), Path(scratch) / "archive"
        files = made_cases(folder, days)
        entries = []
        for path in files:
            with CaseFile.open(path, read_only=True) as case_file:
                entries.append(case_file.seal().seq)
        found["distinct days added"] = days
        found["entries a case, mean"] = round(statistics.mean(entries))
        with closing(Archive(archive)) as archived:
            worked = time.process_time()
            adding = sorted(
                took_ms(lambda path=path: archived.add(path, How(site="north"))) for path in files
            )
            worked = time.process_time() - worked
            again = [took_ms(lambda path=path: archived.add(path, How(site="north"))) for path in files]
        found["add a case, median ms"] = round(statistics.median(adding), 1)
        found["add a case, mean ms of processor time"] = round(worked / days * 1000, 1)
        found["add a case, slowest ms"] = round(adding[-1], 1)
        found["add a case that is there, median ms"] = round(statistics.median(again), 1)
        folding = statistics.median(map(_folded_ms, files))
        found["opening and folding a case, median ms"] = round(folding, 1)
        found["add a case over opening and folding it"] = round(statistics.median(adding) / folding, 1)
        with closing(Archive(folder / "together")) as together:
            took = took_ms(lambda: list(together.add_all(files, How())))
        found["add all in one go, ms a case, processes begun"] = round(took / days, 1)
        found["case files, MB a case"] = round(sum(path.stat().st_size for path in files) / 1e6 / days, 3)
        filled(archive, cases, ("events", "cases"))
        found["cases in the archive"] = cases
        found["size of cases, MB"] = round(size_mb(archive / "cases"), 1)
        found["size of events, MB"] = round(size_mb(archive / "events"), 1)
        for form in ("html", "csv"):
            run = [took_ms(lambda form=form: program("archive", "report", str(archive), "--format", form))]
            run.append(
                took_ms(lambda form=form: program("archive", "report", str(archive), "--format", form))
            )
            found[f"report as {form}, whole process, ms"] = [round(each) for each in run]
        found["totals, catalogue up to date, ms"] = [
            round(took_ms(lambda: totals(archive))) for _ in range(5)
        ]
        found["totals, opening every file, ms"] = [round(asked(archive, "cases", TOTALS)) for _ in range(3)]
        found["placed by size from all events, ms"] = [
            round(asked(archive, "events", BY_SIZE)) for _ in range(2)
        ]
        filled(archive, most, ("cases",))
        beside(archive, SUFFIX).unlink()
        found[f"the same of {most:,} cases, catalogue not there yet, ms"] = round(
            took_ms(lambda: totals(archive))
        )
        found[f"the same of {most:,} cases, catalogue up to date, ms"] = [
            round(took_ms(lambda: totals(archive))) for _ in range(5)
        ]
        found[f"the same of {most:,} cases, opening every file, ms"] = [
            round(asked(archive, "cases", TOTALS)) for _ in range(3)
        ]
    return found


def _folded_ms(path: Path) -> float:
    def folded() -> None:
        with CaseFile.open(path, read_only=True) as case_file:
            fold(case_file.entries_after(0))

    return took_ms(folded)


def main() -> None:
    """Make, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="few cases: only to see that it runs")
    parser.add_argument("--json", action="store_true")
    chosen = parser.parse_args()
    load = os.getloadavg()
    found = measured(4, 30, 60) if chosen.quick else measured(50, 5000, 10_000)
    about = {
        "python": platform.python_version(),
        "cores": os.cpu_count(),
        "load before": round(load[0], 2),
        "load after": round(os.getloadavg()[0], 2),
    }
    if chosen.json:
        print(json.dumps({**about, **found}, indent=1))
        return
    print("| what | measured |\n|---|---|")
    for name, value in {**about, **found}.items():
        print(f"| {name} | {' / '.join(map(str, value)) if isinstance(value, list) else value} |")


if __name__ == "__main__":
    main()
