"""The formats a summary can be written in, by the name used on the command line."""

from collections.abc import Sequence
from typing import Literal

from orroom.case.terms import visible
from orroom.formats.chosen import WHOLE
from orroom.formats.html import html
from orroom.formats.markdown import markdown
from orroom.formats.narrow import narrowed
from orroom.formats.summary_blocks import blocks_of, laid_out
from orroom.summary.summary import Summary

Format = Literal["md", "html", "json", "csv", "pdf", "fhir"]
InOnePiece = Literal["md", "html", "json", "pdf", "fhir"]
FhirVersion = Literal["r4b", "r5"]


def written(
    summary: Summary, form: InOnePiece, fhir: FhirVersion = "r4b", *, chosen: Sequence[str] = WHOLE
) -> str | bytes:
    """The summary in one piece: text, or the bytes of a PDF; of what people read, what is chosen.

    Raises ``OrroomError`` where a library for the format is not there.
    """
    match form:
        case "md":
            return to_markdown(summary, chosen)
        case "html":
            return to_html(summary, chosen)
        case "json":
            from orroom.formats.json_text import to_json

            return visible(to_json(summary))
        case "pdf":
            from orroom.formats.pdf import to_pdf

            return to_pdf(summary, chosen)
        case "fhir":
            from orroom.formats.fhir.bundle import to_fhir

            return to_fhir(summary, fhir)


def to_markdown(summary: Summary, chosen: Sequence[str] = WHOLE) -> str:
    """The summary as Markdown."""
    return markdown(narrowed(blocks_of(summary, chosen)))


def to_html(summary: Summary, chosen: Sequence[str] = WHOLE) -> str:
    """The summary as a page."""
    from orroom.formats.first_page.html import page_html

    first, rest = laid_out(summary, chosen)
    return html(f"Case {summary.case}", rest, "" if first is None else page_html(first))
