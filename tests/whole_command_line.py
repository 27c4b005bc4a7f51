"""What the command line says in the course of a case, and when something is wrong, as somebody reads it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from archived import closed_day, written
from cases import Record, opened_case
from click.testing import CliRunner
from eventful_day import closed_day as eventful_closed
from eventful_day import counted_day, eventful_day

from orroom.case import commands as c
from orroom.case.events import Stamp
from orroom.cli import main
from orroom.record.rescue import write_rescue

SAMPLES = Path(__file__).parent.parent / "sample_cases"
#: The time that it is, and hashes.
HAPPENS_NOW = re.compile(
    r"^(day \d+ )?\d\d:\d\d:\d\d|at \d{4}-\d\d-\d\d \d\d:\d\d:\d\d UTC|\b[0-9a-f]{8,64}\b", re.M
)


def said(folder: Path, *lines: str) -> Iterator[str]:
    """What each line prints in the folder, without what differs from run to run: the folder's own name."""
    for line in lines:
        words = [each.replace("~", " ").replace("@", f"{folder}/") for each in line.split()]
        result = CliRunner().invoke(main, words, env={"COLUMNS": "80"})
        yield f"$ orroom {line.replace('~', ' ')}"
        text = (result.output.rstrip() + "\n").replace(f"{folder}/", "@").replace(str(folder), "@")
        text = text.replace(str(SAMPLES), "SAMPLES")
        yield HAPPENS_NOW.sub("…", text)
        if result.exit_code:
            yield f"exit {result.exit_code}\n"


