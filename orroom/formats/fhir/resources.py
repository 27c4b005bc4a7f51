"""What a FHIR bundle is made of: amounts with their units, concepts, notes, times, and what resources share.

Codes are our own, each with its words next to it. A system is a ``urn:`` because none of them is a page on a
domain somebody owns: ``urn:orroom:…`` is a name and promises nothing to look up. Amounts are rounded here, to
the places of their unit; JSON keeps no zeros at the end of a number, so 38.40 is written as 38.4.
"""

import json
import re
from collections.abc import Iterable, Mapping
from html import escape
from typing import Any, Final, Literal, NamedTuple
from uuid import UUID, uuid5

from orroom.case.terms import SIZE_NAMES, visible
from orroom.figures.wording import NO_DATA, moment
from orroom.formats.markdown import line_of
from orroom.summary.cautions import warnings
from orroom.summary.summary import Summary

Json = dict[str, Any]
Version = Literal["r4b", "r5"]

#: Systems of codes and identifiers. Zones are keys of the case's own plan: its code is added to theirs.
FIGURE: Final = "urn:orroom:figure"
SIZE: Final = "urn:orroom:size"
ZONE: Final = "urn:orroom:zone"
CASE: Final = "urn:orroom:case"
PATIENT: Final = "urn:orroom:patient"
SEAL: Final = "urn:orroom:record-seal"
INITIALS: Final = "urn:orroom:initials"
RECORD: Final = "urn:orroom:record"
UCUM: Final = "http://unitsofmeasure.org"

#: http://terminology.hl7.org/CodeSystem-observation-category.html and -v3-ObservationInterpretation.html
#: (from memory).
OF_A_PROCEDURE: Final = {
    "coding": [
        {
            "system": "http://terminology.hl7.org/CodeSystem/observation-category",
            "code": "procedure",
            "display": "Procedure",
        }
    ]
}
INTERPRETATION: Final = "http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation"

#: All ids are made in this space; it is itself made from a name.
_IDS: Final = uuid5(UUID("6ba7b811-9dad-11d1-80b4-00c04fd430c8"), FIGURE)


class Unit(NamedTuple):
    """A unit as it is read, its UCUM code, and the decimal places an amount of it is rounded to."""

    shown: str
    code: str
    places: int


def counted(noun: str) -> Unit:
    """The unit of a count: ``1``, since braces are discouraged in a code, with the noun as its text.

    HL7 Terminology 6.0, "Using UCUM with HL7 Standards".
    """
    return Unit(noun, "1", 0)


GRAFTS: Final = counted("grafts")
HAIRS: Final = Unit("hairs", "1", 1)
HAIRS_PER_GRAFT: Final = Unit("hairs/graft", "1", 4)
GRAFTS_PER_CM2: Final = Unit("grafts/cm²", "/cm2", 2)
HAIRS_PER_CM2: Final = Unit("hairs/cm²", "/cm2", 2)
AREA: Final = Unit("cm²", "cm2", 2)
MINUTES: Final = Unit("min", "min", 1)
HOURS: Final = Unit("h", "h", 2)
GRAFTS_PER_HOUR: Final = Unit("grafts/h", "/h", 1)
PER_CENT: Final = Unit("%", "%", 2)
CELSIUS: Final = Unit("°C", "Cel", 1)


def quantity(value: float, unit: Unit) -> Json:
    """A rounded amount: a whole number stays one, and zero has no minus."""
    rounded = round(value, unit.places) + 0.0
    found = int(rounded) if unit.places == 0 or rounded.is_integer() else rounded
    return {"value": found, "unit": unit.shown, "system": UCUM, "code": unit.code}


def amount(value: float | None, unit: Unit) -> Json | None:
    """A figure, ``None`` for no data."""
    return None if value is None else {"valueQuantity": quantity(value, unit)}


def ends(low: float | None, high: float | None, unit: Unit) -> Json:
    """The ends of a range that are known."""
    known = (("low", low), ("high", high))
    return {name: quantity(value, unit) for name, value in known if value is not None}


