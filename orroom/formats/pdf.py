"""A summary as a PDF to print and to keep, set by typst (extra ``pdf``): the same words and charts as HTML.

Tagged for screen readers (PDF/UA-1) and made to last (PDF/A-2a). Nothing of a record is ever formatted into
typst's source: the template is a file of its own, and what it prints comes to it as data.
"""

from __future__ import annotations

from importlib import resources

from orroom.errors import OrroomError
from orroom.formats.pdf_parts import as_data
from orroom.summary.summary import Summary


def to_pdf(summary: Summary) -> bytes:
    """The whole summary on A4 pages; the same bytes for the same record, on every machine.

    Raises ``OrroomError`` if typst is not installed or makes none.
    """
    try:
        import typst
    except ModuleNotFoundError:
        raise OrroomError(
            "A PDF is made by the library typst, which is not installed.", "Run: pip install 'orroom[pdf]'"
        ) from None
    template = resources.files("orroom.formats").joinpath("summary.typ").read_bytes()
    try:
        pdf: bytes = typst.compile(
            template,
            format="pdf",
            ignore_system_fonts=True,  # other machines have others
            sys_inputs={"told": as_data(summary)},
            pdf_standards=["a-2a", "ua-1"],
        )
    except typst.TypstError as problem:
        raise OrroomError(f"typst made no PDF: {problem}.", "Print the summary as html instead.") from problem
    return pdf
