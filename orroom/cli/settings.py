"""The verb about the clinic's settings: change them in the terminal, check their file, say where it is."""

import os

import click


@click.command()
@click.option("--check", is_flag=True, help="Only check the file: all errors at once.")
@click.option("--path", is_flag=True, help="Only print where the file is.")
def settings(*, check: bool, path: bool) -> None:
    """Change the clinic's settings, keys and plan defaults."""
    from orroom.files.settings_file import load_settings, settings_path

    file = settings_path(os.environ)
    if path:
        click.echo(file)
    if check:
        from orroom.screens.terminal.key_rules import KEY_RULES

        load_settings(file, KEY_RULES)
        click.echo(
            f"{file}: no mistakes" if file.exists() else f"{file}: no such file; the defaults are used"
        )
    if path or check:
        return
    from orroom.screens.stations.sitting import need_a_terminal, paint_at_once

    need_a_terminal()
    paint_at_once()
    from orroom.screens.settings.screen import change_settings

    change_settings()
