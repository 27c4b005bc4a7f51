"""Parts of plans and settings as pydantic models, which find every mistake in what was read, not the first.

The models have the parts' own fields and limits: each is made from its part when a file is first checked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache, reduce
from operator import or_
from types import UnionType
from typing import Annotated, Any, ClassVar, Literal, TypeVar, Union, get_args, get_origin

from msgspec import NODEFAULT, Meta
from msgspec.structs import FieldInfo, fields
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PrivateAttr, create_model, model_validator

from orroom.case.parts import Part

P = TypeVar("P", bound=Part)
#: Limits that msgspec and pydantic call alike.
_LIMITS = ("gt", "ge", "lt", "le", "pattern", "min_length", "max_length")


class _Model(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)
    part: ClassVar[type[Part]]
    _made: Part = PrivateAttr()

    @model_validator(mode="after")
    def _make(self) -> _Model:
        """Make the part, which may refuse what no single field shows: an outline without area."""
        self._made = self.part(**{name: made_of(getattr(self, name)) for name in self.part.__struct_fields__})
        return self


@cache
def model_of(part: type[Part]) -> type[BaseModel]:
    """The model of a part. Its docstring and descriptions are the part's, for the JSON Schema."""
    tag, tag_field = part.__struct_config__.tag, part.__struct_config__.tag_field
    told: dict[str, Any] = {} if tag_field is None else {tag_field: (Literal[tag], ...)}
    told |= {each.name: _field(each) for each in fields(part)}
    model = create_model(part.__name__, __base__=_Model, __doc__=part.__doc__, **told)
    model.part = part
    return model


def part_of(part: type[P], raw: Mapping[str, object]) -> P:
    """The part in what was read, its fields checked; raises pydantic's ``ValidationError``."""
    made: P = made_of(model_of(part).model_validate(_as_tuples(raw), strict=True))
    return made


def made_of(value: Any) -> Any:  # noqa: ANN401 - a model, or what models hold
    """The part that a model is."""
    if isinstance(value, _Model):
        return value._made
    return tuple(map(made_of, value)) if isinstance(value, tuple) else value


def _as_tuples(value: object, depth: int = 8) -> object:
    """Lists as the tuples a plan is made of; what is nested deeper than any plan stays as it is."""
    if depth and isinstance(value, list | tuple):
        return tuple(_as_tuples(each, depth - 1) for each in value)
    if depth and isinstance(value, Mapping):
        return {key: _as_tuples(each, depth - 1) for key, each in value.items()}
    return value


def _field(field: FieldInfo) -> tuple[Any, Any]:
    given: dict[str, Any] = {}
    if field.default is not NODEFAULT:
        given["default"] = _default(field.default)
    elif field.default_factory is not NODEFAULT:
        given["default_factory"] = field.default_factory
    kinds = get_args(field.type) if get_origin(field.type) in (Union, UnionType) else (field.type,)
    metas = [meta for kind in kinds if get_origin(kind) is Annotated for meta in kind.__metadata__]
    said = [meta.description for meta in metas if meta.description is not None]
    return _type(field.type), Field(description=said[-1] if said else None, **given)


def _default(value: Any) -> Any:  # noqa: ANN401 - any default of a part
    if isinstance(value, Part):
        model = model_of(type(value))
        return model(**{name: _default(getattr(value, name)) for name in value.__struct_fields__})
    return tuple(map(_default, value)) if isinstance(value, tuple) else value


def _type(kind: Any) -> Any:  # noqa: ANN401 - any type of a field
    """What pydantic is told of a field's type."""
    origin, parameters = get_origin(kind), get_args(kind)
    if origin is Annotated:
        return _limited(_type(parameters[0]), kind.__metadata__)
    if isinstance(kind, type) and issubclass(kind, Part):
        return model_of(kind)
    if kind is float:
        return Annotated[float, Field(allow_inf_nan=False)]
    if origin in (Union, UnionType):
        return _either([_type(each) for each in parameters])
    if origin in (tuple, dict):
        return origin[tuple(each if each is Ellipsis else _type(each) for each in parameters)]
    return kind


def _either(kinds: list[Any]) -> Any:  # noqa: ANN401 - a type
    """A choice between kinds; one between several parts is by their tag."""
    models = tuple(kind for kind in kinds if isinstance(kind, type) and issubclass(kind, _Model))
    others = tuple(kind for kind in kinds if kind not in models)
    if len(models) > 1:
        tagged = Field(discriminator=models[0].part.__struct_config__.tag_field)
        return reduce(or_, others, Annotated[reduce(or_, models), tagged])
    return reduce(or_, models + others)


def _limited(kind: Any, metas: tuple[Meta, ...]) -> Any:  # noqa: ANN401 - a type
    for meta in metas:
        limits = {name: limit for name in _LIMITS if (limit := getattr(meta, name)) is not None}
        rule: Callable[[str], str] | None = (meta.extra or {}).get("rule")
        if limits:
            kind = Annotated[kind, Field(**limits)]
        if rule is not None:
            kind = Annotated[kind, AfterValidator(rule)]
    return kind
