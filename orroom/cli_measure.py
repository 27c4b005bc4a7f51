"""What a length, area or density on the command line may be."""

from __future__ import annotations

from math import isnan
from typing import Any

import click


class Measure(click.FloatRange):
    """A number in a range; click's own range takes ``nan`` for one in it."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401 - click's own types
        """The number, or a usage error."""
        number = super().convert(value, param, ctx)
        return self.fail(f"{value} is not a number.", param, ctx) if isnan(number) else number
