"""What a certificate must carry, item by item, read back from the PDF.

Source: ISO/IEC 17025:2017, clauses 7.8.2.1 (a to p), 7.8.4.1 and 7.8.6.2; the list as in the
design's page of published values, the letters from memory of the standard's text. Items that need
an accredited laboratory are met as far as a shop has them, and the paper says what it has not.
"""

import pytest

from papers.proof_paper import document, pages, pdf, text

ITEMS = {
    "7.8.2.1 a title": ["Certificate of check after rebuild"],
    "7.8.2.1 b name and address of the laboratory": ["Test Bench", "2 Test Road, Testing"],
    "7.8.2.1 c location of the work": ["Place of work 2 Test Road, Testing"],
    "7.8.2.1 d unique number and a clear end": ["TB-2026-77", "end of certificate TB-2026-77"],
    "7.8.2.1 e customer and contact": ["Customer C. Ustomer", "Contact post box 7"],
    "7.8.2.1 f method": ["Method", "registered to the face's artwork"],
    "7.8.2.1 g item and condition": [
        "Item instrument cluster",
        "Family fam-job",
        "Serial number S-123",
        "Tag T-77",
        "Condition two screws missing",
    ],
    "7.8.2.1 h date of receipt": ["Received 2 March 2026"],
    "7.8.2.1 i dates of the work": ["Checked as found 3 March 2026", "Work and check 5 March 2026"],
    "7.8.2.1 j date of issue": ["Issued 6 March 2026"],
    "7.8.2.1 k sampling": ["No sampling plan applies: one item was checked."],
    "7.8.2.1 l relates only to the item": ["The results relate only to the item described"],
    "7.8.2.1 m results with units": ["speed (road speed, km/h)", "true value, km/h"],
    "7.8.2.1 n deviations": ["Deviations from the method", "none stated"],
    "7.8.2.1 o who authorised": ["Authorised by A. Uthor, bench lead"],
    "7.8.2.1 p external providers": ["No result of an external provider is stated"],
    "7.8.4.1 a uncertainty with coverage": [
        "expanded uncertainties U = k u with k = 2",
        "about 95 %",
        "together, U",
    ],
    "7.8.4.1 b conditions": ["Conditions", "temperature 21.5 °C", "13.5 V, limited to 2 A"],
    "7.8.4.1 c traceability": [
        "Traceability and instruments used",
        "thermometer TH-9 30 September 2026 none stated",
    ],
    "7.8.4.1 d before and after adjustment": [
        "as found",
        "as left",
        "movement of the speedometer replaced",
    ],
    "7.8.4.1 e statement of conformity": ["As left: speed conforms"],
    "7.8.6.2 a to which results": ["applies to the results in the tables of this paper"],
    "7.8.6.2 b which specification": [
        "UN Regulation No. 39",
        "0 ≤ shown − true ≤ 0.1 true + 4 km/h",
    ],
    "7.8.6.2 c decision rule": ["ILAC-G8:09/2019, 4.2.3, with guard band w = U"],
    "no accreditation": ["No accreditation is claimed"],
    "odometer in and out": ["As received 184 213 km", "As returned 184 213 km"],
}


@pytest.mark.parametrize("item", ITEMS)
def test_the_certificate_carries(item: str):
    said = text(pdf()).replace("\u202f", " ")
    missing = [words for words in ITEMS[item] if words not in said]
    assert missing == []


def test_every_page_carries_number_and_count():
    said = pages(pdf())
    assert len(said) >= 3
    for number, page in enumerate(said, start=1):
        assert "Certificate TB-2026-77" in page
        assert f"page {number} of {len(said)}" in page


def test_the_end_stands_once_and_on_the_last_page():
    said = pages(pdf())
    assert ["end of certificate" in page for page in said] == [False] * (len(said) - 1) + [True]
    assert "Authorised by" in said[-1]


def test_every_result_of_the_document_stands_on_the_paper():
    """Each row's error and verdict, as left, in every dial's table."""
    said = text(pdf())
    for dial in document()["dials"]:
        for row in dial["left"]["rows"]:
            assert row["words"] in said
            if row["deviation"] is not None and dial["dial"] == "speed" and row["basis"] == "rule":
                assert f"{row['deviation']:+.1f} ± {row['expanded']:.1f}" in said


def test_every_component_of_the_budget_stands_on_the_paper():
    said = text(pdf())
    for dial in document()["dials"]:
        for line in dial["budget"]["lines"]:
            assert line["component"] in said
    assert "stimulus not known no not known" in said
