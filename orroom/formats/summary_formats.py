"""The formats a summary can be written in, by the name used on the command line."""

from typing import Literal

from orroom.case.terms import visible
from orroom.formats.html import html
from orroom.formats.markdown import markdown
from orroom.formats.narrow import narrowed
from orroom.formats.summary_blocks import after_first_page, blocks_of, first_blocks
from orroom.summary.summary import Summary

Format = Literal["md", "html", "json", "csv", "pdf", "fhir"]
InOnePiece = Literal["md", "html", "json", "pdf", "fhir"]
FhirVersion = Literal["r4b", "r5"]


def written(
    summary: Summary, form: InOnePiece, fhir: FhirVersion = "r4b", *, brief: bool = False
) -> str | bytes:
    """The summary in one piece: text, or the bytes of a PDF; what people read also as its first page alone.

    Raises ``OrroomError`` where a library for the format is not there.
    """
    match form:
        case "md":
            return to_markdown(summary, brief=brief)
        case "html":
            return to_html(summary, brief=brief)
        case "json":
            from orroom.formats.json_text import to_json

            return visible(to_json(summary))
        case "pdf":
            from orroom.formats.pdf import to_pdf

            return to_pdf(summary, brief=brief)
        case "fhir":
            from orroom.formats.fhir.bundle import to_fhir

            return to_fhir(summary, fhir)


def to_markdown(summary: Summary, *, brief: bool = False) -> str:
    """The summary as Markdown."""
    return markdown(narrowed(first_blocks(summary) if brief else blocks_of(summary)))


def to_html(summary: Summary, *, brief: bool = False) -> str:
    """The summary as a page."""
    from orroom.formats.first_page.html import page_html
    from orroom.formats.first_page.page import first_page

    rest = () if brief else after_first_page(summary)
    return html(f"Case {summary.case}", rest, page_html(first_page(summary)))
