"""The label that stays on a rebuilt cluster: tag, date of rebuild, certificate number as QR."""

from dataclasses import dataclass
from datetime import date
from io import BytesIO
from typing import Final

import segno

from needlewright.papers.document import compile_pdf
from needlewright.papers.wording import day_words

WIDTH_MM: Final = 50.0
HEIGHT_MM: Final = 25.0


@dataclass(frozen=True, slots=True)
class LabelData:
    """What a label says."""

    tag: str
    rebuilt: date
    certificate: str
    """Full name of the certificate; the QR code holds it and nothing else."""
    shop: str
    banner: str = ""


def label_pdf(data: LabelData) -> bytes:
    """Lay a label out.

    Parameters
    ----------
    data
        What it says.

    Returns
    -------
    bytes
        A PDF of one page, 50 x 25 mm.

    Raises
    ------
    PaperError
        If it cannot be laid out.
    """
    content = {
        "width_mm": WIDTH_MM,
        "height_mm": HEIGHT_MM,
        "tag": data.tag,
        "day": day_words(data.rebuilt.isoformat()),
        "name": data.certificate,
        "shop": data.shop,
        "banner": data.banner,
    }
    return compile_pdf("label.typ", content, {"qr.svg": qr_svg(data.certificate)}, data.rebuilt)


def qr_svg(text: str) -> bytes:
    """A QR code that survives a scratch: level M, with the quiet zone the symbol needs."""
    stream = BytesIO()
    segno.make_qr(text, error="m").save(stream, kind="svg", border=4, scale=4)
    return stream.getvalue()
