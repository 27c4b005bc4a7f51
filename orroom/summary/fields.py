"""What every field of a summary is made of: its unit, how it is rounded and written, what it means.

A field's meaning is its description, which the JSON Schema and the index of the tables show. Moments are UTC
milliseconds here and RFC 3339 text in JSON; figures are rounded to four places and shares to six (they are
shown as per cent, rounded once more), so that the same record gives the same bytes everywhere. ``None``
means no data.
"""

from enum import Enum
from typing import Annotated, Any, Final, Self, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetJsonSchemaHandler,
    PlainSerializer,
    WithJsonSchema,
)
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema

from orroom.case.timestamps import from_utc_stamp, utc_stamp
from orroom.figures.survival import Between, Figure


class Text(Enum):
    """What a text is: that decides what is left of it in a shared summary. Otherwise somebody typed it."""

    PERSON = "initials"
    KEY = "a zone, harvest or care round of the plan"
    LABEL = "what the plan calls something"
    OURS = "our own words, a size, a hash, or dealt with by itself"
    TYPED = "whatever somebody typed"


def _rounded(value: float | None, places: int = 4) -> float | None:
    return None if value is None else round(value, places) + 0.0  # and no minus before a zero


_FIGURE = AfterValidator(_rounded)
_SHARE = AfterValidator(lambda value: _rounded(value, 6))
_READ = BeforeValidator(lambda value: from_utc_stamp(value) if isinstance(value, str) else value)
_AS_TEXT = WithJsonSchema({"type": "string", "format": "date-time"}, mode="serialization")

# The text next to a type is its unit; tables of figures carry it.
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
GraftMinutes = Annotated[float, _FIGURE, "graft-minutes"]
SomeGraftMinutes = Annotated[float | None, _FIGURE, "graft-minutes"]
Area = Annotated[float, _FIGURE, "cm²"]
GraftsPerCm2 = Annotated[float, _FIGURE, "grafts/cm²"]
HairsPerCm2 = Annotated[float, _FIGURE, "hairs/cm²"]
SomeHairsPerCm2 = Annotated[float | None, _FIGURE, "hairs/cm²"]
Share = Annotated[float | None, _SHARE, "share"]
Celsius = Annotated[float | None, _FIGURE, "°C"]
Duration = Annotated[int | None, "ms"]
#: In place of the unit that a part itself says in its field of this name.
OWN_UNIT: Final = "unit"
Amount = Annotated[int, OWN_UNIT]

Person = Annotated[str, Text.PERSON]
Key = Annotated[str, Text.KEY]
Ours = Annotated[str, Text.OURS]

# What many parts say of an entry or of grafts.
EnteredAt = Annotated[Moment, Field(description="when it was entered; for a point of a chart, its time")]
EnteredBy = Annotated[Person, Field(description="who entered it")]
EntryNumber = Annotated[int, Field(description="number of the entry")]
Label = Annotated[str, Text.LABEL, Field(description="what the plan calls it")]
Harvest = Annotated[Key, Field(description="harvest: grafts whose time out of the body starts together")]
Size = Annotated[Ours, Field(description="graft size: hairs, or M for multi-unit")]


class Part(BaseModel):
    """Base of all parts."""

    # deferred: most parts are only ever built within a summary
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    @classmethod
    def read_off(cls, *sources: object, **own: object) -> Self:
        """The part: each field that is not its ``own`` from the first source with one of that name.

        A moment ``at`` is ``at_ms`` there.
        """
        for name in cls.model_fields:
            for source in sources:
                for theirs in (name, f"{name}_ms"):
                    if name not in own and hasattr(source, theirs):
                        own[name] = getattr(source, theirs)
        return cls.model_validate(own)

    @classmethod
    def __get_pydantic_json_schema__(
        cls, core_schema: CoreSchema, handler: GetJsonSchemaHandler, /
    ) -> dict[str, Any]:
        """The schema of the part, with the unit next to each figure."""
        schema = handler(core_schema)
        for name, shown in handler.resolve_ref_schema(schema)["properties"].items():
            shown.pop("title", None)
            shown["description"] = shown.pop("description")  # behind the type; and no field is without
            if unit := unit_of(cls.model_fields[name]):
                shown["unit"] = unit
        return schema


def ends(name: str, found: Between[Figure], unit: str = "") -> dict[str, Figure]:
    """The two fields of a figure that is known between two ends."""
    return {f"{name}_low{unit}": found.low, f"{name}_high{unit}": found.high}


def unit_of(field: FieldInfo) -> str:
    """The unit of a field, or nothing; ``OWN_UNIT`` if its part says it."""
    return next((each for each in field.metadata if isinstance(each, str)), "")


def text_of(field: FieldInfo) -> Text | None:
    """What kind of text a field holds; ``None`` for a figure, a part or one of a few fixed words."""
    if field.annotation not in (str, str | None):
        return None
    return next((each for each in field.metadata if isinstance(each, Text)), Text.TYPED)


def is_moment(field: FieldInfo) -> bool:
    """Whether a field holds a time of day."""
    within = [each for kind in get_args(field.annotation) for each in get_args(kind)]
    return any(each is _AS_TEXT for each in (*field.metadata, *within))
