"""Who is told of what, from a file that the operator writes (TOML)."""

import tomllib
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, FilePath, ValidationError, model_validator

from service.custody.verdict import Code
from service.custody.words import Severity

KEY_BYTES_MIN = 32
"""A key for HMAC-SHA-256 should be as long as its digest (RFC 2104, section 3)."""
LOCAL = ("http://127.0.0.1:", "http://localhost:", "http://[::1]:")

Address = Annotated[str, Field(pattern=r"^[^\s@<>,;\x00-\x1f]{1,64}@[^\s@<>,;\x00-\x1f]{1,190}$")]


class NoticesError(ValueError):
    """The file cannot be used; the message says where and why."""


class Post(BaseModel):
    """The server that letters are handed to."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    host: str
    port: int = Field(default=587, gt=0, lt=65_536)
    tls: Literal["starttls", "tls", "none"] = "starttls"
    sender: Address
    user: str | None = None
    password_file: FilePath | None = None

    @model_validator(mode="after")
    def _never_in_the_open(self) -> Self:
        if self.password_file and self.tls == "none":
            raise ValueError("a password is never sent without TLS: set tls")
        if (self.user is None) != (self.password_file is None):
            raise ValueError("user and password_file go together")
        return self


class Recipient(BaseModel):
    """Somebody, or a program, that is told.

    Attributes:
        name: Under which what was sent is kept; one who is renamed is told all anew.
        tell: Codes or severities of violations.
        webhook: Where signed requests go; ``key_file`` holds the secret that both sides know.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")]
    facility: str
    tell: tuple[Code | Severity, ...] = (Code.HOLDING_NEAR, Code.HOLDING_EXCEEDED)
    mail: tuple[Address, ...] = ()
    webhook: str | None = None
    key_file: FilePath | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if bool(self.mail) == bool(self.webhook):
            raise ValueError("give either mail or webhook")
        if self.webhook and not self.webhook.startswith(("https://", *LOCAL)):
            raise ValueError("a webhook outside this machine is reached by https")
        if bool(self.webhook) != bool(self.key_file):
            raise ValueError("a webhook needs a key_file, and nothing else does")
        return self


class Notices(BaseModel):
    """The whole file."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    post: Post | None = None
    to: tuple[Recipient, ...] = ()

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.post is None and any(r.mail for r in self.to):
            raise ValueError("mail needs the section [post]")
        named = [(r.facility, r.name) for r in self.to]
        if len(set(named)) < len(named):
            raise ValueError("two recipients of a facility have one name")
        return self


def load(path: Path) -> Notices:
    """Read the file.

    Raises:
        NoticesError: it cannot be read, is no TOML, or says what cannot stand.
    """
    try:
        found = Notices.model_validate(tomllib.loads(path.read_text("utf-8")))
        for recipient in found.to:
            if recipient.key_file and len(secret(recipient.key_file)) < KEY_BYTES_MIN:
                raise NoticesError(
                    f"{recipient.key_file}: the key has fewer than {KEY_BYTES_MIN} bytes"
                )
    except OSError as error:
        raise NoticesError(f"{error.filename or path}: {error.strerror}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise NoticesError(f"{path}: {error}") from error
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "the file"
        raise NoticesError(f"{path}: {where}: {first['msg']}") from error
    return found


def secret(path: Path) -> bytes:
    """Read a secret; the line's end is no part of it."""
    return path.read_bytes().strip()
