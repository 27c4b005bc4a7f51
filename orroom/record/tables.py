"""Makes the tables, guards and views of a case file, once, when it is created."""

import sqlite3

from sqlite_utils import Database

from orroom.record.schema import ENTRY_COLUMNS, GUARDS
from orroom.record.views import VIEWS


def make_tables(connection: sqlite3.Connection) -> None:
    """Make an empty database into an empty case file. ``connection`` is in autocommit mode."""
    db = Database(connection)
    with db.atomic():
        entry = db.table("entry")
        entry.create(ENTRY_COLUMNS, pk="seq", not_null=set(ENTRY_COLUMNS) - {"seq"}, strict=True)
        entry.create_index(["station", "station_tap"], unique=True, index_name="one_tap_one_entry")
        db.table("about").create({"name": str, "value": str}, pk="name", strict=True)
        for name, guard in GUARDS.items():
            db.execute(f"CREATE TRIGGER {name} {guard}")
        for name, view in VIEWS.items():
            db.create_view(name, view.select)
