"""Where the shop lies."""

import os
from pathlib import Path
from typing import Final

import platformdirs

VARIABLE: Final = "NEEDLEWRIGHT_SHOP"


def shop_folder(stated: Path | None = None) -> Path:
    """The folder of the shop's records.

    Parameters
    ----------
    stated
        As the person put it; None: not at all.

    Returns
    -------
    Path
        That one, else the one `NEEDLEWRIGHT_SHOP` names, else the user's own data folder.
    """
    if stated is not None:
        return stated
    named = os.environ.get(VARIABLE, "")
    if named:
        return Path(named)
    return platformdirs.user_data_path("needlewright", appauthor=False)
