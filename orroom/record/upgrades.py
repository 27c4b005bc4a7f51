"""How what was stored by earlier versions is read today. Stored rows are never rewritten.

A field that was added later needs nothing here if it has a default. For any other change, add to ``UPGRADES``
a function from the body as it was to the body as it is; it must leave a body of today as it is. Kinds are
never renamed. ``tests/recorded`` keeps one recorded file of every file format, and each must go on opening.
"""

import json
from collections.abc import Callable
from typing import Any, Final

Body = dict[str, Any]

#: By kind of event, in the order the changes came.
UPGRADES: Final[dict[str, tuple[Callable[[Body], Body], ...]]] = {}


def upgraded(kind: str, body: str) -> str:
    """A stored body as an event of this kind has it today. Raises ``ValueError`` if it is not JSON."""
    changes = UPGRADES.get(kind)
    if not changes:
        return body
    fields: Body = json.loads(body)
    for change in changes:
        fields = change(fields)
    return json.dumps(fields)
