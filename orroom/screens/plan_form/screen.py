"""The screen of the form for a plan: feeds it keys and clicks, saves, asks before it is left."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.screen import Screen

from orroom.case.plan import Plan
from orroom.case.terms import clean, hidden_character
from orroom.errors import OrroomError
from orroom.figures.wording import several
from orroom.files.plan_saving import PlanFile, free_names
from orroom.screens.plan_form.lines import form_lines
from orroom.screens.plan_form.typing import Form
from orroom.screens.terminal.asking import Choice, Dialogue, Option, Words
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.clicks import Clicks
from orroom.screens.terminal.keys import plain_name
from orroom.screens.terminal.layout import SMALLEST, too_small

if TYPE_CHECKING:
    from orroom.screens.plan_form.app import PlanFormApp

#: Why a plan is changed; anything else is typed.
REASONS: Final = (
    "the donor gives less than planned",
    "the donor gives more than planned",
    "the surgeon decided so",
    "a mistake in the plan",
)


class Outcome(NamedTuple):
    """What came of the form: a file, a changed plan and why, a draft; the exit code of a signal."""

    file: Path | None = None
    plan: Plan | None = None
    reason: str = ""
    draft: Path | None = None
    code: int = 0
    comments_kept: bool = True


class PlanFormScreen(Screen[None]):
    """Shows the form, feeds it keys and clicks, and saves."""

    app: PlanFormApp

    def __init__(self, form: Form, plan_file: PlanFile) -> None:
        super().__init__()
        self.form = form
        self.plan_file = plan_file
        self.board = Board()
        self.clicks = Clicks()

    def compose(self) -> ComposeResult:
        """The one board."""
        yield self.board

    def on_mount(self) -> None:
        """Show it."""
        self.repaint()

    def on_resize(self) -> None:
        """Show it in its new size."""
        self.repaint()

    def repaint(self) -> None:
        """Show the form as it is now."""
        width, height = self.size
        if width < SMALLEST[0] or height < SMALLEST[1]:
            self.board.show(too_small(width, height))
            return
        self.form.size = (width, height)
        question = self.form.question
        name = "" if self.form.revising else str(self.plan_file.target(self.form.draft))
        self.board.show(form_lines(self.form, width, height, name), question and question.step)

    # Keys, clicks, pastes.

    def on_key(self, event: events.Key) -> None:
        """Take a key."""
        event.stop()
        event.prevent_default()
        self._press(plain_name(event.key), event.character)

    def on_board_clicked(self, event: Board.Clicked) -> None:
        """Take a click, or say why it is left out. Letters and fields may be clicked twice at once."""
        event.stop()
        pressed = event.click.button
        button = self.clicks.meant(event.click, pressed.key if pressed is not None else None)
        question = self.form.question
        if isinstance(button, str):
            self.form.say(button, "wrong")
        elif question is not None and button.step is not question.step:
            self.form.say("a question is open: answer it, or Esc", "wrong")
        elif button.stands_for_key:
            self._press(button.key, button.character)
            return
        else:
            self.call_later(self.run_action, f"screen.{button.action}")
        self.repaint()

    def on_paste(self, event: events.Paste) -> None:
        """What is pasted is typed into the field, in one line."""
        event.stop()
        if self.form.question is None:
            self.form.paste(" ".join(event.text.split()))
        self.repaint()

    def _press(self, key: str, character: str | None) -> None:
        self.form.press(key, character)
        self._do_what_is_wanted()
        self.repaint()

    def action_page(self, page: int) -> None:
        """Turn to a page."""
        self.form.go(page)
        self.repaint()

    def action_field(self, row: int, column: int) -> None:
        """Go to a field; if the cursor is there, open it."""
        self.form.go(self.form.page, row, column)
        self.repaint()

    def action_problem(self, place: int) -> None:
        """Go to the field of a problem."""
        self.form.go_to_problem(place)
        self.repaint()

    def action_further(self, lines: int) -> None:
        """Further down on a page of text."""
        self.form.down(lines)
        self.repaint()

    def action_typed(self, character: str) -> None:
        """A character typed by a click."""
        self._press(character, character)

    # Saving and leaving.

    def _do_what_is_wanted(self) -> None:
        wanted, self.form.wants = self.form.wants, ""
        if wanted == "save":
            self._go_on() if self.form.revising else self._save()
        elif wanted == "leave":
            self.leave()

    def _sound_plan(self) -> Plan | None:
        """The plan, if it may go on; else why not is said."""
        plan, refused = self.form.plan, self.form.refused
        if plan is None:
            left = several(len(self.form.wrongs), "problem")
            self.form.say(f"not saved: {left}, F3 lists them; F10 can keep a draft", "wrong")
        elif refused is not None:
            self.form.say(f"not taken: {refused}", "wrong")
        return None if refused is not None else plan

    def _save(self) -> None:
        if self._sound_plan() is None:
            return
        target = self.plan_file.target(self.form.draft)
        if target.exists() or target.is_symlink():
            self.form.ask(self._replace(target))
        else:
            self._write(target, replace=False)

    def _replace(self, target: Path) -> Dialogue:
        """Whether a file that is there is replaced, or the plan saved beside it."""
        other = next(path for path in free_names(target) if not path.exists())
        whose = " Somebody has changed it meanwhile." if self.plan_file.changed_meanwhile() else ""
        replace = yield Choice(
            f"{target.name} is there already.{whose}",
            (Option("1", "replace it", True), Option("2", f"save as {other.name}", False)),
        )
        self._write(target if replace else other, replace=bool(replace))
        return None

    def _write(self, target: Path, *, replace: bool) -> None:
        try:
            written = self.plan_file.save(self.form.draft, target, replace=replace)
        except OrroomError as problem:
            self.form.say(f"not saved: {problem}", "wrong")
        else:
            self.app.finish(Outcome(file=target, comments_kept=written.comments_kept))

    def _go_on(self) -> None:
        plan = self._sound_plan()
        if plan is None:
            return
        if not self.form.changed:
            self.form.say("nothing is changed yet", "wrong")
        else:
            self.form.ask(self._why(plan))

    def _why(self, plan: Plan) -> Dialogue:
        """Why the plan is changed."""
        options = tuple(Option(str(number), each, each) for number, each in enumerate(REASONS, 1))
        reason = yield Choice("Why is the plan changed?", (*options, Option("0", "other words", "")))
        while not reason or hidden_character(reason):
            reason = clean((yield Words("Why:")))
        self.app.finish(Outcome(plan=plan, reason=reason))
        return None

    def leave(self) -> None:
        """Leave at once if nothing is changed; else ask what becomes of it."""
        if not self.form.changed:
            self.app.finish(Outcome())
        elif self.form.question is None:
            self.form.ask(self._leaving())
            self.repaint()

    def _leaving(self) -> Dialogue:
        """What becomes of an unfinished plan."""
        what = "The change is not made." if self.form.revising else "The plan is not saved."
        keep = yield Choice(
            f"{what} Leave?",
            (Option("1", "keep a draft", True), Option("2", "throw it away", False)),
            escape="stay",
        )
        if not keep:
            self.app.finish(Outcome())
        else:
            self._keep_and_leave()
        return None

    def _keep_and_leave(self) -> None:
        try:
            self.app.finish(Outcome(draft=self.plan_file.keep_draft(self.form.draft)))
        except OrroomError as problem:
            self.form.say(f"{problem}", "wrong")
