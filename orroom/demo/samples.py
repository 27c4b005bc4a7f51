"""The sample cases that come with orroom: invented plans and recorded days."""

from importlib.resources import files
from pathlib import Path
from typing import Final

from orroom.errors import OrroomError

#: A long day of three lanes that ends with two blind counts and a sign-off.
SAMPLE_DAY: Final = "frontal-midscalp"


def samples_folder() -> Path:
    """Where they are."""
    return Path(str(files("orroom"))) / "samples"


def sample_day() -> Path:
    """The entries of a recorded day. Raises ``OrroomError`` if they are not installed."""
    events = samples_folder() / SAMPLE_DAY / "events.jsonl"
    if not events.exists():
        raise OrroomError("The sample cases are not installed.", "Install orroom from its folder or wheel.")
    return events
