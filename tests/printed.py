"""What a printed page says, read by poppler."""

from __future__ import annotations

import shutil
import subprocess

import pytest


def poppler(tool: str, pdf: bytes, *options: str) -> str:
    """What poppler finds in a PDF; it complains of nothing but a mark that PDF/UA asks for."""
    if shutil.which(tool) is None:
        pytest.skip("poppler (pdftotext, pdfinfo) is not installed")
    to_stdout = ("-",) if tool == "pdftotext" else ()
    done = subprocess.run([tool, *options, "-", *to_stdout], input=pdf, capture_output=True, check=True)
    assert done.stderr.replace(b"Syntax Error: Suspects object is wrong type (boolean)\n", b"") == b""
    return done.stdout.decode()


def text_of_pdf(pdf: bytes) -> str:
    """All its words in order, broken rows put together."""
    return " ".join(poppler("pdftotext", pdf).split())
