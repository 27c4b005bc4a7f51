"""What every part of a summary is made of: figures with their units, moments, the base of all parts.

Moments are UTC milliseconds here and RFC 3339 text in JSON; figures are rounded to four places and shares to
six (they are told as per cent, rounded once more), so that the same record is told in the same bytes
everywhere. ``None`` is no data.
"""

from __future__ import annotations

from typing import Annotated, Any, Final, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    GetJsonSchemaHandler,
    PlainSerializer,
    WithJsonSchema,
)
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema

from orroom.figures.wording import from_utc_stamp, utc_stamp
from orroom.summary.field_meanings import meaning


def _rounded(value: float | None, places: int = 4) -> float | None:
    return None if value is None else round(value, places) + 0.0  # and no minus before a zero


_FIGURE = AfterValidator(_rounded)
_SHARE = AfterValidator(lambda value: _rounded(value, 6))
_READ = BeforeValidator(lambda value: from_utc_stamp(value) if isinstance(value, str) else value)
_AS_TEXT = WithJsonSchema({"type": "string", "format": "date-time"}, mode="serialization")

# The text beside a type is its unit; tables of figures carry it.
Moment = Annotated[int, _READ, PlainSerializer(utc_stamp, when_used="json"), _AS_TEXT]
Grafts = Annotated[int, "grafts"]
BySize = Annotated[dict[str, int], "grafts"]
ExpectedBySize = Annotated[dict[str, Annotated[float, _FIGURE]], "grafts"]
Expected = Annotated[float, _FIGURE, "grafts"]
Hairs = Annotated[float, _FIGURE, "hairs"]
HairsPerGraft = Annotated[float | None, _FIGURE, "hairs/graft"]
Hours = Annotated[float | None, _FIGURE, "h"]
Rate = Annotated[float | None, _FIGURE, "1/h"]
GraftHours = Annotated[float, _FIGURE, "graft-hours"]
Area = Annotated[float, _FIGURE, "cm²"]
GraftsPerCm2 = Annotated[float, _FIGURE, "grafts/cm²"]
HairsPerCm2 = Annotated[float, _FIGURE, "hairs/cm²"]
Share = Annotated[float | None, _SHARE, "share"]
Celsius = Annotated[float | None, _FIGURE, "°C"]
Duration = Annotated[int | None, "ms"]
#: Stands for the unit that a part itself says in its field of this name.
OWN_UNIT: Final = "unit"
Amount = Annotated[int, OWN_UNIT]


class Part(BaseModel):
    """Base of all parts."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @classmethod
    def __get_pydantic_json_schema__(
        cls, core_schema: CoreSchema, handler: GetJsonSchemaHandler, /
    ) -> dict[str, Any]:
        """The schema of the part, with meaning and unit beside each field."""
        schema = handler(core_schema)
        for name, told in handler.resolve_ref_schema(schema)["properties"].items():
            told.pop("title", None)
            told["description"] = meaning(cls.__name__, name)
            if unit := unit_of(cls.model_fields[name]):
                told["unit"] = unit
        return schema


def unit_of(field: FieldInfo) -> str:
    """The unit of a field, or nothing; ``OWN_UNIT`` if its part says it."""
    return next((each for each in field.metadata if isinstance(each, str)), "")


def is_moment(field: FieldInfo) -> bool:
    """Whether a field holds a time of day."""
    within = [each for kind in get_args(field.annotation) for each in get_args(kind)]
    return any(each is _AS_TEXT for each in (*field.metadata, *within))
