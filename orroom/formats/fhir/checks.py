"""What a FHIR bundle must be before it is written: one function a rule, listed in ``CHECKS``.

These are the rules that a model of the resources does not hold by itself. Where ``fhir.resources`` is
installed its models are asked as well. Where a source says "from memory" its page was not read.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import datetime
from importlib import import_module
from math import isfinite
from typing import Any, Final
from xml.etree import ElementTree

from orroom.errors import OrroomError
from orroom.formats.fhir.resources import UCUM, Json, Version

#: hl7.org/fhir/R4B/valueset-event-status.html (number of codes and first ones read, the rest from memory).
_EVENT: Final = frozenset(
    {"preparation", "in-progress", "not-done", "on-hold", "stopped", "completed"}
    | {"entered-in-error", "unknown"}
)
#: Code system http://hl7.org/fhir/observation-status, 5.0.0 (read, "unknown" from memory; R4B from memory).
_OBSERVATION: Final = frozenset(
    {"registered", "preliminary", "final", "amended", "corrected", "cancelled"}
    | {"entered-in-error", "unknown"}
)
#: hl7.org/fhir/R4b/valueset-device-status.html has ``unknown``, hl7.org/fhir/valueset-device-status.html (R5)
#: has not (both read).
_DEVICE: Final = frozenset({"active", "inactive", "entered-in-error"})

STATUSES: Final[dict[Version, dict[str, frozenset[str]]]] = {
    "r4b": {"Procedure": _EVENT, "Observation": _OBSERVATION, "Device": _DEVICE | {"unknown"}},
    "r5": {"Procedure": _EVENT, "Observation": _OBSERVATION, "Device": _DEVICE},
}

#: The UCUM codes that may be used. ``1``, ``/cm2``, ``min`` and the others parse with ucumvert 0.3.2 (tried);
#: ``%`` is in http://terminology.hl7.org/ValueSet/ucum-common (read). No braces, which HL7 discourages.
UNITS: Final = frozenset({"1", "%", "/cm2", "cm2", "/h", "h", "min", "s", "Cel"})

#: What a resource's id may be: FHIR data type ``id`` (from memory).
_ID: Final = re.compile(r"[A-Za-z0-9\-.]{1,64}")
#: A time with seconds and an offset: FHIR data type ``instant`` (from memory).
_TIME: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")
_TIMES: Final = frozenset({"start", "end", "recorded", "effectiveDateTime", "time"})
_XHTML: Final = "{http://www.w3.org/1999/xhtml}"

Found = Iterator[str]


def statuses(bundle: Json, version: Version) -> Found:
    """A status is one that this resource has in this version."""
    if bundle.get("type") != "collection":
        yield f"Bundle: type {bundle.get('type')!r}"
    for where, resource in _resources(bundle):
        allowed = STATUSES[version].get(resource["resourceType"])
        if allowed is not None and resource.get("status") not in allowed:
            yield f"{where}: status {resource.get('status')!r}"
        if resource.get("text", {}).get("status") != "generated":
            yield f"{where}: status of its text"


def unique_urls(bundle: Json, version: Version) -> Found:
    """Every entry is found under a URL of its own (Bundle, bdl-7, from memory)."""
    for url, times in Counter(each.get("fullUrl") for each in bundle["entry"]).items():
        if url is None or times > 1:
            yield f"fullUrl {url!r} {times} times"


def ids(bundle: Json, version: Version) -> Found:
    """An id has the form of one, is unique, and is the one in the entry's URL."""
    found = [bundle.get("id"), *(each["resource"].get("id") for each in bundle["entry"])]
    for each, times in Counter(found).items():
        if not isinstance(each, str) or not _ID.fullmatch(each):
            yield f"id {each!r} has not the form of one"
        elif times > 1:
            yield f"id {each!r} {times} times"
    for entry in bundle["entry"]:
        if entry.get("fullUrl") != f"urn:uuid:{entry['resource'].get('id')}":
            yield f"fullUrl {entry.get('fullUrl')!r} is not that of {entry['resource'].get('id')!r}"


def references(bundle: Json, version: Version) -> Found:
    """Every reference leads to an entry of the bundle, or says of whom it is without one."""
    urls = {each.get("fullUrl") for each in bundle["entry"]}
    for where, node in _nodes(bundle):
        if "reference" in node and node["reference"] not in urls:
            yield f"{where}: {node['reference']!r} is not in the bundle"
    for where, resource in _resources(bundle):
        for name in ("subject", "device"):
            told = resource.get(name)
            if told is not None and not {"reference", "identifier", "display"} & set(told):
                yield f"{where}: {name} says nothing"


def times(bundle: Json, version: Version) -> Found:
    """Every time has a date, seconds and an offset from UTC."""
    for where, node in _nodes(bundle):
        for name in _TIMES & set(node):
            if _time(node[name]) is None:
                yield f"{where}: {name} {node[name]!r} is no time with an offset"


def periods(bundle: Json, version: Version) -> Found:
    """A period does not end before it starts (Period, per-1, from memory)."""
    for where, node in _nodes(bundle):
        start, end = (_time(node.get(name)) for name in ("start", "end"))
        if start is not None and end is not None and end < start:
            yield f"{where}: ends before it starts"


def ranges(bundle: Json, version: Version) -> Found:
    """The low end of a range is not above its high one, in the same unit (Range, rng-2, from memory)."""
    for where, node in _nodes(bundle):
        low, high = node.get("low"), node.get("high")
        if low is None or high is None:
            continue
        if low["code"] != high["code"] or low["value"] > high["value"]:
            yield f"{where}: from {low['value']} {low['code']} to {high['value']} {high['code']}"


