"""A summary as a FHIR bundle (R4B or R5): the procedure, this software, observations, where they come from.

The bundle is a collection that is complete in itself: every reference in it leads to an entry of it, and the
patient is known by the code of the first case alone, and every code of ours is in a CodeSystem of it.
Nothing is taken from a code system that needs a licence. The models of ``fhir.resources`` check it where they
are installed; what they do not know of the specification, such as that references lead somewhere, the tests
check on every sample and on random records.

R4B and R5 differ in what is used here: when the procedure was (``performedPeriod``, ``occurrencePeriod``), a
device's name (``deviceName.name``, ``name.value``) and its type (one, a list).
"""

from collections import Counter
from collections.abc import Callable, Iterator
from importlib import import_module
from typing import Final

from orroom import __version__
from orroom.errors import OrroomError
from orroom.formats.fhir import resources as fhir
from orroom.formats.fhir.code_systems import code_systems
from orroom.formats.fhir.observations import SECTIONS
from orroom.formats.fhir.resources import Json, Telling, Version
from orroom.formats.json_text import indented
from orroom.summary.adding_up import where_not
from orroom.summary.summary import Summary

AID: Final = "counting and timing aid (software), not a medical device"

#: http://hl7.org/fhir/R4B/valueset-provenance-participant-type.html (read as far as performer and verifier;
#: assembler from memory).
PARTICIPANT: Final = "http://terminology.hl7.org/CodeSystem/provenance-participant-type"

#: In place of a time that must be there and may not be shown (extension data-absent-reason, from memory).
MASKED: Final[Json] = {
    "url": "http://hl7.org/fhir/StructureDefinition/data-absent-reason",
    "valueCode": "masked",
}


def to_fhir(summary: Summary, version: Version) -> str:
    """The bundle as JSON, the same bytes each time. Raises ``OrroomError`` if the model refuses it."""
    bundle = _bundle(Telling(summary, version))
    if (validate := published_model(version)) is not None:
        try:
            validate(bundle)
        except ValueError as error:
            wrong = " ".join(str(error).split())[:400]
            raise OrroomError(
                f"The FHIR bundle was not written: {wrong}.",
                "This is a bug in orroom; please report it. The other formats work.",
            ) from error
    return indented(bundle)


def published_model(version: Version) -> Callable[[Json], object] | None:
    """What raises ``ValueError`` for what is not a bundle; ``None`` without ``fhir.resources``."""
    try:
        module = import_module(f"fhir.resources.{'R4B.' if version == 'r4b' else ''}bundle")
    except ImportError:
        return None
    validate: Callable[[Json], object] = module.Bundle.model_validate
    return validate


def _bundle(t: Telling) -> Json:
    named: dict[str, Json] = {}
    of_a_kind: Counter[str] = Counter()  # so that one more of another kind changes no id
    for each in (found for section in SECTIONS for found in section(t) if found is not None):
        kind = each["code"]["coding"][0]["code"]
        of_a_kind[kind] += 1
        named[f"{kind}:{of_a_kind[kind]}"] = each
    resources = {
        "procedure": _procedure(t),
        "device": _device(t),
        **{name: {**t.begun("Observation", name), **each} for name, each in named.items()},
        "provenance": _provenance(t, ["procedure", *named]),
    }
    resources |= code_systems(t, resources)
    entries = [{"fullUrl": t.url(name), "resource": resource} for name, resource in resources.items()]
    bundle = {
        **t.begun("Bundle", "bundle"),
        "identifier": {"system": "urn:ietf:rfc:3986", "value": t.url("bundle")},
        "type": "collection",
    }
    if not t.anonymous:  # the last entry's: the same record gives the same bytes
        bundle["timestamp"] = t.time(t.summary.last_entry)
    return {**bundle, "entry": entries}


