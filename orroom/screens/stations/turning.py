"""When the pages of a small overview turn: by themselves, slowly, and not while somebody is at the keys."""

from dataclasses import dataclass
from typing import Final

#: A page stands so long, s: time to look up and read some ten lines.
TURN_SECONDS: Final = 8.0
#: After a key or a click no page turns by itself for so long, s.
HANDS_SECONDS: Final = 60.0


@dataclass(slots=True)
class Turning:
    """The page shown, from 0, and since when; all times are monotonic, in s."""

    page: int = 0
    since: float = 0.0
    free_from: float = float("-inf")
    due: frozenset[str] = frozenset()

    def page_at(self, now: float, pages: int, due: frozenset[str], *, turns: bool) -> int:
        """The page to show now, of ``pages``; a prompt that becomes ``due`` brings the first.

        ``turns`` is whether pages turn by themselves here.
        """
        if due - self.due:
            self.page, self.since = 0, now
        self.due = due
        if turns and now >= max(self.free_from, self.since + TURN_SECONDS):
            self.page, self.since = self.page + 1, now
        self.page %= pages
        return self.page

    def hands(self, now: float) -> None:
        """Somebody is at the keys: the page stays."""
        self.free_from = now + HANDS_SECONDS

    def wait(self, now: float) -> None:
        """Something is asked or read over the page: it begins again when that is over."""
        self.since = now

    def turn(self, by: int, now: float) -> None:
        """Turn by hand; the next paint takes care of the ends."""
        self.page, self.since = self.page + by, now
