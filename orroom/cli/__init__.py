"""The command line: verbs only. Each imports what it needs when it runs; help and reports start no screen."""

from __future__ import annotations

import os
import sqlite3
from importlib import import_module
from typing import Any, Final

import click

from orroom import __version__
from orroom.case.terms import CAUTIONS
from orroom.cli.characters import prepare, what_was_replaced
from orroom.errors import CaseFileError, OrroomError

# Plans and settings are checked by our rules and no others; looking for plugins also takes a while.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

#: Every verb, and the module that has its command, under the name behind the colon if that is another.
VERBS: Final = {
    "archive": "archive",
    "backup": "keep",
    "check": "plan",
    "demo": "stations",
    "doctor": "keep",
    "elasticity": "plan",
    "export": "reports",
    "guide": "guide",
    "import": "keep:import_case",
    "keys": "status",
    "new": "plan",
    "open": "stations:open_case",
    "plan": "plan_form",
    "practice": "stations",
    "reopen": "keep",
    "replan": "replan",
    "replay": "stations",
    "revise": "plan",
    "schema": "plan",
    "settings": "settings",
    "sign-off": "keep:sign_off",
    "spacing": "plan",
    "start": "start",
    "status": "status",
    "summary": "reports",
    "verify": "reports",
}


class _Verbs(click.Group):
    """Loads the verb that is asked for and no other, and shows an error of ours in one sentence."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        module, _, name = VERBS[cmd_name].partition(":")
        command: click.Command = getattr(import_module(f"orroom.cli.{module}"), name or cmd_name)
        return command

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's own type
        prepare()
        try:
            return super().invoke(ctx)
        except OrroomError as error:
            click.echo(f"orroom: {error}", err=True)
            ctx.exit(error.exit_code)
        except BrokenPipeError:
            raise  # click's own: whoever read has enough
        except OSError as problem:
            what = (
                f"{problem.filename} cannot be used" if problem.filename else "The output cannot be written"
            )
            click.echo(f"orroom: {what}: {problem.strerror}.", err=True)
            ctx.exit(OrroomError.exit_code)
        except sqlite3.Error as problem:
            click.echo(f"orroom: The case cannot be read: {problem}. Is the disk full or gone?", err=True)
            ctx.exit(CaseFileError.exit_code)
        finally:
            if replaced := what_was_replaced():
                click.echo(f"orroom: {replaced}", err=True)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Without a verb the start screen opens where there is a terminal; else the help is shown."""
        if not args:
            from orroom.screens.stations.sitting import in_a_terminal

            args = ["start"] if in_a_terminal() else []
        return super().parse_args(ctx, args)


@click.group(
    cls=_Verbs, epilog="\n\n".join(CAUTIONS), context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(__version__, prog_name="orroom")
def main() -> None:
    """Live graft tallying for a hair-restoration operating room.

    Cutting technicians tap grafts as they sort, the placement lead enters what goes into each zone, the
    surgeon glances at totals; every entry is kept in one case file.
    """
