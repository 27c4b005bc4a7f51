"""The verb that shows the longer pages on using orroom."""

import sys
from importlib.resources import files
from typing import Final

import click

#: The pages, in the order in which somebody new needs them.
PAGES: Final = ("stations", "drill", "plan", "after", "trouble", "it", "values", "changes")
#: Pages that are made from the program when they are asked for.
DATA, COMMANDS = "data", "commands"
ALL_PAGES: Final = (*PAGES, DATA, COMMANDS)
#: Longer lines are harder to read, however wide the terminal is.
WIDEST: Final = 100
#: Legible on a light and on a dark terminal: the library's own have a black ground.
STYLES: Final = {"markdown.code": "bold cyan", "markdown.h2": "bold underline"}


def _pages(ctx: click.Context, param: click.Parameter, typed: str) -> list[str]:
    """The pages that a shell offers."""
    return [each for each in ALL_PAGES if each.startswith(typed)]


@click.command()
@click.argument("page", required=False, shell_complete=_pages)
@click.pass_context
def guide(ctx: click.Context, page: str | None) -> None:
    """Show a PAGE of the guide, or list its pages.

    In a terminal it opens in a pager (q leaves it); elsewhere it is plain text.
    """
    if page is None:
        click.echo("The guide's pages; orroom guide PAGE shows one.\n")
        for each in ALL_PAGES:
            click.echo(f"  {each:<10}{title_of(each)}")
        return
    if page not in ALL_PAGES:
        raise click.NoSuchCommand(
            page, f"The guide has no page {page!r}; orroom guide lists its pages.", ALL_PAGES, ctx
        )
    if sys.stdout.isatty():
        _show(text_of(page))
    else:
        click.echo(text_of(page), nl=False)


def text_of(page: str) -> str:
    """A page of the guide, in Markdown."""
    if page == DATA:
        from orroom.cli.data_page import data_page

        return data_page()
    if page == COMMANDS:
        from orroom.cli.commands_page import commands_page

        return commands_page()
    return (files("orroom") / "guide" / f"{page}.md").read_text("utf-8")


def title_of(page: str) -> str:
    """What a page is about."""
    return text_of(page).partition("\n")[0].removeprefix("# ")


def _show(text: str) -> None:
    from rich.console import Console
    from rich.markdown import Markdown
    from rich.theme import Theme

    console = Console(theme=Theme(STYLES))
    with console.capture() as shown:
        console.print(Markdown(text, code_theme="ansi_dark"), width=min(console.width, WIDEST))
    click.echo_via_pager(shown.get())
