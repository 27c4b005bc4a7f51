"""The command line: verbs only. Each imports what it needs when it runs; help and reports start no screen."""

from __future__ import annotations

from typing import Any

import click

from orroom import __version__
from orroom.case.terms import CAUTIONS
from orroom.cli import archiving, kept, live, planning, plans, replanning, setting, starting, telling, told
from orroom.errors import OrroomError


class _Verbs(click.Group):
    """Shows an error of our own family in one sentence, with its exit code and no traceback."""

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's own type
        try:
            return super().invoke(ctx)
        except OrroomError as error:
            click.echo(f"orroom: {error}", err=True)
            ctx.exit(error.exit_code)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Without a verb the start screen opens where there is a terminal; else the help is shown."""
        if not args:
            from orroom.screens.sitting import in_a_terminal

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


for _verb in (
    plans.check,
    plans.spacing,
    plans.elasticity,
    planning.plan,
    plans.schema,
    plans.new,
    plans.revise,
    starting.start,
    live.open_case,
    live.demo,
    live.practice,
    live.replay,
    replanning.replan,
    told.summary,
    telling.status,
    telling.keys,
    told.export,
    told.verify,
    kept.import_case,
    kept.backup,
    kept.doctor,
    setting.settings,
    kept.sign_off,
    kept.reopen,
    archiving.archive,
):
    main.add_command(_verb)
