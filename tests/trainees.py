"""Somebody who enters a drill's sheet into a record in memory: as it is read, or with slips of our choice."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from cases import MORNING_MS, Record
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.evolve import fold
from orroom.drill.case import ROLES, entries_before
from orroom.drill.sheet import Item, Line, Sheet, group_order

WHO = "YO"
STATION = "drill-1"


def begun(sheet: Sheet) -> Record:
    """The record of a sheet's case at which a trainee has just sat down."""
    record = Record(fold(entries_before(sheet, MORNING_MS)), MORNING_MS)
    record.enter(c.JoinStation(role=ROLES[sheet.kind]), WHO, station=STATION)
    return record


def command_of(item: Item) -> c.Command:
    match item.does:
        case "cut":
            return c.CutGrafts(harvest="A", size=item.size, count=item.count)
        case "spoilt":
            return c.DiscardGrafts(size=item.size, reason=item.reason or "dropped", harvest="A")
        case "discarded":
            return c.DiscardGrafts(size=item.size, reason="dropped", count=item.count, lane=item.lane)
        case "placed":
            return c.PlaceGrafts(zone=item.zone or "", size=item.size, count=item.count, lane=item.lane)
    raise AssertionError(item)


def enter(record: Record, *items: Item) -> None:
    for item in items:
        record.enter(command_of(item), WHO, station=STATION)


def enter_line(record: Record, sheet: Sheet, line: Line) -> None:
    """What a line asks, and nothing else."""
    if line.struck is not None:
        enter(record, line.struck)
        return
    if line.fault == "wrong zone":
        (asks,) = line.asks
        moved = c.MovePlacing(entry=record.state.seq, zone=asks.zone or "")
        record.enter(moved, WHO, station=STATION)
        return
    if line.fault in ("undo", "wrong size"):
        record.enter(c.TakeBack(role=ROLES[sheet.kind]), WHO, station=STATION)
    enter(record, *line.asks)


def counted(record: Record, items: Collection[Item], who: str) -> None:
    """One person's whole count."""
    record.enter(c.BeginCount(), who, station=STATION)
    groups = tuple(
        e.CountedGroup(
            size=each.size, harvest=each.harvest or "", place=each.place or "dish", found=each.count
        )
        for each in sorted(items, key=group_order)
    )
    record.wait(1)
    record.enter(c.CountAll(groups=groups), who, station=STATION)


def through(
    sheet: Sheet,
    missed: Collection[int] = (),
    doubled: Collection[int] = (),
    instead: Mapping[int, Item] | None = None,
    until: int | None = None,
) -> Record:
    """The record after a whole sheet, but for slips at these lines, from 1; ``until`` a line."""
    record, instead = begun(sheet), instead or {}
    if sheet.kind == "count":
        items = [instead.get(line, item) for line, item in sheet.asked()]
        for by, who in enumerate(("RS", "TU"), 1):
            if mine := [each for each in items if each.by == by]:
                counted(record, mine, who)
        return record
    for number, line in enumerate(sheet.lines[:until], 1):
        if number in instead:
            enter(record, instead[number])
        elif number not in missed:
            enter_line(record, sheet, line)
        if number in doubled:
            enter(record, *line.asks)
    return record


def other_size(item: Item) -> Item:
    """The same of another size."""
    return replace(item, size={"1": "2", "2": "3", "3": "1", "M": "3"}[item.size])
