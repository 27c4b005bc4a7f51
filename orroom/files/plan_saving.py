"""Where a plan that was filled in is written: its own file, one by its case code, or a draft next to it."""

import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import count
from pathlib import Path
from typing import Final

from orroom.case.terms import CASE_CODE
from orroom.errors import OrroomError
from orroom.files.plan_draft import Draft
from orroom.files.plan_file import load_raw
from orroom.files.plan_text import Written, text_of
from orroom.files.whole_files import write_whole

PLAN_SUFFIX: Final = ".toml"
DRAFT_SUFFIX: Final = ".draft.toml"
NO_CODE: Final = "plan"


@dataclass(frozen=True, slots=True)
class PlanFile:
    """The file that a plan came from, if any, its text and case code, and the folder for new ones.

    ``path`` without ``before`` is a file that is still to be made.
    """

    folder: Path = Path()
    path: Path | None = None
    before: str | None = None
    code: str = ""

    def target(self, draft: Draft) -> Path:
        """The file that the draft belongs in: its own while the case is the same, else one by its code."""
        code = str(draft.get("case"))
        if self.path is not None and (self.before is None or code == self.code):
            if self.path.name.endswith(DRAFT_SUFFIX):
                return self.path.with_name(self.path.name.removesuffix(DRAFT_SUFFIX) + PLAN_SUFFIX)
            return self.path
        name = code if re.fullmatch(CASE_CODE, code) else NO_CODE
        return self.folder / f"{name}{PLAN_SUFFIX}"

    def changed_meanwhile(self) -> bool:
        """Whether the file is no longer what was read of it."""
        try:
            return self.path is not None and self.before is not None and _text(self.path) != self.before
        except (OSError, UnicodeDecodeError):
            return True

    def save(self, draft: Draft, target: Path, *, replace: bool) -> Written:
        """Write the draft to a file that is not there yet, or in place of one; all of it or nothing.

        Raises ``OrroomError`` if that cannot be done.
        """
        written = text_of(draft, self.before)
        try:
            write_whole(target, written.text, replace=replace)
        except FileExistsError:
            raise OrroomError(
                f"{target} already exists.", "Save again, and choose whether to replace it."
            ) from None
        except OSError as problem:
            raise OrroomError(
                f"{target} cannot be written: {problem.strerror}.", "Choose another folder."
            ) from None
        return written

    def keep_draft(self, draft: Draft) -> Path:
        """Write what there is, valid or not, to a new draft file: next to the plan, or where it can be.

        Raises ``OrroomError`` if it can be nowhere.
        """
        target = self.target(draft)
        text = text_of(draft, self.before).text
        problem: OSError | None = None
        for folder in (target.parent, Path.home(), Path(tempfile.gettempdir())):
            for path in free_names(folder / target.name, DRAFT_SUFFIX):
                try:
                    write_whole(path, text, replace=False)
                except FileExistsError:
                    continue
                except OSError as why:
                    problem = why
                    break
                return path
        raise OrroomError(f"The draft could not be saved: {problem}.", "Free some disk space.")


def plan_file_of(path: Path, folder: Path = Path()) -> tuple[Draft, PlanFile]:
    """What a plan file holds, valid or not, and where it is written back.

    Raises ``OrroomError`` if it cannot be read, and ``PlanInvalidError`` if it is not TOML.
    """
    draft = load_raw(path)
    return draft, PlanFile(folder, path, _text(path), str(draft.get("case", "")))


def free_code(folder: Path, today: date) -> str:
    """A case code that no plan or case in a folder has: the day and a number."""
    codes = (f"{today:%y%m%d}-{number}" for number in count(1))
    return next(
        each for each in codes if not ((folder / each).exists() or (folder / f"{each}{PLAN_SUFFIX}").exists())
    )


def free_names(path: Path, suffix: str = PLAN_SUFFIX) -> Iterator[Path]:
    """Names like that of a file, with a number from the second on."""
    stem = path.name.removesuffix(PLAN_SUFFIX)
    yield path.with_name(f"{stem}{suffix}")
    yield from (path.with_name(f"{stem}.{number}{suffix}") for number in count(2))


def _text(path: Path) -> str:
    """A file's text with the line ends that it has."""
    return path.read_bytes().decode("utf-8-sig")
