"""How a problem of a plan is worded: where it stands in the file, what was found, what would be right.

What would be right is read from the plan's JSON Schema, so that messages, editors and validation cannot
disagree.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any, Final

from pydantic import BaseModel

from orroom.case.plan import Plan
from orroom.case.terms import CARE_KEY, CASE_CODE, INITIALS, LOT_KEY, ZONE_KEY, hidden_character

#: Where something stands in a plan: field names and list positions from the top.
Loc = tuple[str | int, ...]
Node = Mapping[str, Any]

_DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
_MAX_SHOWN: Final = 40

_PATTERN_WORDS: Final = {
    CASE_CODE: '1 to 32 capitals, digits, "-" or "_", a capital or digit first, such as "DEMO-0417"',
    ZONE_KEY: '1 to 12 capitals, digits or "-", a capital or digit first, such as "FL"',
    LOT_KEY: '1 to 4 capitals or digits, such as "A"',
    CARE_KEY: '1 to 16 small letters, digits or "-", a letter first, such as "wet"',
    INITIALS: 'a capital, then up to three capitals or digits, such as "AB"',
}

#: The field that names an entry of a list to its reader.
KEY_FIELDS: Final = {"sizes": "key", "zones": "key", "lots": "key", "care": "key", "staff": "initials"}


@cache
def plan_schema() -> dict[str, Any]:
    """The JSON Schema of a plan, for editors that complete and check as one types."""
    title = {"$schema": _DIALECT, "title": "orroom plan", "description": "The plan of one case."}
    return {**Plan.model_json_schema(), **title}


def place(raw: Mapping[str, object], loc: Loc) -> str:
    """The place in the file's own words, such as ``zones[2] "FL": targets.3``."""
    if not loc:
        return "plan"
    top, rest = escaped(str(loc[0])), loc[1:]
    if not rest or not isinstance(rest[0], int):
        return top + _path(rest)
    name = _entry_name(raw, loc)
    entry = f"{top}[{rest[0]}]" + (f" {shown(name)}" if name else "")
    field = _path(rest[1:]).removeprefix(".")
    return f"{entry}: {field}" if field else entry


def _path(parts: Loc) -> str:
    return "".join(f"[{part}]" if isinstance(part, int) else f".{escaped(part)}" for part in parts)


def _entry_name(raw: Mapping[str, object], loc: Loc) -> str | None:
    rows = raw.get(str(loc[0]))
    position = loc[1]
    if not isinstance(rows, list | tuple) or not isinstance(position, int) or position >= len(rows):
        return None
    row = rows[position]
    name = row.get(KEY_FIELDS.get(str(loc[0]), "")) if isinstance(row, Mapping) else None
    return name if isinstance(name, str) else None


def shown(value: object) -> str:
    """A value as its file has it, kept short, with nothing invisible or confusing left in it."""
    match value:
        case None:
            return "empty"
        case bool():
            return "true" if value else "false"
        case str():
            return f'"{escaped(value)}"'
        case int() if value.bit_length() > 64:
            return "a far too large number"
        case int() | float():
            return str(value)
        case datetime.date() | datetime.time():
            return value.isoformat()
        case Mapping():
            return "a table"
        case _:
            return "a list"


def escaped(text: str) -> str:
    """A text kept short, its invisible characters, odd spaces among them, named instead."""
    short = text if len(text) <= _MAX_SHOWN else f"{text[: _MAX_SHOWN - 1]}…"
    return "".join(
        f"<U+{ord(one):04X}>" if hidden_character(one) or not one.isprintable() else one for one in short
    )


def one_of(values: Iterable[object]) -> str:
    """``"a", "b" or "c"``."""
    *most, last = map(shown, values)
    return f"{', '.join(most)} or {last}" if most else last


def known_fields(loc: Loc, model: type[BaseModel] = Plan) -> tuple[str, ...]:
    """The names of the fields that a table at this place may have."""
    return tuple(_node(loc, model).get("properties", {}))


def right_value(loc: Loc, model: type[BaseModel] = Plan) -> str:
    """What would be right at this place, such as ``a number from 1 to 480``."""
    return _in_words(_node(loc, model), str(loc[-1]) if loc else "", model)


def right_key(loc: Loc, model: type[BaseModel] = Plan) -> str:
    """What would be right as a name in the table at this place."""
    return _in_words(_node(loc, model).get("propertyNames", {}), "", model)


@cache
def _schema(model: type[BaseModel]) -> Node:
    return model.model_json_schema()


def _node(loc: Loc, model: type[BaseModel]) -> Node:
    """The part of the schema that describes this place; empty where the schema has none."""
    node = _resolved(_schema(model), model)
    for part in loc:
        if "discriminator" in node:
            node = {"$ref": node["discriminator"]["mapping"].get(part, "#/$defs/")}
        elif "items" in node:
            node = node["items"]
        elif "prefixItems" in node:
            node = node["prefixItems"][0]
        else:
            node = node.get("properties", {}).get(part, node.get("additionalProperties") or {})
        node = _resolved(node, model)
    return node


def _resolved(node: Node, model: type[BaseModel]) -> Node:
    """The node itself in place of a reference to it or of a choice between it and nothing."""
    if "anyOf" in node:
        node = next(each for each in node["anyOf"] if each.get("type") != "null")
    if "$ref" in node:
        node = _schema(model)["$defs"].get(node["$ref"].removeprefix("#/$defs/"), {})
    return node


def _in_words(node: Node, name: str, model: type[BaseModel]) -> str:
    node = _resolved(node, model)
    if "const" in node or "enum" in node:
        return one_of(node.get("enum") or [node["const"]])
    if "discriminator" in node:
        return f"a table whose kind is {one_of(node['discriminator']['mapping'])}"
    match node.get("type"):
        case "integer":
            return f"a whole number {_range(node)}"
        case "number":
            return f"a number {_range(node)}"
        case "string" if "pattern" in node:
            return _PATTERN_WORDS[node["pattern"]]
        case "string" if "maxLength" in node:
            return f"text of {node['minLength']} to {node['maxLength']} characters in quotation marks"
        case "string":
            return "text in quotation marks"
        case "array":
            return _list_in_words(node, name, model)
        case "object" if "propertyNames" in node:
            each = _in_words(node["additionalProperties"], "", model)
            return f"a table by {_in_words(node['propertyNames'], '', model)}, each with {each}"
        case "object" if "properties" not in node:
            return f"a table, each name with {_in_words(node['additionalProperties'], '', model)}"
        case "object":
            return f"a table with {', '.join(node.get('required', node['properties']))}"
    return "a field of a plan"


def _list_in_words(node: Node, name: str, model: type[BaseModel]) -> str:
    least, most = node.get("minItems", 0), node.get("maxItems")
    entries = "entries"
    if most is not None:
        entries = f"{most} entries" if least == most else f"{least} to {most} entries"
    elif least:
        entries = f"at least {least} {'entry' if least == 1 else 'entries'}"
    item = _resolved(node.get("items") or node["prefixItems"][0], model)
    if item.get("type") == "object":
        return f"{entries}, each under its own [[{name}]] heading"
    return f"a list of {entries}, each {_in_words(item, '', model)}"


def _range(node: Node) -> str:
    if "exclusiveMaximum" in node:
        return f"above {node['exclusiveMinimum']} and below {node['exclusiveMaximum']}"
    if "exclusiveMinimum" in node:
        return f"above {node['exclusiveMinimum']} and up to {node['maximum']}"
    return f"from {node['minimum']} to {node['maximum']}"