def _procedure(t: Telling) -> Json:
    summary = t.summary
    case = t.case()
    made: Json = {
        **t.begun("Procedure", "procedure"),
        "text": fhir.narrative(
            ["hair restoration", *([summary.title] if summary.title else []), *_ending(t)], summary.cautions
        ),
        **({} if case is None else {"identifier": [case]}),
        "status": _status(t),
        "code": fhir.figure("hair restoration"),
        "subject": t.subject(),
        "note": [t.note(each) for each in (*summary.cautions, *_ending(t))],
    }
    if performers := _performers(t):
        made["performer"] = performers
    if not t.anonymous:
        if summary.start_of_work is not None:
            when = "performedPeriod" if t.version == "r4b" else "occurrencePeriod"
            made[when] = t.period(
                summary.start_of_work, None if summary.signed_off is None else summary.end_of_work
            )
        made["note"] += [t.note(f"Reopened: {each.text}", each.at, each.who) for each in summary.reopened]
        made["note"] += [t.note(each.text, each.at, each.who) for each in summary.notes]
    return made


def _performers(t: Telling) -> list[Json]:
    """Who made sites and who placed, each once: initials or roles, as shown."""
    hands = t.summary.zone_hands
    did = [("making sites", each.who) for each in hands if each.sites_made]
    did += [("placing grafts", each.who) for each in hands if each.placed]
    return [{"function": {"text": what}, "actor": t.person(who)} for what, who in sorted(set(did))]


def _status(t: Telling) -> str:
    """How far the procedure is: a case made beforehand is only prepared, one closed without work not done."""
    begun, closed = t.summary.start_of_work is not None, t.summary.signed_off is not None
    if closed:
        return "completed" if begun else "not-done"
    return "in-progress" if begun else "preparation"


def _ending(t: Telling) -> Iterator[str]:
    """How the case stands, and what was left open whenever it was signed off."""
    closed = t.summary.signed_off
    yield "Open: the case is not signed off." if closed is None else "Signed off by two."
    yield from ("Signed off before by two." for _ in t.summary.earlier_sign_offs)
    for each in t.summary.left_open:
        yield f"Left open at sign-off: {each.sentence}: {each.open_because} (informed: {each.informed})"
    for mismatch in t.summary.mismatches:
        if mismatch.explanation is not None:
            yield f"Mismatch: {mismatch.sentence} (explained: {mismatch.explanation})"
    for limit in t.summary.broken_limits:
        yield f"Limit broken: {limit.sentence}: {limit.done or 'nobody said what was done'}"
    if not t.summary.adds_up:  # that names the open ones
        yield f"Does not add up: {'; '.join(where_not(t.summary))}."


def _device(t: Telling) -> Json:
    kind = {"text": AID}
    if t.version == "r4b":
        named = {"deviceName": [{"name": "orroom", "type": "user-friendly-name"}], "type": kind}
    else:
        named = {"name": [{"value": "orroom", "type": "user-friendly-name"}], "type": [kind]}
    return {
        **t.begun("Device", "device"),
        "text": fhir.narrative([f"orroom {__version__}", AID]),
        "status": "active",
        **named,
        "version": [{"value": __version__}],
    }


def _provenance(t: Telling, targets: list[str]) -> Json:
    summary = t.summary
    made: Json = {
        **t.begun("Provenance", "provenance"),
        "text": fhir.narrative([f"A record of {summary.entries:,} entries."]),
        "target": [t.reference(each) for each in targets],
        "agent": list(_agents(t)),
    }
    if t.anonymous:
        made["_recorded"] = {"extension": [MASKED]}
    else:
        if summary.start_of_work is not None:
            made["occurredPeriod"] = t.period(summary.start_of_work, summary.end_of_work)
        made["recorded"] = t.time(summary.last_entry)
    if summary.seal:
        seal = {"system": fhir.SEAL, "value": f"{summary.entries}:{summary.seal}"}
        made["entity"] = [{"role": "source", "what": {"identifier": seal, "display": "seal of the record"}}]
    return made


def _agents(t: Telling) -> Iterator[Json]:
    """The software, then those who entered something, then who signed off: initials or roles, as shown."""
    yield {"type": _participant("assembler"), "who": t.reference("device")}
    for person in t.summary.people:
        if person.entries:
            agent = {"type": _participant("enterer"), "who": t.person(person.who)}
            yield agent if person.role is None else {**agent, "role": [{"text": fhir.text(person.role)}]}
    closed = t.summary.signed_off
    for who in () if closed is None else (closed.who, closed.second):
        yield {"type": _participant("verifier"), "who": t.person(who)}


def _participant(code: str) -> Json:
    return {"coding": [{"system": PARTICIPANT, "code": code}], "text": code}
