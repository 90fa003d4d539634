"""The odometer's written notice: one page, its two fields, the law it is written under.

Source: 49 USC 32704(a), the notice states the mileage before the service and the date.
"""

import io
from typing import Any

import pypdf
import pytest

from needlewright.papers.notice import notice_pdf

DOCUMENT: dict[str, Any] = {
    "title": "Notice of odometer service",
    "name": "T-77-20260305-notice",
    "shop": "Test Bench",
    "place": "2 Test Road",
    "vehicle": "an invented van",
    "mileage_before": 184213.0,
    "unit": "km",
    "date": "2026-03-05",
    "attached_to": "left door frame",
    "law": "49 USC 32704(a)",
    "procedure": "",
    "replaces": None,
    "invented": False,
    "issued": "2026-03-05",
}


def text_of(**changes: Any) -> str:
    reader = pypdf.PdfReader(io.BytesIO(notice_pdf(DOCUMENT | changes)))
    assert len(reader.pages) == 1
    return " ".join(reader.pages[0].extract_text().split())


def test_both_fields_stand_on_one_page():
    text = text_of()
    assert "Mileage before the service 184 213 km" in text
    assert "Date of the service 5 March 2026" in text
    assert "left door frame" in text
    assert "49 USC 32704(a)" in text
    assert "T-77-20260305-notice" in text
    assert "INVENTED" not in text


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"mileage_before": 98.5, "unit": "mi"}, "98.5 mi"),
        ({"invented": True}, "INVENTED"),
        ({"attached_to": "", "law": "a local act"}, "stays with the vehicle (a local act)"),
        ({"replaces": "T-77-20260304-notice"}, "replaces T-77-20260304-notice"),
        ({"procedure": "Reported to the registration office."}, "registration office"),
        ({"procedure": "a long procedure " * 20, "vehicle": "van " * 30}, "184 213 km"),
    ],
)
def test_what_else_it_says(changes, says):
    assert says in text_of(**changes)


def test_the_same_notice_gives_the_same_bytes():
    assert notice_pdf(DOCUMENT) == notice_pdf(DOCUMENT)
