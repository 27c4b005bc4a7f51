"""The form for a plan in a terminal of its own: a new plan or an edited one, and changes during a case."""

from __future__ import annotations

from pathlib import Path

from orroom.case.evolve import fold
from orroom.case.plan import Plan
from orroom.case.settings import plan_defaults
from orroom.files.plan_draft import draft_from, draft_of
from orroom.files.plan_saving import PLAN_SUFFIX, PlanFile, plan_file_of
from orroom.record.case_file import CaseFile
from orroom.screens.plan_form.drafts import WhyNot
from orroom.screens.plan_form.form import Form
from orroom.screens.plan_form.screen import Outcome, PlanFormScreen
from orroom.screens.settings.clinic import this_clinic
from orroom.screens.stations.sitting import need_a_terminal
from orroom.screens.terminal.board_app import BoardApp


def begin(template: Path | None, folder: Path) -> tuple[Form, PlanFile]:
    """The form and its file: from nothing, a plan file, a file still to be made, or an earlier case's plan.

    Raises ``OrroomError`` if the template cannot be read.
    """
    if template is None or (template.suffix == PLAN_SUFFIX and not template.exists()):
        return Form(draft_from(plan_defaults(this_clinic().settings))), PlanFile(folder, template)
    if template.suffix == PLAN_SUFFIX:
        draft, plan_file = plan_file_of(template, folder)
        return Form(draft), plan_file
    with CaseFile.open(template, read_only=True) as case_file:
        earlier = fold(case_file.entries_after(0)).plan
    return Form({**draft_of(earlier), "case": ""}), PlanFile(folder)


def filled_in(template: Path | None = None, folder: Path = Path()) -> Outcome:
    """Fill in a plan from a template; answers what came of it: the plan file written, or a draft.

    Raises ``OrroomError`` without a terminal, or if the template cannot be read.
    """
    need_a_terminal()
    form, plan_file = begin(template, folder)
    return _outcome(PlanFormScreen(form, plan_file))


def changed_in(plan: Plan, folder: Path = Path(), why_not: WhyNot = lambda plan: None) -> Outcome:
    """Change the plan of a case; answers the new plan and the reason, or a draft kept in ``folder``.

    ``why_not`` says why a sound plan would be refused, or answers ``None``. Raises ``OrroomError`` without a
    terminal.
    """
    need_a_terminal()
    form = Form(draft_of(plan), revising=True, why_not=why_not)
    return _outcome(PlanFormScreen(form, PlanFile(folder)))


def _outcome(filled: PlanFormScreen) -> Outcome:
    """Show the form until it is over. Also a failure of the program keeps a draft."""
    app: BoardApp[Outcome] = BoardApp(filled, this_clinic().settings.theme)
    return app.run_to_its_end() or filled.ended(app.return_code or 1)
