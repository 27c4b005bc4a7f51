"""A clinic's settings read from their TOML file and changed in it; comments in it survive a change."""

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from copy import deepcopy
from pathlib import Path
from typing import Any, Final

from orroom.case.parts import plain_table
from orroom.case.settings import Settings
from orroom.errors import OrroomError, Problem, SettingsInvalidError
from orroom.files.plan_rules import (
    Finding,
    Raw,
    Rule,
    refuse_hairs_unlike_size,
    refuse_reserved_care_key,
    refuse_round_without_interval,
    refuse_same_key_twice,
    refuse_start_of_other_care,
    refuse_temperature_without_band,
    refuse_two_starts,
)
from orroom.files.plan_words import Loc
from orroom.files.toml_file import Kind, parsed, read_bytes

#: Names another settings file than the user's own.
VARIABLE: Final = "ORROOM_SETTINGS"
SETTINGS: Final = Kind("settings", "settings", "settings.toml", "what orroom settings writes")


def refuse_same_fault_twice(raw: Raw) -> Iterator[Finding]:
    """A fault of spot checks is in a list once."""
    checks = raw.get("checks")
    for subject, faults in checks.items() if isinstance(checks, Mapping) else ():
        for place, fault in enumerate(faults if isinstance(faults, list | tuple) else ()):
            if fault in faults[:place]:
                yield Finding(
                    loc=("checks", subject, place), wrong=f"{fault!r} is there twice", right="take one out"
                )


#: What of a plan's rules concerns the parts that settings have too.
RULES: Final[tuple[Rule, ...]] = (
    refuse_same_key_twice,
    refuse_reserved_care_key,
    refuse_hairs_unlike_size,
    refuse_temperature_without_band,
    refuse_round_without_interval,
    refuse_start_of_other_care,
    refuse_two_starts,
    refuse_same_fault_twice,
)

#: Actions by their names in earlier settings: read under today's, and written so with the next change.
EARLIER_ACTIONS: Final = {
    "next-lot": "next-harvest",
    "shift": "hand-over",
    "take-back": "undo",
    "correct": "cancel",
    "rest": "break",
}


def settings_path(environment: Mapping[str, str]) -> Path:
    """The file that the environment names, or else the one in the user's configuration folder."""
    if named := environment.get(VARIABLE):
        return Path(named)
    from platformdirs import user_config_path

    return user_config_path("orroom", appauthor=False) / SETTINGS.file


def read_settings(path: Path) -> dict[str, Any]:
    """What a settings file says, valid or not; nothing without a file.

    Raises ``OrroomError`` if there is a file that cannot be read, and ``SettingsInvalidError`` if it is not
    TOML.
    """
    return _raw(_bytes(path), path)


def load_settings(path: Path, rules: Sequence[Rule] = ()) -> Settings:
    """The settings in a file; without one, the defaults. ``rules`` are those of the keys.

    Raises as ``read_settings``, and ``SettingsInvalidError`` with every problem found.
    """
    raw = read_settings(path)
    if not raw:  # a station then does not load what finds mistakes
        return Settings()
    from orroom.files.checker import checked, problems

    settings, found = checked(raw, Settings, (*RULES, *rules))
    if settings is None:
        raise SettingsInvalidError(str(path), problems(raw, found))
    return settings


def settings_problems(raw: Raw, rules: Sequence[Rule] = ()) -> tuple[Problem, ...]:
    """Every problem of settings as they were read; empty if they are valid."""
    from orroom.files.checker import checked, problems

    return problems(raw, checked(raw, Settings, (*RULES, *rules))[1])


