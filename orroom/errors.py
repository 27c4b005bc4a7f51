"""The one family of errors a user can meet: what happened, what to do next, and the exit code."""

from collections.abc import Iterable

from msgspec import Struct


class OrroomError(Exception):
    """Something the user can act on.

    ``message`` says what happened and where, ``hint`` what would be right or what to do next.
    """

    exit_code = 1

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip()


class Problem(Struct, frozen=True):
    """One thing wrong in a file: where it stands, what is wrong, what would be right."""

    where: str
    wrong: str
    right: str

    def __str__(self) -> str:
        return f"{self.where}: {self.wrong}; {self.right}" if self.right else f"{self.where}: {self.wrong}"


class FileInvalidError(OrroomError):
    """A file with at least one problem; ``problems`` lists every one of them. ``what`` it should hold."""

    what = "the file"

    def __init__(self, name: str, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        lines = "\n".join(f"  {problem}" for problem in self.problems)
        number = len(self.problems)
        noun = "problem" if number == 1 else "problems"
        super().__init__(f"{name}: {number} {noun} in {self.what}\n{lines}")


class PlanInvalidError(FileInvalidError):
    """A plan that is wrong."""

    exit_code = 2
    what = "the plan"


class SettingsInvalidError(FileInvalidError):
    """Settings that are wrong."""

    exit_code = 2
    what = "the settings"


class CaseFileError(OrroomError):
    """A case file that cannot be opened, read or written."""

    exit_code = 3


class EventsInvalidError(OrroomError):
    """An events file that cannot be imported; the message names file, line and field."""

    exit_code = 4


class RecordNotIntactError(OrroomError):
    """A record that is not what was recorded."""

    exit_code = 6


class EntryRefusedError(OrroomError):
    """The case refused an entry asked for on the command line."""

    exit_code = 5
