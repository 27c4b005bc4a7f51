"""What SQL says of a case is what the fold says, whatever kind of entry there is."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing

import pytest
from cases import EVERY_KIND, Record

from orroom.case.events import EVENT_KINDS, AnyEvent
from orroom.figures.counts import FIELDS
from orroom.record import cases, schema, views
from orroom.record.bodies import body_text


def in_sql(record: Record) -> sqlite3.Connection:
    """The record as rows, with the views of a case file."""
    connection = sqlite3.connect(":memory:")
    connection.execute(f"CREATE TABLE entry ({', '.join(schema.ENTRY_COLUMNS)})")
    for name, view in views.VIEWS.items():
        connection.execute(f"CREATE VIEW {name} AS {view.select}")
    for seq, stamp, event in ((each.seq, each.stamp, each.event) for each in record.state.log):
        row = (seq, stamp.at_ms, stamp.station, stamp.tap, stamp.who, event.kind, body_text(event), "")
        connection.execute(f"INSERT INTO entry VALUES ({', '.join('?' * len(row))})", row)
    return connection


@pytest.mark.parametrize("event", EVERY_KIND, ids=lambda event: event.kind)
def test_sql_counts_each_kind_as_the_fold_does(event: AnyEvent, under_way: Record):
    under_way.take(event)
    with closing(in_sql(under_way)) as connection:
        accounts = dict(connection.execute("SELECT account, sum(grafts) FROM movement GROUP BY account"))
        by_zone = {(zone, size): n for zone, size, n in connection.execute("SELECT * FROM tally_by_zone")}
        usable, placed = connection.execute(cases._COUNTS).fetchone()
        last = {station: who for station, who, _ in connection.execute(cases._LAST_AT_STATIONS)}
    for account in ("cut", "divided_in", "placed", "discarded", "divided_out", "missing"):
        assert accounts.get(FIELDS[account], 0) == under_way.held(account), account
    assert by_zone == dict(under_way.tally.placed)
    assert usable == sum(under_way.held(account) for account in ("dish", "bench", "placed", "left_at_end"))
    assert placed == under_way.held("placed")
    assert last["cutting-1"] == "AB"


@pytest.mark.parametrize("event", EVERY_KIND, ids=lambda event: event.kind)
def test_a_count_or_a_signature_makes_nobody_sit_at_a_station(event: AnyEvent, under_way: Record):
    under_way.take(event, under_way.stamp("ZZ"))
    with closing(in_sql(under_way)) as connection:
        last = {station: who for station, who, _ in connection.execute(cases._LAST_AT_STATIONS)}
    assert last["cutting-1"] == ("AB" if event.does.by_another else "ZZ")


def test_sql_names_no_kind_that_there_is_not():
    queries = [
        *(view.select for view in views.VIEWS.values()),
        *(each for each in vars(cases).values() if isinstance(each, str)),
    ]
    named = set(re.findall(r"'([a-z]+_[a-z_]+)'", " ".join(queries))) - set(FIELDS.values())
    assert {"grafts_placed", "final_count_begun", "care_given"} <= named <= set(EVENT_KINDS)
