"""Plain-text tables: columns of words to the left, columns of figures to the right."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len, set_cell_size


def columns(head: Sequence[str], rows: Sequence[Sequence[str]], words: int) -> str:
    """Columns as wide as they need; the first ``words`` of them hold words, the others figures.

    Some letters take two columns.
    """
    widths = [max(cell_len(row[column]) for row in (head, *rows)) for column in range(len(head))]
    lines = []
    for row in (head, *rows):
        cells = [
            set_cell_size(cell, width) if column < words else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append(("  " + "  ".join(cells)).rstrip())
    return "\n".join(lines)
