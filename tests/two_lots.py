"""The recorded day of ``sample_cases/two-lots``, turn by turn, so that every total can be added up by hand.

``python tests/two_lots.py > sample_cases/two-lots/events.jsonl`` writes it anew.
"""

from __future__ import annotations

import sys
from pathlib import Path

from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.events import Entry
from orroom.case.plan import Plan
from orroom.case.terms import Role
from orroom.demo.recorded import entries_of
from orroom.demo.room import Turn
from orroom.files.plan_file import load_plan
from orroom.record.encoding import lines_of

FOLDER = Path(__file__).parent.parent / "sample_cases" / "two-lots"
OPENED_AT_MS = 1_772_694_000_000  # 2026-03-05 08:00 at UTC+1
OFFSET_MINUTES = 60

#: Minutes after opening, who, at which role, what.
DAY: tuple[tuple[float, str, Role, c.Command], ...] = (
    (15, "NP", "overview", c.StartHarvest(harvest="A")),
    (25, "NP", "overview", c.EndHarvest(harvest="A")),
    (30, "NP", "overview", c.GiveCare(care="wet")),
    (35, "AB", "cutting", c.CutGrafts(harvest="A", size="1", count=60)),
    (45, "NP", "overview", c.GiveCare(care="wet")),
    (45, "NP", "overview", c.GiveCare(care="temperature", temperature_c=4.1)),
    (50, "AB", "cutting", c.CutGrafts(harvest="A", size="2", count=40)),
    (55, "AB", "cutting", c.FinishSegment(harvest="A")),
    (60, "CD", "cutting", c.CutGrafts(harvest="A", size="1", count=50)),
    (61, "NP", "overview", c.GiveCare(care="wet")),
    (65, "CD", "cutting", c.CutGrafts(harvest="A", size="3", count=30)),
    (66, "CD", "cutting", c.FinishSegment(harvest="A")),
    (70, "AB", "cutting", c.DiscardGrafts(size="2", reason="transected", harvest="A")),
    (75, "NP", "overview", c.GiveCare(care="renew")),
    (75, "NP", "overview", c.GiveCare(care="temperature", temperature_c=8.6)),
    (76, "NP", "overview", c.GiveCare(care="wet")),
    (80, "NP", "overview", c.StartHarvest(harvest="B")),
    (80, "NP", "overview", c.GiveCare(care="temperature", temperature_c=6.0)),
    (88, "NP", "overview", c.EndHarvest(harvest="B")),
    (90, "AB", "cutting", c.CutGrafts(harvest="B", size="1", count=95)),
    (91, "NP", "overview", c.GiveCare(care="wet")),
    (92, "GH", "placing", c.MakeSites(zone="HL", count=100)),
    (93, "GH", "placing", c.MakeSites(zone="HR", count=100)),
    (94, "GH", "placing", c.MakeSites(zone="FC", count=200)),
    (95, "AB", "cutting", c.CutGrafts(harvest="B", size="2", count=85)),
    (100, "CD", "cutting", c.CutGrafts(harvest="B", size="3", count=51)),
    (102, "CD", "cutting", c.DivideGrafts(size="3", into=("1", "2"), harvest="A")),
    (105, "CD", "cutting", c.CutGrafts(harvest="B", size="2", count=9)),
    (105, "CD", "cutting", c.TakeBack(role="cutting")),
    (106, "NP", "overview", c.GiveCare(care="wet")),
    (110, "GH", "placing", c.IssueGrafts(size="1", count=50)),
    (110, "NP", "overview", c.GiveCare(care="temperature", temperature_c=4.9)),
    (112, "GH", "placing", c.PlaceGrafts(zone="HL", size="1", count=50)),
    (114, "GH", "placing", c.PlaceGrafts(zone="HL", size="1", count=50)),
    (120, "GH", "placing", c.PlaceGrafts(zone="HR", size="1", count=100)),
    (121, "NP", "overview", c.GiveCare(care="wet")),
    (125, "GH", "placing", c.IssueGrafts(size="2", count=40)),
    (127, "GH", "placing", c.PlaceGrafts(zone="FC", size="2", count=40)),
    (128, "GH", "placing", c.ReseatGraft(zone="HR", count=2)),
    (130, "GH", "placing", c.IssueGrafts(size="3", count=20)),
    (132, "GH", "placing", c.PlaceGrafts(zone="FC", size="3", count=19)),
    (133, "GH", "placing", c.DiscardGrafts(size="3", reason="dried")),
    (135, "NP", "overview", c.GiveCare(care="renew")),
    (140, "GH", "placing", c.PlaceGrafts(zone="FC", size="2", count=80)),
    (140, "NP", "overview", c.GiveCare(care="wet")),
    (140, "NP", "overview", c.GiveCare(care="temperature", temperature_c=5.2)),
    (145, "GH", "placing", c.PlaceGrafts(zone="FC", size="3", count=61)),
    (150, "NP", "overview", c.AddNote(text="one 3 more placed than counted; dishes to be counted")),
)


def two_lots() -> list[Entry]:
    """The day as entries."""
    turns = [Turn(round(minutes * 60_000), who, role, command) for minutes, who, role, command in DAY]
    plan = as_recorded(load_plan(FOLDER / "plan.toml"))
    return entries_of(plan, turns, OPENED_AT_MS, OFFSET_MINUTES)


def as_recorded(plan: Plan) -> Plan:
    """A sample's plan as its recorded day has it: two care rounds had other labels then."""
    labels = {"wet": "wet the dishes", "renew": "renew holding solution"}
    care = tuple(replace(each, label=labels.get(each.key, each.label)) for each in plan.care)
    return replace(plan, care=care)


if __name__ == "__main__":
    sys.stdout.write(lines_of(two_lots()))
