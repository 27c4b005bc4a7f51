"""Pages that are read over a station's screen: its help, and how its figures are worked out."""

from collections.abc import Sequence
from typing import ClassVar, Final, Literal

from orroom.case.state import CaseState
from orroom.case.terms import CAUTIONS
from orroom.figures.case_times import case_times
from orroom.figures.wording import clock_time_with_seconds
from orroom.screens.stations.over.overlay import PAGE_KEYS, Overlay
from orroom.screens.stations.views.frame import Reading
from orroom.screens.stations.views.pages import figure_blocks, help_blocks, page_lines, screen_named
from orroom.screens.terminal.hands import Press
from orroom.screens.terminal.keys import HELP_KEY
from orroom.screens.terminal.pages import AROUND, Block, paged
from orroom.screens.terminal.painting import Line, first_that_fits

#: Columns behind a title, for which of how many pages it is.
ROOM_FOR_PAGE: Final = 16


class Pages(Overlay):
    """Their key and arrows turn them, after the last it leads back; others close them and do their work."""

    READ = True
    OF: ClassVar[Literal["help", "figures"]]
    #: The pages that the key found which shows one of them: they are painted at once.
    _found: list[list[Line]] | None = None

    @property
    def lies(self) -> bool:
        """Whether one of them is read."""
        return self.glance.reading is not None and self.glance.reading.of == self.OF

    def open(self) -> None:
        """Show the first page, the next one, or the screen again."""
        reading = self.glance.reading
        turned = Reading(self.OF, reading.page + 1 if reading is not None and self.lies else 0)
        found = [] if self.beneath.too_small else self._pages(self.desk.state)  # unseen it would take an Esc
        self.glance.reading, self._found = (turned, found) if turned.page < len(found) else (None, None)

    def take(self, press: Press) -> bool:
        """Close the pages but for a key that turns them; Esc does no more than that."""
        reading = self.glance.reading
        if reading is None or not self.lies or self._turns(press.key):
            return False
        if (by := PAGE_KEYS.get(press.key)) is not None:
            last = len(self._pages(self.desk.state)) - 1
            self.glance.reading = Reading(self.OF, max(0, min(reading.page + by, last)))
            self.beneath.repaint()
            return True
        self.glance.reading = None
        return press.key == "escape"

    def _turns(self, key: str) -> bool:
        """Whether a key turns pages. Where others answer a question or count, only F1 does."""
        over = self.beneath.over.help
        if self.glance.question is not None or (over is not None and over.alone):
            return key == HELP_KEY
        return self.glance.keys.action_for(self.glance.role, key) in {"help", "figures"}

    def lines(self, state: CaseState, now_ms: int) -> list[Line] | None:
        """The page that is read."""
        if not self.lies:
            return None
        title, key = self.title_and_key()
        found, self._found = self._found, None
        return page_lines(self.glance, title, key, found or self._pages(state))

    def _pages(self, state: CaseState) -> list[list[Line]]:
        return paged(self.blocks(state), max(1, self.glance.height - AROUND))

    def title_and_key(self) -> tuple[str, str]:
        """What is above the pages, and the key that turns them, as a screen writes it."""
        raise NotImplementedError

    def blocks(self, state: CaseState) -> Sequence[Block]:
        """What is on the pages."""
        raise NotImplementedError


class Help(Pages):
    """What is asked, the keys, and what the numbers mean."""

    OF = "help"

    def title_and_key(self) -> tuple[str, str]:
        """What the help is about."""
        asked = self.glance.question is not None
        named = screen_named(self.glance, self.beneath.over.help)
        return "What is asked" if asked else f"Keys of {named}", "F1"

    def blocks(self, state: CaseState) -> Sequence[Block]:
        """Each key, number and caution."""
        cautions = (*CAUTIONS, *state.plan.cautions)
        return help_blocks(self.glance, cautions, self.beneath.over.help, state.plan.size_by_key)


class Figures(Pages):
    """How the figures of the screen are worked out; not while a final count is made, which is blind."""

    OF = "figures"
    TITLE = "How these figures are worked out"

    def open(self) -> None:
        """Show the first page, the next one, or the screen again."""
        if not self.beneath.shows_no_counts():
            super().open()

    def title_and_key(self) -> tuple[str, str]:
        """What the pages are about."""
        glance, state = self.glance, self.desk.state
        key = glance.keys.shown(glance.role, "figures")
        now = clock_time_with_seconds(self.desk.clock.now_ms(), case_times(state))
        here = f"{glance.role} {glance.who}, {state.plan.case}, {now}"
        titles = (f"{self.TITLE}: {here}", f"Figures: {here}", f"Figures, {state.plan.case}, {now}")
        return first_that_fits((*titles, f"Figures, {now}"), glance.width - ROOM_FOR_PAGE), key

    def blocks(self, state: CaseState) -> Sequence[Block]:
        """Each figure with its numbers and source."""
        from orroom.words.explanation import Asked
        from orroom.words.worked_out import worked_out

        glance = self.glance
        zone = state.plan.zones[min(glance.zone, len(state.plan.zones) - 1)].key
        now_ms = self.desk.clock.now_ms()
        asked = Asked(state, now_ms, glance.who, glance.harvest, zone, glance.foretold)
        return figure_blocks(glance, worked_out(glance.role, asked))
