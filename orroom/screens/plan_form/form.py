"""The form for a plan without a terminal: the draft, the cursor, what is typed or asked, what is wrong."""

from typing import Final

from orroom.files.plan_draft import (
    Draft,
    Wrong,
    text_at,
    with_row,
    with_text,
    without,
)
from orroom.files.plan_fields import PAGES, Field, Page, Row
from orroom.files.plan_words import Loc
from orroom.screens.plan_form.drafts import Drafts, Known, WhyNot
from orroom.screens.plan_form.naming import row_name, why_wrong
from orroom.screens.plan_form.typed import Typed
from orroom.screens.terminal.asking import Choice, Dialogue, Option, Question
from orroom.screens.terminal.painting import Tone

#: The pages behind those of the plan: remarks on it, what is wrong with it.
LAST_PAGES: Final = ("remarks", "problems")
PAGE_NAMES: Final = (*(page.name for page in PAGES), *LAST_PAGES)
ADVICE, PROBLEMS = (PAGE_NAMES.index(name) for name in LAST_PAGES)
CASE_CODE_LOC: Final = ("case",)
NO_CHOICE: Final = "0"


class Form:
    """A plan that is being filled in."""

    def __init__(
        self,
        draft: Draft,
        *,
        revising: bool = False,
        opens: bool = False,
        why_not: WhyNot = lambda plan: None,
    ) -> None:
        self.drafts = Drafts(draft, why_not)
        self.revising = revising
        #: Whether a case can be opened with the plan as soon as it is saved.
        self.opens = opens
        self.page = self.row = self.column = 0
        #: What is typed; ``None`` while nothing is.
        self.typed: Typed | None = None
        self.question: Question | None = None
        #: Whether Esc was the last key, in a field that takes letters: the next letter is a key.
        self.after_escape = False
        #: Columns and lines that there are.
        self.size = (80, 24)
        self.message = ""
        self.tone: Tone = "plain"
        self._preview: tuple[Draft, str, Draft] | None = None
        self._rows: tuple[Draft, int, tuple[Row, ...]] | None = None

    # What there is.

    @property
    def draft(self) -> Draft:
        """The plan as it would be with what is being typed."""
        if self.typed is None:
            return self.drafts.now
        field, text = self.typed.field, self.typed.text
        if self._preview is None or self._preview[1] != text or self._preview[0] is not self.drafts.now:
            self._preview = (self.drafts.now, text, with_text(self.drafts.now, field, text))
        return self._preview[2]

    @property
    def changed(self) -> bool:
        """Whether anything is other than it was at first."""
        return self.draft != self.drafts.first

    @property
    def known(self) -> Known:
        """What is known of the draft."""
        return self.drafts.known(self.draft)

    @property
    def own_page(self) -> Page | None:
        """The page of the plan that is shown; ``None`` on those behind."""
        return PAGES[self.page] if self.page < len(PAGES) else None

    @property
    def rows_of(self) -> str | None:
        """The list whose entries are the rows of the page, if it has one."""
        return self.own_page.rows_of if self.own_page is not None else None

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows of the page, found once for each draft: a paint asks for them a dozen times."""
        if self.page >= len(PAGES):
            return ()
        draft = self.drafts.now
        if self._rows is None or self._rows[0] is not draft or self._rows[1] != self.page:
            self._rows = (draft, self.page, PAGES[self.page].rows(draft))
        return self._rows[2]

    @property
    def field(self) -> Field | None:
        """The field under the cursor."""
        rows = self.rows
        if self.row < len(rows) and self.column < len(rows[self.row].cells):
            return rows[self.row].cells[self.column]
        return None

    @property
    def letters_work(self) -> bool:
        """Whether a letter is a key now: nothing is being typed, and it would not be typed into the field."""
        takes_letters = self.field is not None and self.field.kind in ("text", "keys")
        return self.typed is None and (self.after_escape or not takes_letters)

    @property
    def entry(self) -> int | None:
        """The place in its list of the row under the cursor."""
        return self.rows[self.row].entry if self.row < len(self.rows) else None

    def named(self, row: Row) -> str:
        """How a row is called: by its entry's key if it has one, else by its number; a field by its name."""
        return row.label if self.own_page is None else row_name(self.draft, self.own_page, row)

    def say(self, message: str, tone: Tone = "plain") -> None:
        """One line about the last key."""
        self.message, self.tone = message, tone

    # Asking.

    def ask(self, dialogue: Dialogue) -> None:
        """Ask a question; what its answer does is in it."""
        self.question = Question(dialogue)

    def answer(self, question: Question, key: str, character: str | None) -> None:
        """Give the open question a key."""
        if key == "escape":
            self.question = None
            self.say("nothing changed")
            return
        question.press(key if len(key) > 1 else key.lower(), character)
        if question.over and self.question is question:
            self.question = None

    def _without(self, loc: Loc, ask: str) -> Dialogue:
        """Take something out, once that is sure."""
        yes = yield Choice(ask, (Option("y", "yes", True), Option("n", "no", False)))
        if yes:
            self.change(without(self.drafts.now, loc))
            self.say("removed; undo brings it back")
        return None

    def _choose(self, field: Field) -> Dialogue:
        options = [Option(str(number), each, each) for number, each in enumerate(field.choices, 1)]
        if field.optional:
            options.append(Option(NO_CHOICE, "none", ""))
        label = self.named(self.rows[self.row])
        value = yield Choice(f"{field.name} of {label}:", tuple(options))
        self.change(with_text(self.drafts.now, field, str(value)))
        return None

    # Typing.

    def open(self) -> None:
        """Begin to type in the field under the cursor, offer its choices, or go to a problem's field."""
        field = self.field
        if self.page == PROBLEMS:
            self.go_to_problem(self.row)
        elif field is None:
            self.say("n adds a row here" if self.rows_of else "")
        elif field.kind == "choice":
            self.ask(self._choose(field))
        elif not self._locked(field):
            text = text_at(self.drafts.now, field)
            self.typed = Typed(field, text, len(text))

    def begin(self, character: str) -> None:
        """Begin to type with a character; choices are offered."""
        field = self.field
        if field is not None and field.kind == "choice":
            self.open()
        elif field is not None and not self._locked(field):
            self.typed = Typed(field)
            self._type(self.typed, character)

    def _type(self, typed: Typed, character: str) -> None:
        if not typed.type(character):
            self.say("that is the maximum length", "wrong")

    def shorten(self) -> None:
        """Begin to type in the field with its last character gone."""
        if self.field is not None and self.field.kind != "choice":
            self.open()
            if self.typed is not None:
                self.typed.move("backspace")

    def edit(self, typed: Typed, key: str, character: str | None) -> bool:
        """Take a key while something is typed; whether that was all it does."""
        if key == "enter":
            self.take()
            self.right(wrap=True)
        elif key == "escape":
            self.typed = None
            self.say("as it was")
        elif character is not None and character.isprintable():
            self._type(typed, character)
        else:
            return typed.move(key)
        return True

    def paste(self, text: str) -> None:
        """Type a text that was pasted into the field under the cursor."""
        field = self.field
        if field is None or field.kind == "choice" or self._locked(field):
            return
        self.typed = self.typed or Typed(field)
        for character in filter(str.isprintable, text):
            self._type(self.typed, character)

    def take(self) -> None:
        """Take what is typed into the plan."""
        typed, self.typed = self.typed, None
        if typed is not None:
            self.change(with_text(self.drafts.now, typed.field, typed.text))
            if why := why_wrong(self.draft, self.known.wrongs, typed.field):
                self.say(f"✗ {typed.field.name}: {why}", "wrong")

    def _locked(self, field: Field) -> bool:
        locked = self.revising and field.loc == CASE_CODE_LOC
        if locked:
            self.say("the case keeps its code", "wrong")
        return locked

    # Changing.

    def change(self, draft: Draft) -> None:
        """Go on with another draft; the one before can be had back."""
        self.drafts.change(draft)
        self._stay_on_page()

    def undo(self) -> None:
        """The plan as it was before the last change."""
        if self.drafts.undo():
            self._stay_on_page()
            self.say("last change undone")
        else:
            self.say("there is nothing to undo", "wrong")

    def add(self) -> None:
        """One more row at the end of this page's list."""
        if self.rows_of is None:
            self.say("no rows can be added here", "wrong")
            return
        self.change(with_row(self.drafts.now, self.rows_of))
        self.row, self.column = len(self.rows) - 1, 0

    def remove(self) -> None:
        """Ask, then take out the row under the cursor; where there are no rows, empty the field.

        On the page of problems it is what is in no field of the form.
        """
        rows_of, entry, field = self.rows_of, self.entry, self.field
        if self.page == PROBLEMS:
            self._remove_unknown()
        elif rows_of is not None and entry is not None:
            label = self.named(self.rows[self.row])
            self.ask(self._without((rows_of, entry), f"Remove {label} of {rows_of}?"))
        elif rows_of is not None or field is None:
            self.say("no row to remove here", "wrong")
        elif not self._locked(field):
            self.change(with_text(self.drafts.now, field, ""))
            self.say("emptied; undo brings it back")

    def _remove_unknown(self) -> None:
        found = self._problem(self.row)
        if found is None or found.field is not None or not found.loc:
            self.say("Enter goes to the field of a problem", "wrong")
        else:
            self.ask(self._without(found.loc, f"Take out {found.problem.where}?"))

    # Moving.

    def _problem(self, place: int) -> Wrong | None:
        return self.known.wrongs[place] if place < len(self.known.wrongs) else None

    def go_to_problem(self, place: int) -> None:
        """Put the cursor where a problem is put right."""
        found = self._problem(place)
        if found is None:
            return
        if found.page is None:
            self.row = place
            self.say("not in the form; Delete removes it", "wrong")
        else:
            self.page, self.row, self.column = found.page, found.row, found.column
            self.say(f"{found.problem.wrong}; {found.problem.right}", "wrong")

    def go(self, page: int, row: int = 0, column: int = 0) -> None:
        """Go to a page or to a field on it; going where the cursor is opens the field."""
        self.after_escape = False
        here = (page, row, column) == (self.page, self.row, self.column)
        if here and self.typed is None and self.field is not None:
            self.open()
            return
        self.take()
        self.page, self.row, self.column = page % len(PAGE_NAMES), row, column
        self._stay_on_page()

    def _stay_on_page(self) -> None:
        rows = self.rows
        if self.own_page is not None:
            self.row = min(self.row, max(0, len(rows) - 1))
            cells = len(rows[self.row].cells) if rows else 1
            self.column = min(self.column, cells - 1)

    def right(self, *, wrap: bool = False) -> None:
        """The next field of the row; at its end, if that is wanted, the first of the next row."""
        rows = self.rows
        if not rows:
            return
        for column in range(self.column + 1, len(rows[self.row].cells)):
            if rows[self.row].cells[column] is not None:
                self.column = column
                return
        if wrap and self.row + 1 < len(rows):
            self.row, self.column = self.row + 1, 0

    def left(self) -> None:
        """The field before."""
        rows = self.rows
        if rows:
            before = [place for place in range(self.column) if rows[self.row].cells[place] is not None]
            self.column = before[-1] if before else 0

    def down(self, by: int, most: int) -> None:
        """Another row, of which ``most`` is the last; on a page of text this many lines further."""
        self.row = max(0, min(min(self.row, most) + by, most))
        self._stay_on_page()

    def to_column(self, column: int) -> None:
        """The first field of the row, or its last."""
        if self.rows:
            self.column = column % len(self.rows[self.row].cells)
