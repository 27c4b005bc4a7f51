"""What is told of a case: the whole process that writes its summary."""

from __future__ import annotations

import resource
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

from orroom.cli.reports import FORMATS
from tests.bench.measuring import Row, Target, Topic, interleaved, took_ms
from tests.bench.sitters import case_of

NOTHING = "a process that does nothing"
LIBRARIES = "the libraries alone"
#: What a page cannot do without: the command line, entries, the summary's model.
IMPORTS = "import click, msgspec.json, pydantic.main"


def measure(folder: Path, *, quick: bool) -> Topic:
    """Each format that there is, in turn."""
    topic = Topic(
        "summary",
        "From the start of `orroom summary CASE --format … --output FILE` until the process has ended; 5,000 "
        "entries in the case, all of which it also verifies.",
    )
    case = case_of(folder / "told.orroom", 5000)
    programs = {NOTHING: [sys.executable, "-c", "pass"], LIBRARIES: [sys.executable, "-c", IMPORTS]}
    for form in ("md", "html", "pdf"):
        if form == "pdf" and ("pdf" not in FORMATS or find_spec("typst") is None):
            topic.notes.append("PDF: not measured, `orroom summary` has no such format here")
            continue
        known = ["summary", str(case), "--format", form, "--output", str(folder / "summary")]
        programs[form] = [sys.executable, "-m", "orroom", *known]

    processor: dict[str, list[float]] = {name: [] for name in programs}

    def run_s(name: str) -> float:
        (folder / "summary").unlink(missing_ok=True)
        before = _burnt_s()
        took = took_ms(lambda: subprocess.run(programs[name], check=True, stdout=subprocess.DEVNULL)) / 1000
        processor[name].append(_burnt_s() - before)
        return took

    for name in programs:  # the first of each writes the bytecode
        run_s(name)
        processor[name].clear()
    found = interleaved({name: lambda name=name: run_s(name) for name in programs}, 2 if quick else 8)
    rows = {name: Row(name, took, "s") for name, took in found.items()}
    topic.rows += rows.values()
    topic.rows += [Row(name, took, "s", "processor time") for name, took in processor.items()]
    topic.targets.append(Target("HTML, p50", rows["html"].p50, 0.5, "s"))
    topic.notes.append(
        f"{LIBRARIES} ({IMPORTS}) take {rows[LIBRARIES].p50 / rows['html'].p50:.0%} of a page's time"
    )
    if "pdf" in rows:
        topic.targets.append(Target("PDF, p50", rows["pdf"].p50, 1.5, "s"))
    return topic


def _burnt_s() -> float:
    """Processor time of all processes that this one has waited for."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