def between(low: float | None, high: float | None, unit: Unit) -> Json | None:
    """A figure between two ends, open where one is not known; one amount where they are equal."""
    known = ends(low, high, unit)
    if not known:
        return None
    return {"valueQuantity": known["low"]} if known.get("low") == known.get("high") else {"valueRange": known}


def minutes(milliseconds: float | None) -> float | None:
    """A duration in minutes."""
    return None if milliseconds is None else milliseconds / 60_000


def per_cent(share: float | None) -> float | None:
    """A share in per cent."""
    return None if share is None else share * 100


def text(written: str | None) -> str:
    """Text from the record as a FHIR string, which is never empty and hides nothing."""
    return visible(written or "").strip() or NO_DATA


def phrase(value: str | None) -> Json | None:
    """A few words as the value of a figure."""
    return None if value is None else {"valueString": text(value)}


def coded(system: str, code: str, words: str) -> Json:
    """A concept of ours with its words."""
    return {"coding": [{"system": system, "code": code, "display": text(words)}], "text": text(words)}


def size(key: str, label: str) -> Json:
    """A graft size; its text is what the plan calls it."""
    return {**coded(SIZE, key, SIZE_NAMES[key]), "text": text(label)}


def figure(words: str, about: str = "") -> Json:
    """What a figure is, its code made of its words; ``about`` says of what, in the words of the plan."""
    concept = coded(FIGURE, re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-"), words)
    return {**concept, "text": f"{words}: {text(about)}"} if about else concept


def component(code: Json, value: Json | None) -> Json | None:
    """One figure of several, ``None`` for no data."""
    return None if value is None else {"code": code, **value}


def part(words: str, value: Json | None) -> Json | None:
    """One figure of several, by its words."""
    return component(figure(words), value)


def parts(unit: Unit, values: Mapping[str, float | None]) -> list[Json | None]:
    """Several figures in one unit, by their words."""
    return [part(words, amount(value, unit)) for words, value in values.items()]


def narrative(lines: Iterable[str], listed: Iterable[str] = ()) -> Json:
    """A resource's figures as a person reads them."""
    paragraphs = "".join(f"<p>{escape(text(line))}</p>" for line in lines)
    items = "".join(f"<li>{escape(text(line))}</li>" for line in listed)
    div = f'<div xmlns="http://www.w3.org/1999/xhtml">{paragraphs}{items and f"<ul>{items}</ul>"}</div>'
    return {"status": "generated", "div": div}


def read_out(figure: Json) -> str:
    """A figure with its value as a line of text."""
    words = figure["code"]["text"]
    match figure:
        case {"valueQuantity": one}:
            return f"{words}: {_read(one)}"
        case {"valueRange": {"low": low, "high": high}}:
            return f"{words}: {low['value']:,} to {_read(high)}"
        case {"valueRange": {"low": low}}:
            return f"{words}: from {_read(low)}"
        case {"valueRange": {"high": high}}:
            return f"{words}: up to {_read(high)}"
        case {"valueString": said}:
            return f"{words}: {said}"
    return str(words)


def _read(resource: Json) -> str:
    # what a bare number counts is said before it
    return f"{resource['value']:,}" + ("" if resource["code"] == "1" else f" {resource['unit']}")


class Telling:
    """A summary on its way into a bundle of one version: its ids, references, times and status.

    Ids are made of the case code and the seal of its record, so that the same record has the same ids.
    Without a seal, and where people or the case are left out, they are made of what is shown, so that they do
    not lead back to the full record.
    """

    def __init__(self, summary: Summary, version: Version) -> None:
        self.summary, self.version = summary, version
        whole = summary.seal is not None and summary.share_level == "full"
        self._basis = f"{summary.case}:{summary.seal}" if whole else json.dumps(summary.model_dump())

    def id(self, name: str) -> str:
        """The id of the resource of this name."""
        return str(uuid5(_IDS, f"{self._basis}:{name}"))

    def url(self, name: str) -> str:
        """Where that resource is found in the bundle."""
        return f"urn:uuid:{self.id(name)}"

    def reference(self, name: str) -> Json:
        """A reference to it."""
        return {"reference": self.url(name)}

    def time(self, at_ms: int) -> str:
        """A moment at the case's offset, with its milliseconds."""
        return moment(at_ms, self.summary.utc_offset_minutes).isoformat(timespec="milliseconds")

    def period(self, start_ms: int, end_ms: int | None) -> Json:
        """From one moment to another. An end before the start (clocks disagreed) is left out."""
        period = {"start": self.time(start_ms)}
        if end_ms is not None and end_ms >= start_ms:
            period["end"] = self.time(end_ms)
        return period

    @property
    def anonymous(self) -> bool:
        """Whether no case, person, date or typed word may be shown: then there are no times at all."""
        return self.summary.share_level == "anonymous"

    def case(self) -> Json | None:
        """The case code as an identifier, ``None`` where nothing may say whose case it is."""
        return None if self.anonymous else {"system": CASE, "value": text(self.summary.case)}

    def subject(self) -> Json:
        """The patient, known by the code of the first case alone, or not even by that."""
        if self.anonymous:
            return {"type": "Patient", "display": "left out"}
        known = next((each.earlier_case for each in self.summary.earlier_cases), self.summary.case)
        return {"type": "Patient", "identifier": {"system": PATIENT, "value": text(known)}}

    def zone(self, key: str, label: str) -> Json:
        """A zone of the case's own plan."""
        return coded(f"{ZONE}:{self.summary.case}", key, label)

    def person(self, who: str) -> Json:
        """Somebody of the team: by initials, or by a role alone where people are left out."""
        resource: Json = {"type": "Practitioner", "display": text(who)}
        if self.summary.share_level == "full":
            resource["identifier"] = {"system": INITIALS, "value": text(who)}
        return resource

    def status(self) -> str:
        """How sure the figures are: ``preliminary`` until two people have signed an intact record off."""
        if self.summary.signed_off is None or self.summary.not_intact is not None:
            return "preliminary"
        return "amended" if self.summary.reopened else "final"

    def begun(self, kind: str, name: str) -> Json:
        """A resource with its id, marked if the record is not intact."""
        made: Json = {"resourceType": kind, "id": self.id(name)}
        if self.summary.not_intact is not None:
            made["meta"] = {"tag": [{"system": RECORD, "code": "not-intact", "display": "record not intact"}]}
        return made

    def note(self, words: str, at_ms: int | None = None, who: str | None = None) -> Json:
        """A note, escaped: the text of one is Markdown."""
        note = {"text": line_of(text(words))}
        if at_ms is not None:
            note["time"] = self.time(at_ms)
        if who:
            note["authorString"] = text(who)
        return note

    def _effective(self, span: tuple[int, int] | None) -> Json:
        """When a figure was so."""
        if self.anonymous:
            return {}
        if span is not None and span[0] == span[1]:
            return {"effectiveDateTime": self.time(span[0])}
        if span is not None:
            return {"effectivePeriod": self.period(*span)}
        return {"effectiveDateTime": self.time(self.summary.end_of_work)}

    def observation(
        self,
        code: Json,
        value: Json | None = None,
        components: Iterable[Json | None] = (),
        site: Json | None = None,
        notes: Iterable[str] = (),
        span: tuple[int, int] | None = None,
        performers: Iterable[str] = (),
    ) -> Json | None:
        """Figures of the case at the end of its work, or of ``span`` of it (UTC ms); ``None`` without one.

        ``performers`` are those who looked.
        """
        known = [each for each in components if each is not None]
        if value is None and not known:
            return None
        whole = {"code": code, **(value or {})}
        where = [] if site is None else [f"zone: {site['text']}"]
        who = [self.person(each) for each in performers]
        where += [f"looked: {each['display']}" for each in who]
        notes = (*warnings(self.summary.not_intact), *notes)
        resource: Json = {
            "text": narrative([read_out(whole), *where, *notes], map(read_out, known)),
            "partOf": [self.reference("procedure")],
            "status": self.status(),
            "category": [OF_A_PROCEDURE],
            "code": code,
            "subject": self.subject(),
            **self._effective(span),
            "device": self.reference("device"),
            **(value or {}),
        }
        if site is not None:
            resource["bodySite"] = site
        if who:
            resource["performer"] = who
        if notes:
            resource["note"] = [self.note(each) for each in notes]
        if known:
            resource["component"] = known
        return resource
