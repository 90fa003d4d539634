"""The text of a file as loggers and spreadsheets save it."""

from codecs import BOM_UTF16_BE, BOM_UTF16_LE


def text_of(content: bytes) -> str:
    """Read a file of text whose encoding nobody stated.

    Parameters
    ----------
    content
        Of the file.

    Returns
    -------
    str
        By its byte order mark; else UTF-8; else the code page of western Windows, in which
        spreadsheets save their tables, so that a degree sign is one.

    Notes
    -----
    **Source**: common practice, no source. What is no text comes out as one that no table is.
    """
    if content.startswith((BOM_UTF16_LE, BOM_UTF16_BE)):
        return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")
