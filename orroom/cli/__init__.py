"""The command line: verbs only. Each imports what it needs when it runs; help and reports start no screen."""

import os
import sqlite3
from errno import errorcode
from importlib import import_module
from typing import Any, Final

import click

from orroom import __version__, support
from orroom.case.terms import CAUTIONS
from orroom.cli.characters import prepare, what_was_replaced
from orroom.errors import CaseFileError, OrroomError

# Plans and settings are checked by our rules and no others; looking for plugins also takes a while.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

#: Every verb, by the part of the work that it is for, and the module that has its command, under the name
#: behind the colon if that is another.
GROUPS: Final = {
    "Begin": {
        "demo": "stations",
        "practice": "training",
        "drill": "training",
        "guide": "guide",
        "machine": "keep",
        "settings": "settings",
    },
    "Plan": {
        "plan": "plan_form",
        "check": "plan",
        "spacing": "plan",
        "elasticity": "plan",
        "schema": "plan",
        "sheets": "sheets",
        "new": "plan",
    },
    "Day": {
        "start": "start",
        "open": "stations:open_case",
        "status": "status",
        "handover": "status",
        "keys": "status",
        "revise": "plan",
        "replan": "replan",
        "flow": "flow",
    },
    "After": {
        "fates": "fates",
        "sign-off": "keep:sign_off",
        "reopen": "keep",
        "summary": "reports",
        "verify": "reports",
    },
    "Carry": {
        "backup": "keep",
        "restore": "keep",
        "export": "reports",
        "import": "keep:import_case",
    },
    "Look back": {
        "replay": "stations",
        "archive": "archive",
        "people": "people",
    },
}
VERBS: Final = {verb: module for verbs in GROUPS.values() for verb, module in verbs.items()}
#: Verbs by their earlier names, which are too unlike for click to offer them.
EARLIER_VERBS: Final = {"doctor": "machine"}


class _Verbs(click.Group):
    """Loads only the verb that is asked for, and shows an error of ours in one sentence."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        module, _, name = VERBS[cmd_name].partition(":")
        command: click.Command = getattr(import_module(f"orroom.cli.{module}"), name or cmd_name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Offers the verb that may have been meant: click does for commands it was given beforehand."""
        if args[0] not in VERBS and not args[0].startswith("-"):
            meant = EARLIER_VERBS.get(args[0])
            message = meant and f"No such command {args[0]!r}. Did you mean {meant!r}?"
            raise click.NoSuchCommand(args[0], message, possibilities=VERBS, ctx=ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Lists the verbs under the part of the work that each is for."""
        longest = max(map(len, VERBS))
        for title, verbs in GROUPS.items():
            with formatter.section(title):
                rows = [(verb, self.get_command(ctx, verb)) for verb in verbs]
                formatter.write_dl(
                    [
                        (verb.ljust(longest), command.get_short_help_str(formatter.width - longest - 6))
                        for verb, command in rows
                        if command is not None
                    ]
                )

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's own type
        prepare()
        support.begin(debug=ctx.params["debug"])
        try:
            return super().invoke(ctx)
        except OrroomError as error:
            support.LOG.info("refused: %s", type(error).__name__)
            click.echo(f"orroom: {error}", err=True)
            ctx.exit(error.exit_code)
        except BrokenPipeError:
            raise  # click's own: the reader has enough
        except OSError as problem:
            support.LOG.error("failed: %s", errorcode.get(problem.errno or 0, type(problem).__name__))
            what = (
                f"{problem.filename} cannot be used" if problem.filename else "The output cannot be written"
            )
            click.echo(f"orroom: {what}: {problem.strerror}.", err=True)
            ctx.exit(OrroomError.exit_code)
        except sqlite3.Error as problem:
            support.LOG.error("failed: %s", getattr(problem, "sqlite_errorname", type(problem).__name__))
            click.echo(f"orroom: The case cannot be read: {problem}. Is the disk full or gone?", err=True)
            ctx.exit(CaseFileError.exit_code)
        except click.exceptions.Exit:
            raise
        except (click.ClickException, click.Abort):
            support.LOG.info("refused: how it was called")
            raise
        except Exception as fault:
            if ctx.params["debug"]:
                raise
            click.echo(str(support.Crash(fault)), err=True)
            ctx.exit(OrroomError.exit_code)
        finally:
            support.LOG.info("ends: %s", ctx.invoked_subcommand)
            if replaced := what_was_replaced():
                click.echo(f"orroom: {replaced}", err=True)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Without a verb the start screen opens where there is a terminal; otherwise the help is shown."""
        if not args:
            from orroom.screens.stations.sitting import in_a_terminal

            args = ["start"] if in_a_terminal() else []
        return super().parse_args(ctx, args)


@click.group(
    cls=_Verbs, epilog="\n\n".join(CAUTIONS), context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(__version__, prog_name="orroom")
@click.option("--debug", is_flag=True, help="Log more, and show where a fault of orroom is.")
@click.pass_context
def main(ctx: click.Context, *, debug: bool) -> None:
    """Live graft tallying for a hair-restoration operating room.

    Cutting technicians count grafts as they cut them, the placement lead records what goes into each zone,
    the surgeon glances at totals. Every entry is kept in one case file.

    In a terminal, orroom alone opens the start screen; orroom guide has longer pages.
    """
    # Of the words that were typed the log has the verb alone: the others name cases and people.
    support.LOG.info("begins: %s; %s", ctx.invoked_subcommand, support.this_machine())
