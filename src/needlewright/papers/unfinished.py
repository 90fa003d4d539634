"""An option that is no finished rebuild, said one way on papers and pages."""

from collections.abc import Mapping
from typing import Any, Final

Document = Mapping[str, Any]
NOT_FINISHED: Final = "Not a finished rebuild"
MAY_FAIL: Final = "{dials} may not pass the final check"


def unfinished_dials(document: Document, option: Document) -> str:
    """Name the dials that must pass and are left likely to fail.

    Parameters
    ----------
    document
        As `needlewright plan --json` prints it.
    option
        One of its options; of a form before this was told of, it names none.

    Returns
    -------
    str
        `the road speed gauge`, more of them joined by `and`; empty where there are none.
    """
    named = {one["dial"]: f"the {one['of']}" for one in document["decisions"]}
    return " and ".join(named.get(dial, dial) for dial in option.get("unfinished", ()))


def unfinished_words(document: Document, option: Document) -> str:
    """Say that an option is no finished rebuild; empty where it is one."""
    dials = unfinished_dials(document, option)
    return f"{NOT_FINISHED}: {MAY_FAIL.format(dials=dials)}" if dials else ""
