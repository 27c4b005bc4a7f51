"""Each temperature that was read, as an observation of its own at its own moment."""

from collections.abc import Iterator
from typing import Final

from orroom.formats.fhir import resources as fhir
from orroom.formats.fhir.resources import Json, Telling

_INTERPRETED: Final = {"below": ("L", "Low"), "in": ("N", "Normal"), "above": ("H", "High")}


def readings(t: Telling) -> Iterator[Json | None]:
    """Who read what when, the band of the plan, and whether the reading was in it."""
    bands = {each.care: fhir.ends(each.low_c, each.high_c, fhir.CELSIUS) for each in t.summary.care}
    for each in t.summary.care_given:
        value = fhir.amount(each.temperature_c, fhir.CELSIUS)
        if value is None:
            continue
        if band := bands.get(each.care):
            value["referenceRange"] = [{**band, "text": "band of the plan"}]
        if each.band is not None:
            code, words = _INTERPRETED[each.band]
            value["interpretation"] = [
                {"coding": [{"system": fhir.INTERPRETATION, "code": code, "display": words}]}
            ]
        yield t.observation(
            fhir.figure("temperature reading", each.label),
            value,
            span=(each.at, each.at),
            performers=[each.who],
        )
