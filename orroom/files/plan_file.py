"""A plan read from its TOML file, or one clear error that lists everything wrong with it."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from msgspec.json import schema

from orroom.case.earlier import KeptBefore, Session, ZoneBefore
from orroom.case.plan import Plan
from orroom.errors import PlanInvalidError, Problem
from orroom.files.checker import checked, problems
from orroom.files.old_names import TODAY
from orroom.files.plan_rules import RULES, Rule
from orroom.files.toml_file import Kind, parsed, read_bytes

PLAN: Final = Kind("a plan", "plan", "plan.toml", "a plan in sample_cases")


def load_plan(path: Path) -> Plan:
    """The plan in a TOML file. Raises ``OrroomError`` if unreadable, else ``PlanInvalidError``."""
    return plan_from_raw(load_raw(path), str(path))


def load_raw(path: Path) -> dict[str, object]:
    """What a TOML file holds. Raises ``OrroomError`` if unreadable, ``PlanInvalidError`` if no TOML."""
    raw = parsed(read_bytes(path, PLAN), PLAN)
    if isinstance(raw, Problem):
        raise PlanInvalidError(str(path), [raw])
    return raw


def plan_from_raw(raw: Mapping[str, object], name: str, rules: Sequence[Rule] = RULES) -> Plan:
    """The plan in what was read from ``name``. Raises ``PlanInvalidError`` with every problem found."""
    plan, found = checked(raw, Plan, rules)
    if plan is None:
        raise PlanInvalidError(name, problems(raw, found))
    return plan


def plan_schema() -> dict[str, Any]:
    """The JSON Schema of a plan, for editors that complete and check as one types."""
    defined = _renamed(schema(Plan)["$defs"])
    plan = {**defined.pop("Plan"), "title": "orroom plan", "description": "The plan of one case."}
    del plan["properties"]["sessions"]
    for kind in (Session, ZoneBefore, KeptBefore):
        del defined[kind.__name__]
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **plan, "$defs": defined}


def _renamed(value: Any) -> Any:  # noqa: ANN401 - any part of a schema
    """A schema of msgspec's, which has the names of a record, with the names of a file."""
    if isinstance(value, dict):
        return {TODAY.get(name, name): _renamed(each) for name, each in value.items()}
    if isinstance(value, list):
        return [_renamed(each) for each in value]
    return TODAY.get(value, value) if isinstance(value, str) else value
