from datetime import date
from io import BytesIO

import pypdfium2
import pytest
import zxingcpp

from needlewright.papers.label import LabelData, label_pdf
from papers.proof_paper import text

LABEL = LabelData("LH-0412", date(2026, 3, 5), "LH-2026-0412", "Test Bench")
LONGEST = LabelData("W" * 40, date(2026, 9, 30), "W" * 40 + " version 12", "S" * 60)


@pytest.mark.parametrize("label", [LABEL, LONGEST], ids=["usual", "longest"])
def test_size_is_50_by_25_mm_exactly(label: LabelData):
    (page,) = pypdfium2.PdfDocument(BytesIO(label_pdf(label)))
    assert [side / 72 * 25.4 for side in page.get_size()] == pytest.approx([50.0, 25.0], abs=1e-4)


@pytest.mark.parametrize("label", [LABEL, LONGEST], ids=["usual", "longest"])
@pytest.mark.parametrize("dots_per_inch", [203, 300, 600])
def test_the_code_on_the_printed_label_is_the_certificates_number(label, dots_per_inch):
    (page,) = pypdfium2.PdfDocument(BytesIO(label_pdf(label)))
    grey = page.render(scale=dots_per_inch / 72).to_pil().convert("L")
    printed = grey.point(lambda value: 255 * (value > 128))  # black or nothing
    (code,) = zxingcpp.read_barcodes(printed)
    assert code.text == label.certificate
    assert code.format == zxingcpp.BarcodeFormat.QRCode


def test_it_says_tag_day_and_shop():
    said = text(label_pdf(LABEL))
    for words in ("LH-0412", "rebuilt and checked", "5 March 2026", "Test Bench", "LH-2026-0412"):
        assert words in said


def test_the_longest_tag_stays_on_the_label():
    (page,) = pypdfium2.PdfDocument(BytesIO(label_pdf(LONGEST)))
    words = page.get_textpage()
    left, bottom, right, top = (
        f(words.get_charbox(i)[k] for i in range(words.count_chars()))
        for k, f in enumerate((min, min, max, max))
    )
    width, height = page.get_size()
    assert left > 0
    assert right < width
    assert bottom > 0
    assert top < height
