import json
from dataclasses import replace
from io import BytesIO

import pypdf
import pytest
from PIL import Image

from needlewright.errors import PaperError
from needlewright.papers.certificate import BANNER, EvidencePicture, proof_pdf
from needlewright.papers.strip import _drawn
from needlewright.proofs.certificate import report_as_found
from needlewright.proofs.proof_json import proof_document
from papers.proof_paper import document, pages, pdf, picture, text
from proofs.drawn_job import FAMILY
from proofs.proof_job import job, measured, proof, with_rows


def jpeg() -> bytes:
    stream = BytesIO()
    Image.new("RGB", (400, 300), "#335577").save(stream, "JPEG")
    return stream.getvalue()


def test_exceptions_stand_in_the_title_and_first():
    first = pages(pdf("with exceptions"))[0]
    assert "Certificate of check after rebuild, with exceptions" in first
    assert first.index("Fuel: does not conform") < first.index("As left: speed conforms")
    assert first.index("Fuel: does not conform") < first.index("Item and job")


def test_a_failed_speedometer_makes_a_report_that_is_no_certificate():
    said = pages(pdf("not conforming"))
    assert "Report of check after rebuild: not conforming" in said[0]
    assert "This is a report and no certificate." in said[0]
    assert "Speedometer speed: does not conform" in said[0]
    assert "reads low is dangerous" in said[0]
    for page in said:
        assert "Report TB-2026-77" in page
        assert "Certificate TB-2026-77" not in page
    assert "end of report TB-2026-77" in said[-1]


def test_the_same_document_gives_the_same_file():
    first = pdf()
    _drawn.cache_clear()
    assert proof_pdf(document()) == first


def test_the_file_is_made_to_last():
    """PDF/A-2b (ISO 19005-2): the type is inside and the file says so."""
    reader = pypdf.PdfReader(BytesIO(pdf()))
    metadata = reader.xmp_metadata
    assert b"pdfaid:part" in metadata.stream.get_data()
    fonts = [f for page in reader.pages for f in page["/Resources"]["/Font"].values()]
    for font in fonts:
        (inner,) = font.get_object()["/DescendantFonts"]
        assert "/FontFile3" in inner["/FontDescriptor"] or "/FontFile2" in inner["/FontDescriptor"]


def test_a_demonstration_says_so_on_every_page():
    said = pages(proof_pdf(proof_document(proof(invented=True))))
    assert all(BANNER in page for page in said)
    assert BANNER not in text(pdf())


def test_a_new_version_names_the_old_one():
    changes = {"version": 2, "replaces": "TB-2026-77", "replaces_because": "name corrected"}
    said = pages(proof_pdf(proof_document(proof(**changes))))
    assert "it replaces TB-2026-77, because: name corrected" in said[0]
    assert all("Certificate TB-2026-77 version 2" in page for page in said)


def test_pictures_stand_with_what_they_show():
    said = text(proof_pdf(document(), [picture(jpeg())]))
    assert "The rows that decide, as photographed" in said
    assert "speed, as left, 40 km/h, up: 42." in said
    images = [
        image
        for page in pypdf.PdfReader(BytesIO(proof_pdf(document(), [picture(jpeg())]))).pages
        for image in page.images
    ]
    assert [image.image.size for image in images] == [(400, 300)]


def test_a_broken_picture_is_said():
    with pytest.raises(PaperError, match="cannot be laid out"):
        proof_pdf(document(), [EvidencePicture("speed", "left", 2, b"no picture")])


def test_the_report_as_found_instructs_and_notes_the_odometer():
    made = report_as_found(FAMILY, job(), measured("as-found"))
    said = text(proof_pdf(proof_document(made))).replace("\u202f", " ")
    assert "Report of check as found" in said
    assert "Engine: turn the needle 3.4 ± " in said
    assert "The odometer showed 184 213 km when received." in said
    assert "As returned" not in said
    assert "set a current limit and a fuse" in said


def test_markup_in_a_name_is_a_name():
    made = proof_document(proof(customer="Юлия Ćwik", vehicle="<b>#set page()$x$</b>"))
    said = text(proof_pdf(made))
    assert "Юлия Ćwik" in said
    assert "<b>#set page()$x$</b>" in said


def test_a_character_no_type_has_is_said_and_not_drawn_as_a_box():
    made = proof_document(proof(customer="\U000130b8 & Sons"))  # a hieroglyph
    with pytest.raises(PaperError, match="no type on this machine has '\U000130b8'"):
        proof_pdf(made)


def test_a_paper_needs_no_more_than_its_document():
    """Drawn from the JSON beside it, it is the same paper."""
    filed = json.loads(json.dumps(document()))
    assert proof_pdf(filed) == pdf()


def test_a_dial_that_was_not_run_and_needles_not_read_are_drawn_as_such():
    def unread(row):
        blank = dict.fromkeys(("angle_deg", "u_angle_deg", "indicated", "u_indicated"))
        return replace(row, flags=("occluded",), **blank) if row.commanded == 0.4 else row

    left = with_rows(measured("as-left"), "speed", lambda row: None)
    said = text(proof_pdf(proof_document(proof(with_rows(left, "fuel", unread)))))
    assert "Speedometer speed: not complete; no row in this run" in said
    assert "not in this run" in said
    assert "not read: occluded" in said
