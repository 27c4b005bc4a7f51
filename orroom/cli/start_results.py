"""What the start screen's work takes and answers: the files chosen, free names for new ones, a result."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.screens.start.chosen import Chosen
    from orroom.screens.start.open_menus import Result

#: What is longer than this is a page to read, not a line.
LONG: Final = 120


def wrong(words: str) -> Result:
    """What went wrong, as a line or a page."""
    long = "\n" in words or len(words) > LONG
    return result(words, title="That did not work" if long else "", wrong=True)


def result(text: str, **more: object) -> Result:
    """What is said of something that was done."""
    from orroom.screens.start.open_menus import Result

    return Result(text, **more)  # type: ignore[arg-type]


def path_of(chosen: Chosen) -> Path:
    """The case or plan that was chosen."""
    return chosen.path or Path()


def file_of(chosen: Chosen) -> Path:
    """The other file that was chosen. Raises ``OrroomError`` if none was."""
    if chosen.file is None:
        raise OrroomError("No file was chosen.", "Choose one, or type its path.")
    return chosen.file


def free(path: Path, suffix: str) -> Path:
    """The first free name like that of a file."""
    from orroom.files.plan_saving import free_names

    return next(each for each in free_names(path, suffix) if not each.exists())
