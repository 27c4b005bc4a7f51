"""The screen of the form for a plan: feeds it keys and clicks, saves, asks before it is left."""

from pathlib import Path
from typing import Final, NamedTuple

from orroom.case.evolve import fold
from orroom.case.plan import Plan
from orroom.case.settings import plan_defaults
from orroom.case.terms import clean, hidden_character
from orroom.clock import WallClock, utc_offset_minutes
from orroom.errors import OrroomError
from orroom.figures.wording import moment, several
from orroom.files.plan_draft import draft_from, draft_of
from orroom.files.plan_saving import PLAN_SUFFIX, PlanFile, free_code, free_names, plan_file_of
from orroom.record.case_file import CaseFile
from orroom.screens.plan_form.drafts import WhyNot
from orroom.screens.plan_form.form import Form
from orroom.screens.plan_form.keys import down, press
from orroom.screens.plan_form.lines import form_lines
from orroom.screens.plan_form.page_body import help_blocks
from orroom.screens.settings.clinic import this_clinic
from orroom.screens.stations.sitting import need_a_terminal
from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.asking import Choice, Dialogue, Option, Question, Words
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.board_screen import BoardScreen
from orroom.screens.terminal.buttons import Button
from orroom.screens.terminal.pages import Block
from orroom.screens.terminal.painting import Line

#: Why a plan is changed; anything else is typed.
REASONS: Final = (
    "lower yield than planned",
    "higher yield than planned",
    "the surgeon's decision",
    "a mistake in the plan",
)


class Outcome(NamedTuple):
    """What came of the form: a file, a changed plan and why, a draft; the exit code of a signal.

    ``open_case``: a case is to be opened with the file now.
    """

    file: Path | None = None
    plan: Plan | None = None
    reason: str = ""
    draft: Path | None = None
    code: int = 0
    open_case: bool = False
    comments_kept: bool = True


