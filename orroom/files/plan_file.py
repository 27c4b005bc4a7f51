"""A plan read from its TOML file, or one clear error that lists everything wrong with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

from orroom.case.plan import Plan
from orroom.errors import PlanInvalidError, Problem
from orroom.files.models import part_of
from orroom.files.plan_problems import plan_problems
from orroom.files.plan_rules import RULES, Rule
from orroom.files.right_words import plan_schema
from orroom.files.toml_file import Kind, parsed, read_bytes

__all__ = ["load_plan", "load_raw", "plan_from_raw", "plan_problems", "plan_schema"]

PLAN: Final = Kind("a plan", "plan", "plan.toml", "a plan of sample_cases")


def load_plan(path: Path) -> Plan:
    """The plan in a TOML file.

    Raises ``OrroomError`` if the file cannot be read at all, and ``PlanInvalidError`` with every problem that
    was found in it.
    """
    return plan_from_raw(load_raw(path), str(path))


def load_raw(path: Path) -> dict[str, object]:
    """What a TOML file holds, sound or not.

    Raises ``OrroomError`` if it cannot be read, and ``PlanInvalidError`` if it is no TOML.
    """
    raw = parsed(read_bytes(path, PLAN), PLAN)
    if isinstance(raw, Problem):
        raise PlanInvalidError(str(path), [raw])
    return raw


def plan_from_raw(raw: Mapping[str, object], name: str, rules: Sequence[Rule] = RULES) -> Plan:
    """The plan in what was read from TOML or from a recorded event; ``name`` is where that came from.

    Raises ``PlanInvalidError`` with every problem found.
    """
    problems = plan_problems(raw, rules)
    if problems:
        raise PlanInvalidError(name, problems)
    return part_of(Plan, raw)
