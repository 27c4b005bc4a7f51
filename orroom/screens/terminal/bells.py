"""When a station's bell rings besides refusals, and how often: as the clinic has set it."""

from collections.abc import Sequence
from typing import Final

from orroom.case.events import Entry, EntryCorrected
from orroom.case.terms import Bell
from orroom.figures.prompts import Prompt

#: Rings apart enough to be heard as two.
RING_APART_SECONDS: Final = 0.25

_URGENCY: Final = {"resting": 0, "paused": 0, "waiting": 0, "due": 1, "overdue": 2}


def rings_for_entry(entry: Entry, bell: Bell) -> int:
    """How often it rings for an entry made here: a correction twice, all else once."""
    if bell != "taps":
        return 0
    return 2 if isinstance(entry.event, EntryCorrected) else 1


class PromptBell:
    """Knows for which prompts it has rung at this station: once when due, once when overdue, never again."""

    def __init__(self) -> None:
        self._urgency: dict[str, int] | None = None
        self._rung: set[tuple[str, int, int]] = set()

    def rings(self, found: Sequence[Prompt]) -> bool:
        """Whether it rings for the prompts as they stand now; those due on arrival are seen, not rung for."""
        before = self._urgency
        now = {prompt.key: _URGENCY[prompt.status] for prompt in found}
        self._urgency = now
        new = {
            (prompt.key, prompt.due_at_ms, now[prompt.key])
            for prompt in found
            if now[prompt.key] and (before is None or now[prompt.key] > before.get(prompt.key, 0))
        } - self._rung
        self._rung |= new
        return before is not None and bool(new)