def units(bundle: Json, version: Version) -> Found:
    """A unit is a UCUM code that is listed here."""
    for where, node in _nodes(bundle):
        if "unit" in node and (node.get("system") != UCUM or node.get("code") not in UNITS):
            yield f"{where}: unit {node.get('system')!r} {node.get('code')!r}"


def numbers(bundle: Json, version: Version) -> Found:
    """An amount is a finite number of at most four decimal places."""
    for where, node in _nodes(bundle):
        if "unit" not in node:
            continue
        value = node.get("value")
        if not isinstance(value, int | float) or isinstance(value, bool) or not isfinite(value):
            yield f"{where}: {value!r} is no number"
        elif round(value, 4) != value:
            yield f"{where}: {value!r} is not rounded"


def one_value(bundle: Json, version: Version) -> Found:
    """An observation and each of its parts has one value, or the whole has parts."""
    for where, observation in _resources(bundle, "Observation"):
        told = [observation, *observation.get("component", ())]
        for number, each in enumerate(told):
            values = [name for name in each if name.startswith("value")]
            whole = not number and "component" in observation
            if len(values) > 1 or not (values or whole):
                yield f"{where}: {len(values)} values for {each['code']['text']!r}"


def component_codes(bundle: Json, version: Version) -> Found:
    """No part has the code of the whole if the whole has a value (Observation, obs-7), none comes twice.

    obs-7: hl7.org/fhir/R4/observation.profile.canonical.xml (read).
    """
    for where, observation in _resources(bundle, "Observation"):
        codes = [_codes(each) for each in observation.get("component", ())]
        valued = any(name.startswith("value") for name in observation)
        if valued and any(_codes(observation) & each for each in codes):
            yield f"{where}: a part has the code of the whole"
        if any(times > 1 for times in Counter(codes).values()):
            yield f"{where}: two parts have one code"


def narratives(bundle: Json, version: Version) -> Found:
    """A text is well-formed XHTML that says something (Narrative, txt-1 and txt-2, from memory)."""
    for where, resource in _resources(bundle):
        div = str(resource.get("text", {}).get("div", ""))
        try:
            read = ElementTree.fromstring(div)  # noqa: S314  # made here: no entities, no document type
        except ElementTree.ParseError:
            yield f"{where}: its text is not well formed"
            continue
        elements = {each.tag for each in read.iter()} - {
            f"{_XHTML}{name}" for name in ("div", "p", "ul", "li")
        }
        if read.tag != f"{_XHTML}div" or elements or not "".join(read.itertext()).strip():
            yield f"{where}: its text is not plain XHTML"


def filled(bundle: Json, version: Version) -> Found:
    """Nothing is empty: no text, list or object (FHIR's JSON has none, from memory)."""
    for where, node in _nodes(bundle):
        for name, value in node.items():
            if value in (None, {}, []) or (isinstance(value, str) and not value.strip()):
                yield f"{where}: {name} is empty"


CHECKS: Final[tuple[Callable[[Json, Version], Found], ...]] = (
    statuses,
    unique_urls,
    ids,
    references,
    times,
    periods,
    ranges,
    units,
    numbers,
    one_value,
    component_codes,
    narratives,
    filled,
)


def problems(bundle: Json, version: Version) -> tuple[str, ...]:
    """Everything that is wrong with the bundle, a line each; empty if nothing is."""
    return tuple(f"{check.__name__}: {found}" for check in CHECKS for found in check(bundle, version))


def checked(bundle: Json, version: Version) -> Json:
    """``bundle``, if nothing is wrong with it, also by the models of ``fhir.resources`` where installed.

    Raises ``OrroomError`` otherwise.
    """
    found = [*problems(bundle, version), *_by_the_models(bundle, version)]
    if found:
        raise OrroomError(
            f"The FHIR bundle is not written, since it would not be right: {'; '.join(found[:3])}.",
            "This is a fault of this program: please report it. The other formats tell the same case.",
        )
    return bundle


def models_installed() -> bool:
    """Whether the models of ``fhir.resources`` are asked too (``pip install 'orroom[fhir]'``)."""
    return _model("r4b") is not None


def _by_the_models(bundle: Json, version: Version) -> Found:
    validate = _model(version)
    if validate is not None:
        try:
            validate(bundle)
        except ValueError as error:
            yield " ".join(str(error).split())[:400]


def _model(version: Version) -> Callable[[Json], object] | None:
    """What raises ``ValueError`` for a bundle that is none, ``None`` if it is not installed."""
    try:
        module = import_module(f"fhir.resources.{'R4B.' if version == 'r4b' else ''}bundle")
    except ImportError:
        return None
    validate: Callable[[Json], object] = module.Bundle.model_validate
    return validate


def _resources(bundle: Json, kind: str | None = None) -> Iterator[tuple[str, Json]]:
    """The resources in the bundle, with their kind and place."""
    for number, entry in enumerate(bundle["entry"]):
        resource = entry["resource"]
        if kind in {None, resource["resourceType"]}:
            yield f"entry {number} {resource['resourceType']}", resource


def _nodes(bundle: Json) -> Iterator[tuple[str, Json]]:
    """Every object in the bundle, with the way to it."""
    waiting: list[tuple[str, Any]] = [("Bundle", bundle)]
    while waiting:
        where, node = waiting.pop()
        if isinstance(node, dict):
            yield where, node
            waiting += [(f"{where}.{name}", value) for name, value in node.items()]
        elif isinstance(node, list):
            waiting += [(f"{where}[{number}]", value) for number, value in enumerate(node)]


def _codes(told: Json) -> frozenset[tuple[str, str]]:
    return frozenset((each["system"], each["code"]) for each in told["code"]["coding"])


def _time(text: object) -> datetime | None:
    """A time with seconds and an offset, ``None`` if ``text`` is none."""
    if not isinstance(text, str) or not _TIME.fullmatch(text):
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None
