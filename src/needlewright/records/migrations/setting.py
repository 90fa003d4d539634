"""Alembic's settings, without a file."""

from pathlib import Path

from alembic.config import Config
from sqlalchemy import Connection


def migration_config(connection: Connection | None = None) -> Config:
    """Settings for one upgrade.

    Parameters
    ----------
    connection
        In whose transaction the steps are taken; None: only the steps themselves are looked at.

    Returns
    -------
    Config
        For `alembic.command`.
    """
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config
