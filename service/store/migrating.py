"""Bring the schema of a database to the present version, by Alembic."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from service.store.database import NEWEST

MIGRATIONS = Path(__file__).parent / "migrations"


def upgrade(connection: Connection) -> None:
    """Bring the schema to the present version within a transaction that is open."""
    config = _config()
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def newest() -> str | None:
    """Give the version that the newest migration leads to."""
    return ScriptDirectory.from_config(_config()).get_current_head()


def is_older(version: str | None) -> bool:
    """Say whether this program can bring a schema of that version up to its own."""
    known = ScriptDirectory.from_config(_config()).walk_revisions()
    return version != NEWEST and version in {each.revision for each in known}


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return config
