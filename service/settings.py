"""The settings; the only place that reads the environment."""

from pathlib import Path

from pydantic import Field, FilePath
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """What can be set from outside, as ``CUSTODY_...`` in the environment or in a ``.env`` file."""

    model_config = SettingsConfigDict(env_prefix="CUSTODY_", env_file=".env", extra="ignore")

    database_url: str = "sqlite:///custody.sqlite3"
    """Where the record is kept."""
    key_dir: Path = Path("custody-keys")
    """The folder of the keys that sign checkpoints, for the service's own user alone."""
    label_url: str = "https://custody.example"
    """The address that printed codes open; at most 20 characters after ``https://``."""
    body_bytes_max: int = Field(default=2_000_000, gt=0)
    """The largest request body."""
    requests_max: int = Field(default=200, gt=0)
    """Requests served at a time; beyond that a sender is told to come again."""
    host: str = "127.0.0.1"
    port: int = Field(default=8000, gt=0, lt=65_536)
    tls_certificate: FilePath | None = None
    tls_key: FilePath | None = None
