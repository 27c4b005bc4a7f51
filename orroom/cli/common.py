"""What the verbs share: a path taken, a number checked, a case read, a text written, an entry made."""

from __future__ import annotations

import os
from collections.abc import Mapping
from copy import copy
from math import isnan
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Any

import click

from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.case.commands import Command
    from orroom.case.state import CaseState

#: Who an overview's entries are by when nobody says so: the room.
THE_ROOM = "OR"

#: Whether there is such a file, and whether it may be read, is for the record to say.
PATH = click.Path(path_type=Path, readable=False)


class Measure(click.FloatRange):
    """A number in a range; click's own range takes ``nan`` for one in it."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401 - click's own types
        """The number, or a usage error."""
        number = super().convert(value, param, ctx)
        return self.fail(f"{value} is not a number.", param, ctx) if isnan(number) else number


class Renamed(click.Option):
    """An option that its earlier names, which come after today's, give too: the help leaves them out."""

    def get_help_record(self, ctx: click.Context) -> tuple[str, str] | None:
        """The line of the help."""
        named = copy(self)
        named.opts = self.opts[:1]
        return super(Renamed, named).get_help_record(ctx)


def record(case: Path, command: Command, who: str) -> None:
    """Make one entry in a CASE, also while stations are open."""
    from orroom.record.case_file import CaseFile
    from orroom.recording import record_once

    with CaseFile.open(case) as case_file:
        record_once(case_file, command, who)


def state_of(case: Path) -> CaseState:
    """The state of a CASE now; it is only read. Raises ``CaseFileError`` if it cannot be read."""
    from orroom.case.evolve import fold
    from orroom.record.case_file import CaseFile

    with CaseFile.open(case, read_only=True) as case_file:
        return fold(case_file.entries_after(0))


#: Writes over what an earlier export wrote under that name.
REPLACE = click.option("--replace", is_flag=True, help="Write over an earlier one of that name.")


def write(text: str | bytes, output: Path | None, *, replace: bool = False) -> None:
    """Write a whole text to a file that only its owner may read, or to standard output.

    With ``replace`` an earlier export of that name is there until the new one is whole.
    """
    if output is None:
        click.echo(text, nl=False)
        return
    from orroom.files.whole_files import TAKEN, may_be_written, write_whole

    try:
        may_be_written(output, replace=replace)
        write_whole(output, text, replace=replace)
    except FileExistsError:
        raise OrroomError(f"{output} already exists.", TAKEN) from None
    except OSError as problem:
        raise OrroomError(
            f"{output} cannot be written: {problem.strerror}.", "Choose another folder."
        ) from None


def write_folder(texts: Mapping[str, str], output: Path, *, replace: bool = False) -> None:
    """Write texts by file name to a new or empty folder that only its owner may read: all or none.

    With ``replace`` a folder with nothing but tables in it may be there; it stays until all are written.
    """
    from orroom.files.whole_files import TAKEN

    output = Path(os.path.normpath(output))
    try:
        earlier = output.resolve() if replace and _has_tables_alone(output) else None
        output = earlier or output
        unfinished = Path(mkdtemp(prefix=f".{output.name[:50]}-", dir=output.parent))
        try:
            for name, text in texts.items():
                (unfinished / name).touch(0o600)
                (unfinished / name).write_bytes(text.encode("utf-8"))
            if earlier is not None:
                _swap(unfinished, earlier)
            else:
                unfinished.replace(output)  # refused where something is in it
        except OSError:
            rmtree(unfinished)
            raise
    except OSError as problem:
        if output.exists() and (not output.is_dir() or any(output.iterdir())):
            raise OrroomError(
                f"{output} already exists.",
                "Choose another name: --replace is for a folder with nothing but .csv tables in it."
                if replace
                else f"Tables of two summaries must not mix. {TAKEN}",
            ) from None
        raise OrroomError(
            f"{output} cannot be written: {problem.strerror}.", "Choose another folder."
        ) from None


def _has_tables_alone(folder: Path) -> bool:
    if not folder.is_dir():
        return False
    found = list(folder.iterdir())
    return bool(found) and all(each.suffix == ".csv" and each.is_file() for each in found)


def _swap(unfinished: Path, earlier: Path) -> None:
    """Put a finished folder in the place of an earlier one, which goes last; it is put back if that fails."""
    aside = unfinished.with_name(f"{unfinished.name}-earlier")
    earlier.replace(aside)
    try:
        unfinished.replace(earlier)
    except OSError:
        aside.replace(earlier)
        raise
    rmtree(aside)
