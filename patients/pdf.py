"""Sheets of paper as PDF, made here: tagged for readers, in well under a second, with no browser.

A sheet is a typst file under ``templates/pdf`` and the data it is filled with. It conforms to
PDF/UA-1 (ISO 14289-1): the compiler refuses a sheet without a title or a picture without words.
"""

import json
from pathlib import Path
from typing import Any

import typst
from django.conf import settings
from django.http import HttpResponse

FOLDER = Path(settings.BASE_DIR) / "templates" / "pdf"


def pdf(sheet: str, data: dict[str, Any]) -> bytes:
    """The sheet of that name, filled; what stands in ``data`` is text and never markup."""
    made: bytes = typst.compile(
        FOLDER / f"{sheet}.typ",
        root=FOLDER,
        ignore_system_fonts=True,  # a sheet looks alike on every server
        sys_inputs={"data": json.dumps(data)},
        format="pdf",
        pdf_standards=["ua-1"],
    )
    return made


def pdf_response(sheet: str, data: dict[str, Any], name: str) -> HttpResponse:
    """The answer to a browser; the name of the file says nothing about a person."""
    response = HttpResponse(pdf(sheet, data), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response
