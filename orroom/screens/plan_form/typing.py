"""What keys do in the form for a plan: moving, typing, rows, pages, taking back. No terminal is needed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from orroom.case.terms import MAX_TEXT
from orroom.files.plan_draft import Draft, text_at, with_row, with_text, without
from orroom.files.plan_fields import Field
from orroom.screens.plan_form.lines import furthest
from orroom.screens.plan_form.state import ADVICE, PAGE_NAMES, PROBLEMS, FormState, Wants
from orroom.screens.terminal.asking import Choice, Dialogue, Option, Question

#: An outline has up to 400 corners; every other text is as short as the record's.
MAX_LONG_TEXT: Final = 8000
CASE_CODE_LOC: Final = ("case",)
NO_CHOICE: Final = "0"


class Form(FormState):
    """A form that takes keys."""

    # What keys do.

    def press(self, key: str, character: str | None) -> None:
        """Take a key. ``key`` is the terminal library's name of it."""
        if self.question is not None:
            self._answer(key, character)
            return
        self.say("")
        if self.typed is not None and self._edit(key, character):
            return
        self.take()
        if (move := _KEYS.get(key)) is not None:
            move(self)
        elif character is not None and character.isprintable() and self._letter(character):
            pass
        elif key in {"escape", "ctrl+c"}:
            self.say("F10 leaves the form; F1 shows the keys")

    def _answer(self, key: str, character: str | None) -> None:
        question = self.question
        if question is None:
            return
        if key == "escape":
            self.question = None
            self.say("nothing changed")
            return
        question.press(key if len(key) > 1 else key.lower(), character)
        if question.over and self.question is question:
            self.question = None

    def ask(self, dialogue: Dialogue) -> None:
        """Ask a question; what its answer does is in it."""
        self.question = Question(dialogue)

    def _letter(self, character: str) -> bool:
        """Begin to type with a character, or take it as a key where no letters are typed."""
        field = self.field
        if not self.takes_letters and character.lower() in "nx":
            (self.add if character.lower() == "n" else self.remove)()
        elif field is not None and field.kind == "choice":
            self.open()
        elif field is not None and not self._locked(field):
            self.typed, self.caret = "", 0
            self._type(character)
        return True

    def _edit(self, key: str, character: str | None) -> bool:
        """Take a key while something is typed; answers whether that was all it does."""
        typed = self.typed or ""
        match key:
            case "enter":
                self.take()
                self.right(wrap=True)
            case "escape":
                self.typed = None
                self.say("as it was")
            case "backspace":
                self.typed = typed[: max(0, self.caret - 1)] + typed[self.caret :]
                self.caret = max(0, self.caret - 1)
            case "delete":
                self.typed = typed[: self.caret] + typed[self.caret + 1 :]
            case "left":
                self.caret = max(0, self.caret - 1)
            case "right":
                self.caret = min(len(typed), self.caret + 1)
            case "home":
                self.caret = 0
            case "end":
                self.caret = len(typed)
            case _ if character is not None and character.isprintable():
                self._type(character)
            case _:
                return False
        return True

    def _type(self, character: str) -> None:
        field, typed = self.field, self.typed or ""
        if field is None:
            return
        if len(typed) >= (MAX_LONG_TEXT if field.kind in ("corners", "numbers") else MAX_TEXT):
            self.say("that is as long as it may be", "wrong")
            return
        if field.capitals:
            character = character.upper()
        if field.kind == "number" and character == ",":
            character = "."
        self.typed = typed[: self.caret] + character + typed[self.caret :]
        self.caret += len(character)

    def paste(self, text: str) -> None:
        """Type a text that was pasted into the field under the cursor."""
        field = self.field
        if field is None or field.kind == "choice" or self._locked(field):
            return
        if self.typed is None:
            self.typed, self.caret = "", 0
        for character in filter(str.isprintable, text):
            self._type(character)

    def take(self) -> None:
        """Take what is typed into the plan."""
        if self.typed is not None and (field := self.field) is not None:
            typed, self.typed = self.typed, None
            self.change(with_text(self._draft, field, typed))

    def change(self, draft: Draft) -> None:
        """Go on with another draft; the one before can be had back."""
        if repr(draft) != repr(self._draft):
            self._before.append(self._draft)
            self._draft = draft
        self._stay_on_page()

    def _stay_on_page(self) -> None:
        rows = self.rows
        if self.own_page is not None:
            self.row = min(self.row, max(0, len(rows) - 1))
            cells = len(rows[self.row].cells) if rows else 1
            self.column = min(self.column, cells - 1)

    def _locked(self, field: Field) -> bool:
        locked = self.revising and field.loc == CASE_CODE_LOC
        if locked:
            self.say("the case keeps its code", "wrong")
        return locked

    def open(self) -> None:
        """Begin to type in the field under the cursor, offer its choices, or go to a problem's field."""
        field = self.field
        if self.page == PROBLEMS:
            self.go_to_problem(self.row)
        elif field is None:
            self.say("F7 or n adds a row here" if self.own_page and self.own_page.rows_of else "")
        elif field.kind == "choice":
            self.ask(self._choose(field))
        elif not self._locked(field):
            self.typed = text_at(self._draft, field)
            self.caret = len(self.typed)

    def shorten(self) -> None:
        """Begin to type in the field with its last character gone."""
        if self.field is not None and self.field.kind != "choice":
            self.open()
            self._edit("backspace", None)

    def _choose(self, field: Field) -> Dialogue:
        options = [Option(str(number), each, each) for number, each in enumerate(field.choices, 1)]
        if field.optional:
            options.append(Option(NO_CHOICE, "none", ""))
        label = self.named(self.rows[self.row])
        value = yield Choice(f"{field.name} of {label}:", tuple(options))
        self.change(with_text(self._draft, field, str(value)))
        return None

    def add(self) -> None:
        """One more row at the end of this page's list."""
        page = self.own_page
        if page is None or page.rows_of is None:
            self.say("there are no rows to add here", "wrong")
            return
        self.change(with_row(self._draft, page.rows_of))
        self.row, self.column = len(self.rows) - 1, 0

    def remove(self) -> None:
        """Ask, then take out the row under the cursor; where there are no rows, empty the field.

        On the page of problems it is what stands in no field of the form.
        """
        page, entry = self.own_page, self.entry
        if self.page == PROBLEMS:
            self._remove_unknown()
        elif page is not None and page.rows_of is None and (field := self.field) is not None:
            if not self._locked(field):
                self.change(with_text(self._draft, field, ""))
                self.say("emptied; F6 brings it back")
        elif page is None or page.rows_of is None or entry is None:
            self.say("there is no row to remove here", "wrong")
        else:
            rows_of, label = page.rows_of, self.named(self.rows[self.row])
            self.ask(
                self._sure(f"Remove {label} of {rows_of}?", lambda: without(self._draft, (rows_of, entry)))
            )

    def _remove_unknown(self) -> None:
        found = self.wrongs[self.row] if self.row < len(self.wrongs) else None
        if found is None or found.field is not None or not found.loc:
            self.say("Enter goes to the field of a problem", "wrong")
        else:
            loc = found.loc
            self.ask(self._sure(f"Take out {found.problem.where}?", lambda: without(self._draft, loc)))

    def _sure(self, ask: str, changed: Callable[[], Draft]) -> Dialogue:
        yes = yield Choice(ask, (Option("y", "yes", True), Option("n", "no", False)))
        if yes:
            self.change(changed())
            self.say("removed; F6 brings it back")
        return None

    def undo(self) -> None:
        """The plan as it was before the last change."""
        if self._before:
            self._draft = self._before.pop()
            self._stay_on_page()
            self.say("the last change is taken back")
        else:
            self.say("there is nothing to take back", "wrong")

    def go_to_problem(self, place: int) -> None:
        """Put the cursor where a problem is put right."""
        found = self.wrongs[place] if place < len(self.wrongs) else None
        if found is None:
            return
        if found.page is None:
            self.row = place
            self.say("the form has no field for that; Delete takes it out", "wrong")
        else:
            self.page, self.row, self.column = found.page, found.row, found.column
            self.say(f"{found.problem.wrong}; {found.problem.right}", "wrong")

    def go(self, page: int, row: int = 0, column: int = 0) -> None:
        """Go to a page or to a field on it; going where the cursor is opens the field."""
        here = (page, row, column) == (self.page, self.row, self.column) and self.own_page is not None
        if here and self.typed is None and self.field is not None:
            self.open()
            return
        self.take()
        self.page, self.row, self.column = page % len(PAGE_NAMES), row, column
        self._stay_on_page()

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

    def down(self, by: int = 1) -> None:
        """Another row; on a page of text so many lines further, until its last line is shown."""
        if self.own_page is not None:
            most = len(self.rows) - 1
        else:
            most = len(self.wrongs) - 1 if self.page == PROBLEMS else furthest(self, *self.size)
        self.row = max(0, min(min(self.row, most) + by, most))
        self._stay_on_page()

    def to_column(self, column: int) -> None:
        """The first field of the row, or its last."""
        if self.rows:
            self.column = column % len(self.rows[self.row].cells)

    def want(self, what: Wants) -> None:
        """Ask for what is not the form's own to do."""
        self.wants = what


_KEYS: Final[dict[str, Callable[[Form], None]]] = {
    "up": lambda form: form.down(-1),
    "down": Form.down,
    "left": Form.left,
    "right": Form.right,
    "home": lambda form: form.to_column(0),
    "end": lambda form: form.to_column(-1),
    "enter": Form.open,
    "space": Form.open,
    "backspace": Form.shorten,
    "tab": lambda form: form.go(form.page + 1),
    "pagedown": lambda form: form.go(form.page + 1),
    "shift+tab": lambda form: form.go(form.page - 1),
    "pageup": lambda form: form.go(form.page - 1),
    "f2": lambda form: form.want("save"),
    "f3": lambda form: form.go(PROBLEMS),
    "f4": lambda form: form.go(ADVICE),
    "f6": Form.undo,
    "f7": Form.add,
    "insert": Form.add,
    "f8": Form.remove,
    "delete": Form.remove,
    "f10": lambda form: form.want("leave"),
}
