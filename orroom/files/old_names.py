"""Plans and settings that were written when a field had another name: read, and saved, under today's."""

import re
from typing import Any, Final

from orroom.case.terms import AS_RECORDED

#: What each old name is called today.
TODAY: Final = {old: today for today, old in AS_RECORDED.items()}
#: A heading, or a field that begins its line or is in a table of one line.
_NAMED: Final = re.compile(
    rf"^(\s*(?:\[\[?\s*)?|[^\"'#\n]*[{{,]\s*)({'|'.join(TODAY)})(?=\s*(?:\]\]?|=))", re.MULTILINE
)


def in_todays_names(raw: dict[str, Any]) -> dict[str, Any]:
    """What a file held, its parts and the fields of its limits under the names they have today.

    A file that has a field under both names keeps both, so that the old one is reported as unknown.
    """
    renamed = {_today(name, raw): value for name, value in raw.items()}
    if isinstance(limits := renamed.get("limits"), dict):
        renamed["limits"] = {_today(name, limits): value for name, value in limits.items()}
    return renamed


def _today(name: str, among: dict[str, Any]) -> str:
    today = TODAY.get(name, name)
    return name if today in among else today


def text_in_todays_names(text: str) -> str:
    """The same of a file's text, all else in it left as it is; in doubt a name stays."""
    return _NAMED.sub(lambda found: found[1] + TODAY[found[2]], text)
