"""The settings; the only place that reads the environment."""

from ipaddress import ip_network
from pathlib import Path
from typing import Literal

from pydantic import Field, FilePath, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """What can be set from outside, as ``CUSTODY_...`` in the environment or in a ``.env`` file."""

    model_config = SettingsConfigDict(env_prefix="CUSTODY_", env_file=".env", extra="ignore")

    database_url: str = "sqlite:///custody.sqlite3"
    """Where the record is kept."""
    read_database_url: str = ""
    """A replica of that server, where what is shown and handed out is read if it is up to date."""
    key_dir: Path = Path("custody-keys")
    """The folder of the keys that sign checkpoints, for the service's own user alone."""
    label_url: str = "https://custody.example"
    """The address that printed codes open; at most 20 characters after ``https://``."""
    body_bytes_max: int = Field(default=2_000_000, gt=0)
    """The largest request body."""
    trace_bytes_max: int = Field(default=1_000_000, gt=0)
    """The largest trace of a cycle that is taken."""
    bundle_bytes_max: int = Field(default=30_000_000, gt=0)
    """The largest bundle that is taken to be checked; it may unpack to twenty times that."""
    picture_bytes_max: int = Field(default=8_000_000, gt=0)
    """The largest photograph in which codes are looked for; of 25 million pixels at most."""
    body_s_max: float = Field(default=30, gt=0)
    """The longest wait for the next part of a request body."""
    requests_max: int = Field(default=200, gt=0)
    """Requests served at a time; beyond that a sender is told to come again."""
    requests_per_minute: int = Field(default=3_000, gt=0)
    """Requests a minute of one device, program or person, or of one address that is not known."""
    failed_sign_ins_per_minute: int = Field(default=60, gt=0)
    """Attempts a minute that may fail from one address; who is known already goes on."""
    trusted_proxies: str = ""
    """Addresses or networks of proxies whose ``X-Forwarded-For`` is believed, with commas."""
    notices: FilePath | None = None
    """The file that says who outside is told of what is due, late or wrong."""
    log_format: Literal["text", "json"] = "text"
    """How the service's own log is written on stderr."""
    host: str = "127.0.0.1"
    port: int = Field(default=8000, gt=0, lt=65_536)
    tls_certificate: FilePath | None = None
    tls_key: FilePath | None = None

    @field_validator("trusted_proxies")
    @classmethod
    def _networks(cls, given: str) -> str:
        for host in filter(None, given.split(",")):
            ip_network(host.strip())
        return given