def what_it_says(*lines: str) -> str:
    """One after the other, in a folder with an eventful day under way, counted and closed."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        for kind, record in days().items():
            written(folder / f"{kind}.orroom", record)
        rescue = Stamp(record.now_ms, "cutting-1", 900, "AB")
        refused = [(rescue, c.CutGrafts(harvest="A", size="9")), (rescue, c.AddNote(text="late"))]
        write_rescue(folder / "open.orroom", "SMALL-1", refused).rename(folder / "rescue.jsonl")
        (folder / "broken.toml").write_text((SAMPLES / "broken" / "plan.toml").read_text("utf-8"), "utf-8")
        (folder / "plan.toml").write_text((SAMPLES / "two-lots" / "plan.toml").read_text("utf-8"), "utf-8")
        (folder / "paper.csv").write_text("size,grafts,hairs\n1,40,40\n2,60,120\n9,1,1\n")
        (folder / "sizes.csv").write_text("size,grafts,hairs\n1,44,44\n2,52,104\n3,12,36\nall,110,190\n")
        return "\n".join(said(folder, *lines))


@cache
def days() -> dict[str, Record]:
    return {
        "empty": opened_case(),
        "open": eventful_day(),
        "counted": counted_day(),
        "closed": eventful_closed(),
        **{f"day-{number}": closed_day(number) for number in range(6)},
    }


READ = """\
check @plan.toml
check @broken.toml
spacing @plan.toml
spacing --density 35
spacing --density 35 --front-mm 60 --area-cm2 20
elasticity 35
elasticity 49
verify @open.orroom
verify @closed.orroom
verify @empty.orroom
verify @open.orroom --seal 12:0000ffff
verify @open.orroom --seal 400:0000ffff
status @closed.orroom
status @counted.orroom --plain
status @empty.orroom
handover @open.orroom
handover @open.orroom --from AB --plain
handover @counted.orroom --from CD
flow @open.orroom
flow @open.orroom --what-if cutters=4 --what-if divide=4x3=1+2
flow @closed.orroom
replan @open.orroom
replan @open.orroom --supply 1=30 --divide 3=1+2 --raise-by 10
replan @open.orroom --combing-side left --least-hairs MID=4
fates @counted.orroom
summary @closed.orroom --sections people,care
summary @empty.orroom
summary @counted.orroom --share roles --sections people,checks,corrections,notes,record
summary @counted.orroom --paper @sizes.csv --sections paper
summary @counted.orroom --paper @paper.csv
keys --role count
""".splitlines()
WRONG = """\
check @none.toml
check @
spacing
spacing @plan.toml --density 3
spacing --density 0
elasticity 60
elasticity many
new @plan.toml --who ab
new @none.toml --who AB
open @none.orroom
open @open.orroom --role cutting
open @plan.toml --role cutting --who AB
status @none.orroom
handover @open.orroom --from ZZ
revise @closed.orroom @plan.toml --who AB
revise @open.orroom @plan.toml --who AB --reason x
replan @open.orroom --supply 9=1
replan @open.orroom --divide 1=2
replan @open.orroom --supply 1=x
replan @open.orroom --least-hairs NONE=1
replan @open.orroom --accept
replan @closed.orroom
flow @open.orroom --what-if cutters=0
flow @open.orroom --what-if start=A:20
flow @open.orroom --what-if start=Z:20
flow @open.orroom --what-if start=B:900
flow @open.orroom --what-if divide=4x9=1+2
flow @open.orroom --what-if divide=900x3=1+2
flow @open.orroom --what-if divide=4x3=1+3
flow @empty.orroom --format svg
fates @open.orroom --give all=kept
fates @open.orroom --who AB --give dish:9:A=kept
fates @open.orroom --who AB --give dish:2:A=900~kept
fates @open.orroom --who AB --give all=eaten
fates @open.orroom --who AB --give all=placed~NONE
fates @open.orroom --who AB --give all=discarded
sign-off @open.orroom --who AB --second AB
sign-off @open.orroom --who AB --second CD
sign-off @counted.orroom --who AB --second CD --open-because x
sign-off @closed.orroom --who AB --second CD
reopen @open.orroom --who AB --reason x
reopen @closed.orroom --who AB --reason ~
summary @open.orroom --format odd
summary @open.orroom --sections none
summary @none.orroom
summary @open.orroom --paper @none.csv
summary @open.orroom --paper @plan.toml
summary @open.orroom --format csv
summary @open.orroom --output @open.orroom
summary @open.orroom --for nobody
summary @open.orroom --share half
verify @none.orroom
verify @plan.toml
verify @open.orroom --seal x
backup @open.orroom @closed.orroom
backup @none.orroom @copy.orroom
restore @none.orroom @open.orroom
restore @empty.orroom @open.orroom
restore @open.orroom @open.orroom
export @none.orroom @x.jsonl
export @open.orroom @plan.toml
import @plan.toml @x.orroom
import @none.jsonl @x.orroom
import @none.jsonl @open.orroom
import --rescue @rescue.jsonl @counted.orroom
replay @none.orroom
replay @open.orroom
keys --role none
guide none
archive add @open.orroom --to @archive
archive report @none
archive habits @none
archive report @open.orroom
people list --file @none.db
people show AB --file @none.db
people add @open.orroom --file @people.db
sheets @plan.toml --output @x.odd
sheets @plan.toml --only none --output @x.pdf
demo --speed 0 @d.orroom
nothing
summary
""".splitlines()
ACROSS = """\
archive add @day-0.orroom --to @archive
archive add @day-1.orroom @day-2.orroom --to @archive --site north
archive report @archive
archive habits @archive
archive add @day-3.orroom @day-4.orroom @day-5.orroom @closed.orroom --to @archive
archive add @day-3.orroom --to @archive
archive report @archive --to-hand-on
archive habits @archive
people add @day-0.orroom @day-1.orroom @closed.orroom --file @people.db
people add @day-0.orroom --file @people.db
people list --file @people.db
people show AB --file @people.db
people show GH --file @people.db
people show ZZ --file @people.db
people meeting --file @people.db
people remove AB --file @people.db
people list --file @people.db
""".splitlines()

#: By what they are about.
COMMANDS = {"read": READ, "wrong": WRONG, "across": ACROSS}
