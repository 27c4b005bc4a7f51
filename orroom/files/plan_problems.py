"""Everything that is wrong with a plan, all at once: single fields, and fields that contradict each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from orroom.case.parts import Part
from orroom.case.plan import Plan
from orroom.case.terms import hidden_character
from orroom.errors import Problem
from orroom.files.models import part_of
from orroom.files.plan_rules import RULES, Finding, Raw, Rule
from orroom.files.plan_words import Loc, place, shown
from orroom.files.right_words import known_fields, right_key, right_value


def plan_problems(raw: Raw, rules: Sequence[Rule] = RULES) -> tuple[Problem, ...]:
    """Every problem of a plan as it was read, in the order of a plan's fields; empty if it is sound."""
    if not isinstance(raw, Mapping):  # a recorded event may hold anything
        return (Problem("plan", f"is {shown(raw)}", f"give {right_value(())}"),)
    return problems_of(raw, Plan, rules)


def problems_of(raw: Raw, kind: type[Part], rules: Sequence[Rule]) -> tuple[Problem, ...]:
    """Every problem of what was read for a part, by its single fields and by rules across them."""
    findings = findings_of(raw, kind, rules)
    return tuple(dict.fromkeys(problem_of(raw, finding) for finding in findings))


def findings_of(raw: Raw, kind: type[Part], rules: Sequence[Rule]) -> list[Finding]:
    """What ``problems_of`` tells, each with the place of the field itself."""
    across = (finding for rule in rules for finding in rule(raw))
    found = [*_field_findings(raw, kind), *across]
    return sorted(found, key=lambda finding: _reading_order(finding.loc, kind))


def problem_of(raw: Raw, finding: Finding) -> Problem:
    """A finding with its place in the file's own words."""
    return Problem(place(raw, finding.loc), finding.wrong, finding.right)


def _reading_order(loc: Loc, kind: type[Part]) -> tuple[int, int]:
    names = list(kind.__struct_fields__)
    first = names.index(str(loc[0])) if loc and loc[0] in names else len(names)
    return first, next((part for part in loc[1:2] if isinstance(part, int)), -1)


# What is wrong with a single field.


def _field_findings(raw: Raw, kind: type[Part]) -> Iterator[Finding]:
    try:
        part_of(kind, raw)
    except ValidationError as error:
        for each in error.errors(include_url=False):
            if not _is_echo(each):
                yield _in_trade_words(each, kind)


def _is_echo(error: ErrorDetails) -> bool:
    """Whether a list is called too short only because its entries are wrong, which is told already."""
    return error["type"] == "too_short" and len(error["input"]) >= error["ctx"]["min_length"]


def _in_trade_words(error: ErrorDetails, kind: type[Part]) -> Finding:
    loc, found = error["loc"], error["input"]
    wrong, right = f"is {shown(found)}", f"give {right_value(loc, kind)}"
    if loc[-1:] == ("[key]",) and error["type"] != "extra_forbidden":  # a name in a table by size is wrong
        loc = loc[:-1]
        wrong, right = "is not a size", f"use {right_key(loc[:-1], kind)}"
    match error["type"]:
        case "extra_forbidden":
            wrong, right = "is not a known field", _spelling(loc, kind)
        case "missing":
            wrong = "is missing"
        case "value_error":
            wrong, _, right = str(error["ctx"]["error"]).partition("; ")
        case "string_unicode":
            wrong = f"holds the invisible character {hidden_character(found)}"
            right = "retype it without that character"
        case "string_too_short":
            wrong = "is empty"
        case "string_too_long":
            wrong = f"has {len(found)} characters"
        case "too_long" | "too_short":
            wrong = f"has {len(found)} {'entry' if len(found) == 1 else 'entries'}"
        case "union_tag_invalid" | "union_tag_not_found":
            wrong = f"is of kind {shown(found['kind'])}" if "kind" in found else "has no kind"
        case _ if isinstance(found, str) and right.startswith(("give a number", "give a whole number")):
            right += ", without quotation marks"
    return Finding(_without_shape_kind(loc), wrong, right)


def _without_shape_kind(loc: Loc) -> Loc:
    """The place without the shape's kind, which pydantic puts into it but the file does not."""
    return loc[:3] + loc[4:] if loc[:1] == ("zones",) and loc[2:3] == ("shape",) else loc


def _spelling(loc: Loc, kind: type[Part]) -> str:
    known = known_fields(loc[:-1], kind)
    close = get_close_matches(str(loc[-1]), known, n=1)
    return f"did you mean {close[0]}?" if close else f"remove it; known here: {', '.join(known)}"
