"""What is typed into a field of the form for a plan, and where in it."""

from dataclasses import dataclass
from typing import Final

from orroom.case.terms import MAX_TEXT
from orroom.files.plan_fields import Field

#: An outline has up to 400 corners; every other text is as short as the record's.
MAX_LONG_TEXT: Final = 8000


@dataclass
class Typed:
    """A text being typed into a field, and the place in it where the next character goes."""

    field: Field
    text: str = ""
    caret: int = 0

    def move(self, key: str) -> bool:
        """Move or delete; whether the key does any of that."""
        match key:
            case "right" if self.caret == len(self.text):
                return False  # it goes to the next field
            case "backspace":
                self.text = self.text[: max(0, self.caret - 1)] + self.text[self.caret :]
                self.caret = max(0, self.caret - 1)
            case "delete":
                self.text = self.text[: self.caret] + self.text[self.caret + 1 :]
            case "left":
                self.caret = max(0, self.caret - 1)
            case "right":
                self.caret = min(len(self.text), self.caret + 1)
            case "home":
                self.caret = 0
            case "end":
                self.caret = len(self.text)
            case _:
                return False
        return True

    def type(self, character: str) -> bool:
        """Put a character in, as the field takes it; whether there was room."""
        if len(self.text) >= (MAX_LONG_TEXT if self.field.kind in ("corners", "numbers") else MAX_TEXT):
            return False
        if self.field.capitals:
            character = character.upper()
        if self.field.kind == "number" and character == ",":
            character = "."
        self.text = self.text[: self.caret] + character + self.text[self.caret :]
        self.caret += len(character)
        return True
