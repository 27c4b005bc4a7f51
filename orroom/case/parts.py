"""What plans and settings are made of: frozen parts whose fields say what they may hold.

A part that is made in code is taken as it is. What comes from a file is held against its fields by
``files/checker.py``, which finds every mistake; what comes from a record by msgspec alone.
"""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, cast

from msgspec import Meta, Struct
from msgspec.structs import force_setattr

from orroom.case.terms import AS_RECORDED, MAX_LABEL, MAX_TEXT, clean, hidden_character


class Part(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, dict=True, rename=AS_RECORDED):
    """Base of all parts. ``dict`` is room for what is worked out once, such as an area."""

    #: Fields with numbers that need not be whole: a whole one is kept as it is read back.
    measures: ClassVar[tuple[str, ...]] = ()

    def __post_init__(self) -> None:
        for name in self.measures:
            force_setattr(self, name, measured(getattr(self, name)))


def measured(value: Any) -> Any:  # noqa: ANN401 - a measure, or tables and lists of them
    """A measure as it is read back from a record: 20 as 20.0, else its text and so its hash would differ."""
    if isinstance(value, Mapping):
        return {name: measured(each) for name, each in value.items()}
    if isinstance(value, tuple):
        return tuple(map(measured, value))
    return float(value) if isinstance(value, int) else value


def plain_table(part: Part) -> dict[str, Any]:
    """A part as its file would hold it: plain tables, lists as tuples, without what is not given."""
    return cast(dict[str, Any], _given(part))


def _given(value: Any) -> Any:  # noqa: ANN401 - any value of a part
    if isinstance(value, Part):
        kind = value.__struct_config__
        fields = {name: getattr(value, name) for name in value.__struct_fields__}
        value = {str(kind.tag_field): kind.tag, **fields} if kind.tag_field else fields
    if isinstance(value, Mapping):
        return {name: _given(each) for name, each in value.items() if each is not None}
    return tuple(map(_given, value)) if isinstance(value, tuple) else value


def _plain(text: str) -> str:
    hidden = hidden_character(text)
    if hidden:
        raise ValueError(f"contains the invisible character {hidden}; type it again without it")
    if text != text.strip():
        raise ValueError("begins or ends with a space; remove it")
    return clean(text)


def _label(text: str) -> str:
    if "[" in text or "]" in text:
        raise ValueError("contains a square bracket; write it without [ and ]")
    return _plain(text)


def _whole_path(path: str) -> str:
    path = _plain(path)
    if not path.startswith(("/", "~", "\\\\")) and path[1:2] != ":":
        raise ValueError(f'is not a full path; begin it with "/" or "~", such as "~/{path}"')
    return path


# ``rule`` is what a text from a file is put through: it answers the text as it is kept, or raises ValueError.
Label = Annotated[str, Meta(min_length=1, max_length=MAX_LABEL, extra={"rule": _label})]
Text = Annotated[str, Meta(min_length=1, max_length=MAX_TEXT, extra={"rule": _plain})]
Folder = Annotated[str, Meta(min_length=1, max_length=MAX_TEXT, extra={"rule": _whole_path})]
