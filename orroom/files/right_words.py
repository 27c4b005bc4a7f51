"""What would be right in a plan or in settings, in words, and the JSON Schema of plans.

The words are read from the schema, so that messages, editors and validation cannot disagree.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, Final

from orroom.case.parts import Part
from orroom.case.plan import Plan
from orroom.case.terms import CARE_KEY, CASE_CODE, INITIALS, LOT_KEY, ZONE_KEY
from orroom.files.models import model_of
from orroom.files.plan_words import Loc, one_of

Node = Mapping[str, Any]

_DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

_PATTERN_WORDS: Final = {
    CASE_CODE: '1 to 32 capitals, digits, "-" or "_", a capital or digit first, such as "DEMO-0417"',
    ZONE_KEY: '1 to 12 capitals, digits or "-", a capital or digit first, such as "FL"',
    LOT_KEY: '1 to 4 capitals or digits, such as "A"',
    CARE_KEY: '1 to 16 small letters, digits or "-", a letter first, such as "wet"',
    INITIALS: 'a capital, then up to three capitals or digits, such as "AB"',
}


@cache
def plan_schema() -> dict[str, Any]:
    """The JSON Schema of a plan, for editors that complete and check as one types."""
    title = {"$schema": _DIALECT, "title": "orroom plan", "description": "The plan of one case."}
    return {**model_of(Plan).model_json_schema(), **title}


def known_fields(loc: Loc, kind: type[Part] = Plan) -> tuple[str, ...]:
    """The names of the fields that a table at this place may have."""
    return tuple(_node(loc, kind).get("properties", {}))


def right_value(loc: Loc, kind: type[Part] = Plan) -> str:
    """What would be right at this place, such as ``a number from 1 to 480``."""
    return _in_words(_node(loc, kind), str(loc[-1]) if loc else "", kind)


def right_key(loc: Loc, kind: type[Part] = Plan) -> str:
    """What would be right as a name in the table at this place."""
    return _in_words(_node(loc, kind).get("propertyNames", {}), "", kind)


@cache
def _schema(kind: type[Part]) -> Node:
    return model_of(kind).model_json_schema()


def _node(loc: Loc, kind: type[Part]) -> Node:
    """The part of the schema that describes this place; empty where the schema has none."""
    node = _resolved(_schema(kind), kind)
    for part in loc:
        if "discriminator" in node:
            node = {"$ref": node["discriminator"]["mapping"].get(part, "#/$defs/")}
        elif "items" in node:
            node = node["items"]
        elif "prefixItems" in node:
            node = node["prefixItems"][0]
        else:
            node = node.get("properties", {}).get(part, node.get("additionalProperties") or {})
        node = _resolved(node, kind)
    return node


def _resolved(node: Node, kind: type[Part]) -> Node:
    """The node itself in place of a reference to it or of a choice between it and nothing."""
    if "anyOf" in node:
        node = next(each for each in node["anyOf"] if each.get("type") != "null")
    if "$ref" in node:
        node = _schema(kind)["$defs"].get(node["$ref"].removeprefix("#/$defs/"), {})
    return node


def _in_words(node: Node, name: str, kind: type[Part]) -> str:
    node = _resolved(node, kind)
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
            return _list_in_words(node, name, kind)
        case "object" if "propertyNames" in node:
            each = _in_words(node["additionalProperties"], "", kind)
            return f"a table by {_in_words(node['propertyNames'], '', kind)}, each with {each}"
        case "object" if "properties" not in node:
            return f"a table, each name with {_in_words(node['additionalProperties'], '', kind)}"
        case "object":
            return f"a table with {', '.join(node.get('required', node['properties']))}"
    return "a field of a plan"


def _list_in_words(node: Node, name: str, kind: type[Part]) -> str:
    least, most = node.get("minItems", 0), node.get("maxItems")
    entries = "entries"
    if most is not None:
        entries = f"{most} entries" if least == most else f"{least} to {most} entries"
    elif least:
        entries = f"at least {least} {'entry' if least == 1 else 'entries'}"
    item = _resolved(node.get("items") or node["prefixItems"][0], kind)
    if item.get("type") == "object":
        return f"{entries}, each under its own [[{name}]] heading"
    return f"a list of {entries}, each {_in_words(item, '', kind)}"


def _range(node: Node) -> str:
    if "exclusiveMaximum" in node:
        return f"above {node['exclusiveMinimum']} and below {node['exclusiveMaximum']}"
    if "exclusiveMinimum" in node:
        return f"above {node['exclusiveMinimum']} and up to {node['maximum']}"
    return f"from {node['minimum']} to {node['maximum']}"
