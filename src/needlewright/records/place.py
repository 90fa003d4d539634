"""Where the shop lies."""

import os
from pathlib import Path
from typing import Final

import platformdirs

from needlewright.errors import NotThereError, RecordError

ADDRESS: Final = "database.txt"
"""File in a shop's folder that holds the address of its database, where that lies elsewhere."""
DATABASE: Final = "shop.db"
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


def require_shop(stated: Path | None = None) -> None:
    """Make sure that there is a shop, before one is made where a name was mistyped.

    Parameters
    ----------
    stated
        As the person put it; None: not at all.

    Raises
    ------
    NotThereError
        If the folder is not there or holds no shop.
    """
    folder = shop_folder(stated)
    if folder.is_file() or any((folder / name).exists() for name in (DATABASE, ADDRESS)):
        return
    raise NotThereError(
        f"{folder}: there is no shop; name its folder with --shop, or make a new one there with "
        "needlewright shop set"
    )


def database_address(folder: Path) -> str | None:
    """The address of a shop's database, where it lies elsewhere.

    Parameters
    ----------
    folder
        Of the shop.

    Returns
    -------
    str or None
        The one line of `database.txt`; None: there is no such file.

    Raises
    ------
    RecordError
        If the file cannot be used.
    """
    file = folder / ADDRESS
    try:
        lines = file.read_text(encoding="utf-8").split()
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError) as error:
        raise RecordError(f"{file}: cannot be read ({error}); correct it") from error
    if len(lines) != 1:
        raise RecordError(
            f"{file}: holds {len(lines)} words; expected one line with the address of the shop's "
            "database, such as postgresql://name@host/database; write that, or remove the file"
        )
    return lines[0]