class PlanFormScreen(BoardScreen):
    """Shows the form, feeds it keys and clicks, and saves."""

    app: TerminalApp[Outcome]
    HELP_TITLE = "Keys of the form for a plan"

    def __init__(self, form: Form, plan_file: PlanFile) -> None:
        super().__init__()
        self.form = form
        self.plan_file = plan_file

    @property
    def question(self) -> Question | None:
        """The question that is open."""
        return self.form.question

    def lines(self) -> list[Line]:
        """The form as it is now."""
        self.form.size = width, height = self.size
        name = "" if self.form.revising else str(self.plan_file.target(self.form.draft))
        return form_lines(self.form, width, height, name)

    def help_blocks(self) -> list[Block]:
        """The keys, and what is typed or asked."""
        return help_blocks(self.form, self.size.width)

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One line about the last key."""
        self.form.say(message, "wrong" if wrong else "plain")

    # Keys, clicks, pastes.

    def again_at_once(self, button: Button | None) -> str | None:
        """Letters and fields may be clicked twice at once."""
        return button.key if button is not None else None

    def paste(self, text: str) -> None:
        """What is pasted is typed into the field, in one line."""
        if self.form.question is None:
            self.reading = None
            self.form.paste(" ".join(text.split()))

    async def take(self, key: str, character: str | None) -> None:
        """What a key does now."""
        wanted = press(self.form, key, character)
        if wanted == "save":
            self._go_on() if self.form.revising else self._save()
        elif wanted == "open" and self.form.opens:
            self._save(open_case=True)
        elif wanted == "leave":
            self.leave()

    # Clicks on what is not a key: pages, fields, problems, lines further down.

    def _action_page(self, page: int) -> None:
        self.form.go(page)

    def _action_field(self, row: int, column: int) -> None:
        self.form.go(self.form.page, row, column)

    def _action_problem(self, place: int) -> None:
        self.form.go_to_problem(place)

    def _action_further(self, lines: int) -> None:
        down(self.form, lines)

    # Saving and leaving.

    def ended(self, code: int) -> Outcome:
        """A draft is kept at once of what was changed, if anything was and somewhere takes it."""
        try:
            kept = self.plan_file.keep_draft(self.form.draft) if self.form.changed else None
        except OrroomError:
            kept = None
        return Outcome(draft=kept, code=code)

    def finish(self, outcome: Outcome) -> None:
        """The form is over; a changed plan of a case is still to be recorded, after the form."""
        (self.app.leave if outcome.plan is None else self.app.exit)(outcome, outcome.code)

    def _sound_plan(self) -> Plan | None:
        """The plan, if it may go on; else why not is said."""
        plan, refused = self.form.known.plan, self.form.known.refused
        if plan is None:
            left = several(len(self.form.known.wrongs), "problem")
            self.form.say(f"not saved: {left}; leaving can keep a draft", "wrong")
        elif refused is not None:
            self.form.say(f"not taken: {refused}", "wrong")
        return None if refused is not None else plan

    def _save(self, *, open_case: bool = False) -> None:
        if self._sound_plan() is None:
            return
        target = self.plan_file.target(self.form.draft)
        if target.exists() or target.is_symlink():
            self.form.ask(self._replace(target, open_case=open_case))
        else:
            self._write(target, replace=False, open_case=open_case)

    def _replace(self, target: Path, *, open_case: bool) -> Dialogue:
        """Whether a file that is there is replaced, or the plan saved next to it."""
        other = next(path for path in free_names(target) if not path.exists())
        whose = " Someone else has changed it." if self.plan_file.changed_meanwhile() else ""
        replace = yield Choice(
            f"{target.name} is there already.{whose}",
            (Option("1", "replace it", True), Option("2", f"save as {other.name}", False)),
        )
        self._write(target if replace else other, replace=bool(replace), open_case=open_case)
        return None

    def _write(self, target: Path, *, replace: bool, open_case: bool) -> None:
        try:
            written = self.plan_file.save(self.form.draft, target, replace=replace)
        except OrroomError as problem:
            self.form.say(f"not saved: {problem}", "wrong")
        else:
            self.finish(Outcome(file=target, open_case=open_case, comments_kept=written.comments_kept))

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
        self.finish(Outcome(plan=plan, reason=reason))
        return None

    def leave(self) -> None:
        """Leave at once if nothing is changed; else ask what becomes of it."""
        if not self.form.changed:
            self.finish(Outcome())
        elif self.form.question is None:
            self.form.ask(self._leaving())
            self.repaint()

    def _leaving(self) -> Dialogue:
        """What becomes of an unfinished plan."""
        what = "The change is not made." if self.form.revising else "The plan is not saved."
        keep = yield Choice(
            f"{what} Leave?",
            (Option("1", "keep a draft", True), Option("2", "discard it", False)),
            escape="stay",
        )
        if not keep:
            self.finish(Outcome())
        else:
            self._keep_and_leave()
        return None

    def _keep_and_leave(self) -> None:
        try:
            self.finish(Outcome(draft=self.plan_file.keep_draft(self.form.draft)))
        except OrroomError as problem:
            self.form.say(f"{problem}", "wrong")


def begin(template: Path | None, folder: Path, *, opens: bool = False) -> tuple[Form, PlanFile]:
    """The form and its file. Raises ``OrroomError`` if the template, a plan or a case, cannot be read."""
    now = moment(WallClock().now_ms(), utc_offset_minutes())
    code = free_code(folder, now.date())
    if template is None or (template.suffix == PLAN_SUFFIX and not template.exists()):
        draft = draft_from(plan_defaults(this_clinic().settings), code)
        return Form(draft, opens=opens), PlanFile(folder, template)
    if template.suffix == PLAN_SUFFIX:
        draft, plan_file = plan_file_of(template, folder)
        return Form(draft, opens=opens), plan_file
    with CaseFile.open(template, read_only=True) as case_file:
        earlier = fold(case_file.entries_after(0)).plan
    copied = {name: each for name, each in draft_of(earlier).items() if name != "earlier"}
    return Form({**copied, "case": code}, opens=opens), PlanFile(folder)


def filled_in(template: Path | None = None, folder: Path = Path(), *, opens: bool = False) -> Outcome:
    """Fill in a plan; answers what came of it. Raises ``OrroomError``: no terminal, template unreadable.

    ``opens``: a case can be opened with it at once.
    """
    need_a_terminal()
    form, plan_file = begin(template, folder, opens=opens)
    return _outcome(PlanFormScreen(form, plan_file))


def changed_in(plan: Plan, folder: Path = Path(), why_not: WhyNot = lambda plan: None) -> Outcome:
    """Change the plan of a case. Raises ``OrroomError`` without a terminal.

    Answers the new plan and its reason, or a draft in ``folder``; ``why_not``: why a plan would be refused.
    """
    need_a_terminal()
    form = Form(draft_of(plan), revising=True, why_not=why_not)
    return _outcome(PlanFormScreen(form, PlanFile(folder)))


def _outcome(filled: PlanFormScreen) -> Outcome:
    """Show the form until it is over. Also a failure of the program keeps a draft."""
    app: BoardApp[Outcome] = BoardApp(filled, this_clinic().settings.theme)
    return app.run_to_its_end() or filled.ended(app.return_code or 1)
