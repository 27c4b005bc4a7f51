"""What each key does in the form for a plan."""

from collections.abc import Callable
from typing import Final, Literal

from orroom.screens.plan_form.form import ADVICE, PROBLEMS, Form
from orroom.screens.plan_form.lines import furthest

#: What a key asks for that is not the form's own to do.
Wants = Literal["", "save", "open", "leave"]
WANTS: Final[dict[str, Wants]] = {"f2": "save", "f5": "open", "f10": "leave"}


def down(form: Form, by: int = 1) -> None:
    """Another row; on a page of text this many lines further, until its last line is shown."""
    if form.own_page is not None:
        form.down(by, len(form.rows) - 1)
    else:
        form.down(by, len(form.known.wrongs) - 1 if form.page == PROBLEMS else furthest(form, *form.size))


KEYS: Final[dict[str, Callable[[Form], None]]] = {
    "up": lambda form: down(form, -1),
    "down": down,
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
    "f3": lambda form: form.go(PROBLEMS),
    "f4": lambda form: form.go(ADVICE),
    "f6": Form.undo,
    "f7": Form.add,
    "insert": Form.add,
    "f8": Form.remove,
    "delete": Form.remove,
}
#: Letters, by the keys they replace: where the field takes no letters, and in any field after Esc.
LETTERS: Final = {"s": "f2", "o": "f5", "n": "f7", "x": "f8", "u": "f6", "p": "f3", "r": "f4"}


def press(form: Form, key: str, character: str | None) -> Wants:
    """Give the form a key, by its plain name; answers what else is wanted."""
    if form.question is not None:
        form.answer(form.question, key, character)
        return ""
    form.say("")
    letters_work, form.after_escape = form.letters_work, False
    if form.typed is not None and form.edit(form.typed, key, character):
        return ""
    form.take()
    if letters_work and (letter := LETTERS.get((character or "").lower())):
        key, character = letter, None  # it is a key, and not typed as well
    if key in KEYS:
        KEYS[key](form)
    elif key in {"escape", "ctrl+c"}:
        if letters_work:
            return "leave"
        form.after_escape = True
        form.say("the next letter is a key; Esc again leaves")
    elif character is not None and character.isprintable():
        form.begin(character)
    return WANTS.get(key, "")