def changed(raw: Raw, loc: Loc, value: object) -> dict[str, Any]:
    """Settings with one thing changed: a field, or an entry of a list; the one after its last is added.

    ``None`` takes out what is there. A list that is not there begins as the defaults.
    """
    after = deepcopy(dict(raw))
    here: Any = after
    for part in loc[:-1]:
        if isinstance(here, dict) and part not in here:
            here[part] = _begun(str(part)) if here is after else {}
        here = here[part]
    last = loc[-1]
    if value is None:
        if isinstance(last, int) or last in here:
            del here[last]
    elif isinstance(last, int) and last == len(here):
        here.append(value)
    else:
        here[last] = value
    return after


def _begun(part: str) -> object:
    """What stands where the file has nothing yet: a list with the defaults in it, or an empty table."""
    rows = getattr(Settings(), part)
    if not isinstance(rows, tuple):
        return {}
    return [{name: as_written(value) for name, value in plain_table(row).items()} for row in rows]


def as_written(value: object) -> object:
    """A number without decimals that it does not need, as a hand would write it; all else as it is."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def change_setting(path: Path, loc: Loc, value: object, rules: Sequence[Rule] = ()) -> tuple[Problem, ...]:
    """Change one thing in the file, as ``changed`` does, if all of it is valid then.

    Otherwise answers what would be wrong; nothing changes. Comments stay. Raises as ``read_settings``, and
    ``OrroomError`` if the file cannot be written, or only without its comments.
    """
    data = _bytes(path)
    after = changed(_raw(data, path), loc, value)
    wrong = settings_problems(after, rules)
    if not wrong:
        from orroom.files.plan_text import text_of
        from orroom.files.whole_files import write_whole

        before = _with_todays_actions(data.decode("utf-8-sig"))
        written = text_of(after, before) if before.strip() else text_of(after)
        if not written.comments_kept:
            raise OrroomError(f"{path} cannot be changed here without losing its comments.", "Use an editor.")
        target = path.resolve()
        try:
            target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            write_whole(target, written.text)
        except OSError as problem:
            raise OrroomError(
                f"{path} cannot be written: {problem.strerror}.", "Choose another place."
            ) from None
    return wrong


def _raw(data: bytes, path: Path) -> dict[str, Any]:
    raw = parsed(data, SETTINGS) if data else {}
    if isinstance(raw, Problem):
        raise SettingsInvalidError(str(path), (raw,))
    for table, earlier in _earlier_actions(raw):
        table[EARLIER_ACTIONS[earlier]] = table.pop(earlier)
    return raw


def _earlier_actions(settings: Mapping[str, Any]) -> list[tuple[Any, str]]:
    """Where keys are bound to an action by its earlier name and not by today's: the table, and that name."""
    keys = settings.get("keys")
    return [
        (table, earlier)
        for table in (keys.values() if isinstance(keys, Mapping) else ())
        if isinstance(table, Mapping)
        for earlier, today in EARLIER_ACTIONS.items()
        if earlier in table and today not in table
    ]


def _with_todays_actions(text: str) -> str:
    """The text of a settings file with earlier names of actions as they are today; comments stay."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    with suppress(TOMLKitError):
        document = tomlkit.parse(text)
        for table, earlier in _earlier_actions(document):
            table.add(EARLIER_ACTIONS[earlier], table.pop(earlier))
            text = tomlkit.dumps(document)
    return text


def put_aside(path: Path) -> Path:
    """Rename a wrong file, so that the defaults are used; answers its new name.

    Raises ``OrroomError`` if that cannot be done.
    """
    for number in range(1, 100):
        kept = path.with_name(f"{path.name}.wrong-{number}")
        if not kept.exists():
            try:
                path.rename(kept)
            except OSError as problem:
                raise OrroomError(
                    f"{path} cannot be renamed: {problem.strerror}.", "Ask its owner."
                ) from None
            return kept
    raise OrroomError(f"{path} has been put aside 99 times.", "Remove some of those files.")


def _bytes(path: Path) -> bytes:
    """What is in the file; nothing if there is none."""
    try:
        there = os.path.lexists(path)
    except ValueError:  # a name that no file can have
        there = True
    return read_bytes(path, SETTINGS) if there else b""
