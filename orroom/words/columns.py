"""Plain-text tables: columns of words to the left, columns of figures to the right."""

from collections.abc import Sequence

from rich.cells import cell_len, set_cell_size


def columns(head: Sequence[str], rows: Sequence[Sequence[str]], words: int) -> str:
    """Columns as wide as they need; the first ``words`` of them hold words, the others figures."""
    return "\n".join(f"  {'  '.join(row)}".rstrip() for row in aligned([head, *rows], words))


def aligned(rows: Sequence[Sequence[str]], words: int, least: int = 0) -> list[list[str]]:
    """The cells of each row, a column equally wide, ``least`` or more; some letters take two columns."""
    widths = [max(least, *map(cell_len, column)) for column in zip(*rows, strict=True)]
    return [
        [
            set_cell_size(cell, width) if column < words else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        for row in rows
    ]
