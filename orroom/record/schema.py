"""What a case file is made of: columns, and guards that keep it append-only. Its views: ``views.py``."""

from typing import Final

APPLICATION_ID: Final = 0x4F52524D
FILE_FORMAT: Final = 5

#: The columns of table ``entry`` in order; all but ``seq`` and ``hash`` are what an entry says.
ENTRY_COLUMNS: Final[dict[str, type]] = {
    "seq": int,
    "at_ms": int,
    "station": str,
    "station_tap": int,
    "who": str,
    "kind": str,
    "body": str,
    "hash": str,
}

GUARDS: Final = {
    "entry_never_changes": """
        BEFORE UPDATE ON entry BEGIN
            SELECT RAISE(ABORT, 'an entry is never changed: add a correction');
        END""",
    "entry_never_goes": """
        BEFORE DELETE ON entry BEGIN
            SELECT RAISE(ABORT, 'an entry is never deleted: add a correction');
        END""",
    "entry_without_gap": """
        BEFORE INSERT ON entry
        WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM entry) BEGIN
            SELECT RAISE(ABORT, 'entries are numbered without a gap');
        END""",
}
