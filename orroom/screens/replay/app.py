"""Replaying a case in the terminal: any screen as it was, at any speed. Nothing can be entered."""

from __future__ import annotations

from orroom.case.terms import Theme
from orroom.errors import OrroomError
from orroom.record.case_file import CaseFile
from orroom.screens.replay.key_line import View
from orroom.screens.replay.screen import ReplayScreen
from orroom.screens.terminal.board_app import BoardApp


class ReplayApp(BoardApp[None]):
    """A replay in a terminal."""

    def __init__(self, case_file: CaseFile, view: View, theme: Theme) -> None:
        self.replay_screen = ReplayScreen(case_file, view)
        #: Why the record could not be read.
        self.failure: OrroomError | None = None
        super().__init__(self.replay_screen.board, self.replay_screen.clicks, theme)

    def on_mount(self) -> None:
        """Show the screen."""
        self.push_screen(self.replay_screen)

    def fail(self, problem: OrroomError) -> None:
        """End because the record cannot be read."""
        self.failure = problem
        self.exit(return_code=problem.exit_code)

    async def action_quit(self) -> None:
        """Control-Q leaves: nothing can be lost."""
        self.leave()


def replay_case(case_file: CaseFile, view: View, theme: Theme) -> int:
    """Replay until it is left; answers the exit code. Raises ``OrroomError`` for what cannot be replayed."""
    app = ReplayApp(case_file, view, theme)
    app.run_to_its_end()
    if app.failure is not None:
        raise app.failure
    return app.return_code or 0
