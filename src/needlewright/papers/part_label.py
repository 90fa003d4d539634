"""The label of a part's drawer: its code, what it is, where it lies, and the code as QR."""

from datetime import date

from needlewright.papers.document import compile_pdf
from needlewright.papers.label import HEIGHT_MM, WIDTH_MM, qr_svg


def part_label_pdf(
    code: str, words: str, place: str, shop: str, day: date, *, banner: str = ""
) -> bytes:
    """Lay the label of a drawer out.

    Parameters
    ----------
    code
        Of the part; the QR code holds it and nothing else.
    words
        What the part is.
    place
        Where it lies; empty: not stated.
    shop
        Whose it is.
    day
        Of the document.
    banner
        What it must not be taken for.

    Returns
    -------
    bytes
        A PDF of one page, as large as the label of a cluster.

    Raises
    ------
    PaperError
        If it cannot be laid out.
    """
    content = {
        "width_mm": WIDTH_MM,
        "height_mm": HEIGHT_MM,
        "code": code,
        "words": words,
        "place": place,
        "shop": shop,
        "banner": banner,
    }
    return compile_pdf("part_label.typ", content, {"qr.svg": qr_svg(code)}, day)
