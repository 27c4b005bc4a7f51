"""What every part of a summary is made of: figures with their units, moments, the base of all parts.

Moments are UTC milliseconds here and RFC 3339 text in JSON; figures are rounded to four places, so that the
same record is told in the same bytes everywhere. ``None`` is no data.
"""

from __future__ import annotations

from typing import Annotated, Final

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, PlainSerializer

from orroom.figures.wording import from_utc_stamp, utc_stamp


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4) + 0.0  # and no minus before a zero


_FIGURE = AfterValidator(_rounded)
_READ = BeforeValidator(lambda value: from_utc_stamp(value) if isinstance(value, str) else value)

# The text beside a type is its unit; tables of figures carry it.
Moment = Annotated[int, _READ, PlainSerializer(utc_stamp, when_used="json")]
Grafts = Annotated[int, "grafts"]
BySize = Annotated[dict[str, int], "grafts"]
ExpectedBySize = Annotated[dict[str, Annotated[float, _FIGURE]], "grafts"]
Expected = Annotated[float, _FIGURE, "grafts"]
Hairs = Annotated[float, _FIGURE, "hairs"]
HairsPerGraft = Annotated[float | None, _FIGURE, "hairs/graft"]
Hours = Annotated[float, _FIGURE, "h"]
Rate = Annotated[float | None, _FIGURE, "1/h"]
GraftHours = Annotated[float, _FIGURE, "graft-hours"]
Area = Annotated[float, _FIGURE, "cm²"]
GraftsPerCm2 = Annotated[float, _FIGURE, "grafts/cm²"]
HairsPerCm2 = Annotated[float, _FIGURE, "hairs/cm²"]
Share = Annotated[float | None, _FIGURE, "share"]
Celsius = Annotated[float | None, _FIGURE, "°C"]
Duration = Annotated[int | None, "ms"]
#: Stands for the unit that a part itself says in its field of this name.
OWN_UNIT: Final = "unit"
Amount = Annotated[int, OWN_UNIT]


class Part(BaseModel):
    """Base of all parts."""

    model_config = ConfigDict(extra="forbid", frozen=True)
