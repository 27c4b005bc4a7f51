"""The formats a summary can be written in, by the name used on the command line."""

from __future__ import annotations

from typing import Literal

from orroom.case.terms import visible
from orroom.summary.summary import Summary

Format = Literal["md", "html", "json", "csv", "pdf", "fhir"]
FhirVersion = Literal["r4b", "r5"]


def written(summary: Summary, form: Format, fhir: FhirVersion) -> str | bytes:
    """The whole summary in one piece: text, or the bytes of a PDF.

    Raises ``OrroomError`` where a library for the format is not there.
    """
    from orroom.formats import csv_text, html, json_text, markdown

    match form:
        case "md":
            return visible(markdown.to_markdown(summary))
        case "html":
            return visible(html.to_html(summary))
        case "json":
            return visible(json_text.to_json(summary))
        case "csv":
            return visible(csv_text.to_csv(summary))
        case "pdf":
            from orroom.formats.pdf import to_pdf

            return to_pdf(summary)
        case "fhir":
            from orroom.formats.fhir.bundle import to_fhir

            return to_fhir(summary, fhir)
