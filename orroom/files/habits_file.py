"""A clinic's habits as a file next to its settings: what its closed cases had wrong about their finish."""

from pathlib import Path
from typing import Final

import msgspec

from orroom.case.habits import NO_HABITS, Habits
from orroom.errors import OrroomError
from orroom.files.whole_files import write_whole

#: Its name, in the folder of the settings.
NAME: Final = "habits.json"


def write_habits(path: Path, habits: Habits) -> None:
    """Write them whole. Raises ``OrroomError`` if that fails."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, msgspec.json.encode(habits).decode() + "\n")
    except OSError as problem:
        raise OrroomError(f"{path} was not written: {problem.strerror}.") from None


def read_habits(path: Path) -> Habits:
    """What a file has; none without a file. Raises ``OrroomError`` for one that is not right."""
    try:
        return msgspec.json.decode(path.read_bytes(), type=Habits)
    except FileNotFoundError:
        return NO_HABITS
    except (OSError, msgspec.DecodeError) as problem:
        raise OrroomError(
            f"{path} cannot be used: {getattr(problem, 'strerror', None) or problem}.",
            "Delete it, or write it again with orroom archive habits FOLDER.",
        ) from None
