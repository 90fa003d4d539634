"""What is wrong in a file people wrote, in one sentence with its place."""

from pydantic import ValidationError


def first_wrong(error: ValidationError, noun: str) -> str:
    """The first thing that is wrong.

    Parameters
    ----------
    error
        Of the whole file.
    noun
        What an entry of that file is called: a setting, a key.

    Returns
    -------
    str
        Like `bus.bitrate: is missing`; a name that was mistyped is told before the one that is
        missing for it.
    """
    wrong = error.errors(include_url=False)
    first = min(wrong, key=lambda each: each["type"] != "extra_forbidden")
    place = ".".join(str(step) for step in first["loc"])
    words = {"extra_forbidden": f"there is no such {noun}", "missing": "is missing"}
    said = words.get(first["type"], first["msg"][0].lower() + first["msg"][1:])
    found = "" if first["type"] == "missing" else f", found {first['input']!r}"
    return f"{place}: {said}{found}"
