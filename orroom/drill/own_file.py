"""A trainee's own file: how their drills went, and which one is under way. Nothing else has their name.

One JSON file a person, by their initials, in the folder ``drills`` next to the settings, which only this
account can read. It is written whole before and after each drill: after a power cut it says what to resume.
"""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Final

import msgspec
from msgspec import Meta, Struct
from msgspec.structs import replace

from orroom.drill.score import ROWS, Score
from orroom.drill.sheet import Kind
from orroom.drill.times import Typical
from orroom.errors import OrroomError
from orroom.figures.shares import Proportion, proportion
from orroom.files.settings_file import settings_path
from orroom.files.whole_files import write_whole

FOLDER: Final = "drills"
#: Raised when a file is no longer read by the version before. Fields that come later have a default.
FORMAT: Final = 1

Number = Annotated[int, Meta(ge=0)]
Level = Annotated[int, Meta(ge=1, le=3)]


class Done(Struct, frozen=True, kw_only=True):
    """How one drill went: the figures of its score, and the day (``2026-12-01``)."""

    day: Annotated[str, Meta(pattern=r"^\d{4}-\d{2}-\d{2}$(?!\n)")]
    kind: Kind
    level: Level
    seed: Number
    asked: Number
    as_read: Number
    missed: Number
    doubled: Number
    wrong: Number
    set_right: Number
    wait: Typical | None = None
    answer: Typical | None = None
    unanswered: Number = 0
    left: Number | None = None

    @property
    def share(self) -> Proportion | None:
        """Of what was asked, how much was entered as read."""
        return proportion(self.as_read, self.asked)


class UnderWay(Struct, frozen=True, kw_only=True):
    """A drill that has begun: its sheet, and where its case is."""

    kind: Kind
    level: Level
    seed: Number
    case: str


class OwnFile(Struct, frozen=True, kw_only=True):
    """A person's drills in the order they were done."""

    format: int = FORMAT
    drills: tuple[Done, ...] = ()
    under_way: UnderWay | None = None

    def with_score(self, score: Score, day: str) -> "OwnFile":
        """The same with one drill more, and none under way."""
        return replace(self, drills=(*self.drills, _done(score, day)), under_way=None)

    def next_sheet(self, kind: Kind, level: int) -> int:
        """The number of the first sheet of a kind and level that was not done yet."""
        done = {each.seed for each in self.drills if (each.kind, each.level) == (kind, level)}
        return next(number for number in range(1, len(done) + 2) if number not in done)


def _done(score: Score, day: str) -> Done:
    shares = {name: sum(each.kind in kinds for each in score.slips) for name, kinds in ROWS.items()}
    return Done(
        day=day,
        kind=score.kind,
        level=score.level,
        seed=score.seed,
        asked=score.asked,
        as_read=score.as_read,
        missed=shares["missed"],
        doubled=shares["doubled"],
        wrong=shares["wrong"],
        set_right=score.set_right,
        wait=score.wait,
        answer=score.answer,
        unanswered=score.unanswered,
        left=score.left,
    )


def own_path(who: str, environment: Mapping[str, str] = os.environ) -> Path:
    """Where the drills of somebody with these initials are kept."""
    return settings_path(environment).parent / FOLDER / f"{who}.json"


def read_own(path: Path) -> OwnFile:
    """What is in the file; nothing without one. Raises ``OrroomError`` for one that is not right."""
    try:
        text = path.read_bytes()
    except FileNotFoundError:
        return OwnFile()
    except OSError as problem:
        raise OrroomError(
            f"{path} cannot be read: {problem.strerror}.", "Name another with --file."
        ) from None
    try:
        made_by = msgspec.json.decode(text, type=_Version).format
        if made_by > FORMAT:
            raise OrroomError(
                f"{path} has format {made_by}; this version of orroom knows {FORMAT}.",
                "Use the newer version, or name another file with --file.",
            )
        return msgspec.json.decode(text, type=OwnFile)
    except msgspec.DecodeError as problem:
        raise OrroomError(
            f"{path} is not a file of drills as orroom writes it: {problem}.",
            "It was left as it is. Mend that, or move it away: the next drill begins a new one.",
        ) from None


class _Version(Struct):
    format: Annotated[int, Meta(ge=1)]


def write_own(path: Path, own: OwnFile) -> None:
    """Write it whole. Raises ``OrroomError`` if that fails; what was there before stays."""
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_whole(path, msgspec.json.format(msgspec.json.encode(own)) + b"\n")
    except OSError as problem:
        raise OrroomError(
            f"{path} was not written: {problem.strerror}.", "Free some room, or name another with --file."
        ) from None


def delete_own(path: Path) -> int:
    """Delete it; answers how many drills were in it. Raises ``OrroomError`` if there is none."""
    own = read_own(path)
    try:
        path.unlink()
    except FileNotFoundError:
        raise OrroomError(f"{path} does not exist.", "No drill of these initials was kept.") from None
    except OSError as problem:
        raise OrroomError(f"{path} was not deleted: {problem.strerror}.") from None
    return len(own.drills)
