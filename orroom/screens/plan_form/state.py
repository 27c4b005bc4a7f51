"""How the form for a plan stands: draft, cursor, what is typed or asked, what is wrong, what it comes to."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, Literal, NamedTuple

from orroom.case.plan import Plan
from orroom.files.plan_draft import Draft, Wrong, plan_of, rows_on, value_at, with_text, wrongs
from orroom.files.plan_fields import PAGES, Field, Page, Row
from orroom.files.plan_words import KEY_FIELDS
from orroom.screens.plan_form.outlook import Outlook, outlook
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.painting import Tone

#: The pages behind those of the plan: what it is advised, what is wrong with it.
LAST_PAGES: Final = ("advice", "problems")
PAGE_NAMES: Final = (*(page.name for page in PAGES), *LAST_PAGES)
ADVICE, PROBLEMS = (PAGE_NAMES.index(name) for name in LAST_PAGES)

Wants = Literal["", "save", "leave"]


class Known(NamedTuple):
    """What is known of a draft."""

    draft: Draft
    wrongs: tuple[Wrong, ...]
    plan: Plan | None
    refused: str | None
    outlook: Outlook


class FormState:
    """A plan that is being filled in: the draft, the cursor, what is typed or asked."""

    def __init__(self, draft: Draft, *, revising: bool = False) -> None:
        self.first = draft
        self.revising = revising
        #: Why the plan would be refused although it is sound, or ``None``: what is placed stays in it.
        self.why_not: Callable[[Plan], str | None] = lambda plan: None
        self.page = self.row = self.column = 0
        #: What is typed, and where in it; ``None`` while nothing is.
        self.typed: str | None = None
        self.caret = 0
        self.question: Question | None = None
        #: Columns and lines that there are.
        self.size = (80, 24)
        self.message = ""
        self.tone: Tone = "plain"
        #: What keys have asked for that is not the form's own to do.
        self.wants: Wants = ""
        self._draft = draft
        self._before: list[Draft] = []
        self._preview: tuple[Draft, str, Draft] | None = None
        self._known: Known | None = None
        self._rows: tuple[Draft, int, tuple[Row, ...]] | None = None

    # What there is.

    @property
    def draft(self) -> Draft:
        """The plan as it would be with what is being typed."""
        if self.typed is None:
            return self._draft
        if self._preview is None or self._preview[1] != self.typed or self._preview[0] is not self._draft:
            field = self.field
            draft = self._draft if field is None else with_text(self._draft, field, self.typed)
            self._preview = (self._draft, self.typed, draft)
        return self._preview[2]

    @property
    def changed(self) -> bool:
        """Whether anything is other than it was at first."""
        return self.draft != self.first

    def _worked_out(self) -> Known:
        """What is wrong with the draft and what it adds up to, worked out once for each draft."""
        draft = self.draft
        if self._known is None or self._known.draft is not draft:
            plan = plan_of(draft)
            refused = None if plan is None else self.why_not(plan)
            self._known = Known(draft, tuple(wrongs(draft)), plan, refused, outlook(draft, plan))
        return self._known

    @property
    def wrongs(self) -> tuple[Wrong, ...]:
        """Every problem."""
        return self._worked_out().wrongs

    @property
    def plan(self) -> Plan | None:
        """The plan, if nothing is wrong."""
        return self._worked_out().plan

    @property
    def outlook(self) -> Outlook:
        """What it adds up to."""
        return self._worked_out().outlook

    @property
    def refused(self) -> str | None:
        """Why the plan is refused although it is sound."""
        return self._worked_out().refused

    @property
    def own_page(self) -> Page | None:
        """The page of the plan that is shown; ``None`` on those behind."""
        return PAGES[self.page] if self.page < len(PAGES) else None

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows of the page, found once for each draft: a paint asks for them a dozen times."""
        if self.page >= len(PAGES):
            return ()
        if self._rows is None or self._rows[0] is not self._draft or self._rows[1] != self.page:
            self._rows = (self._draft, self.page, rows_on(self._draft, self.page))
        return self._rows[2]

    @property
    def field(self) -> Field | None:
        """The field under the cursor."""
        rows = self.rows
        if self.row < len(rows) and self.column < len(rows[self.row].cells):
            return rows[self.row].cells[self.column]
        return None

    @property
    def entry(self) -> int | None:
        """The place in its list of the row under the cursor."""
        return self.rows[self.row].entry if self.row < len(self.rows) else None

    def named(self, row: Row) -> str:
        """How a row is called: by its entry's key if it has one, else by its number; a field by its name."""
        page = self.own_page
        if page is None or page.rows_of is None or row.entry is None:
            return row.label
        key = value_at(self.draft, (page.rows_of, row.entry, KEY_FIELDS.get(page.rows_of, "key")))
        return key if isinstance(key, str) and key else row.label

    @property
    def takes_letters(self) -> bool:
        """Whether a letter is typed into the field under the cursor, and so is no key of the form's own."""
        return self.field is not None and self.field.kind in ("text", "keys")

    def say(self, message: str, tone: Tone = "plain") -> None:
        """One line about the last key."""
        self.message, self.tone = message, tone
