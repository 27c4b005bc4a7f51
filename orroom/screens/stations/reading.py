"""What is read over a station's screen: its help, and how its figures are worked out."""

from __future__ import annotations

from typing import ClassVar, Literal

from orroom.case.terms import CAUTIONS, Role
from orroom.screens.stations.guarded import GuardedScreen
from orroom.screens.stations.views.frame import Reading
from orroom.screens.stations.views.over import Over
from orroom.screens.stations.views.pages import figure_blocks, help_blocks, page_lines, screen_named
from orroom.screens.terminal.keys import HELP_KEY
from orroom.screens.terminal.layout import SMALLEST
from orroom.screens.terminal.pages import AROUND, paged
from orroom.screens.terminal.painting import Line


class ReadingScreen(GuardedScreen):
    """A screen with pages to read over it; a key turns them, and after the last leads back."""

    ROLE: ClassVar[Role]

    def over(self) -> Over | None:
        """What stands over the screen's own lines, if anything."""
        return None

    @property
    def too_small(self) -> bool:
        """Whether nothing of the screen is shown at this size."""
        return self.size.width < SMALLEST[0] or self.size.height < SMALLEST[1]

    def turns_page(self, key: str) -> bool:
        """Whether a key turns the page that is read; over a question every other key is its answer."""
        if self.glance.question is not None:
            return key == HELP_KEY
        return self.glance.keys.action_for(self.ROLE, key) in {"help", "figures"}

    def action_help(self) -> None:
        """Show the keys, the next page of them, or the screen again."""
        self._read("help")

    def action_figures(self) -> None:
        """Show how the figures of this screen are worked out, the next page of it, or the screen again."""
        self._read("figures")

    def _read(self, of: Literal["help", "figures"]) -> None:
        reading = self.glance.reading
        turned = Reading(of, reading.page + 1 if reading is not None and reading.of == of else 0)
        shown = not self.too_small and turned.page < len(self._pages(of))  # a page unseen would take an Esc
        self.glance.reading = turned if shown else None
        self.repaint()

    def _pages(self, of: Literal["help", "figures"]) -> list[list[Line]]:
        glance, state = self.glance, self.desk.state
        if of == "help":
            blocks = help_blocks(
                glance, (*CAUTIONS, *state.plan.cautions), self.over(), state.plan.size_by_key
            )
        else:
            from orroom.words.explanation import Asked
            from orroom.words.worked_out import worked_out

            zone = state.plan.zones[min(glance.zone, len(state.plan.zones) - 1)].key
            now_ms = self.desk.clock.now_ms()
            asked = Asked(state, now_ms, glance.who, glance.lot, zone, glance.foretold)
            blocks = figure_blocks(glance, worked_out(self.ROLE, asked))
        return paged(blocks, max(1, glance.height - AROUND))

    def page(self) -> list[Line]:
        """The page that is read."""
        if self.glance.reading is not None and self.glance.reading.of == "figures":
            title = "How the figures of this screen are worked out"
            key = self.glance.keys.shown(self.ROLE, "figures")
        else:
            asked = self.glance.question is not None
            named = screen_named(self.glance, self.over())
            title, key = "What is asked" if asked else f"Keys of {named}", "F1"
        return page_lines(self.glance, title, key, self._pages("help" if key == "F1" else "figures"))
