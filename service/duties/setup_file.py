"""Read a site's set-up from a TOML file, with clear words for what is wrong in it."""

import tomllib
from pathlib import Path

from pydantic import ValidationError

from service.custody.site import Site

_PLAIN = {
    "missing": "is missing",
    "extra_forbidden": "is no key of a set-up file; look for a slip in its name",
}
"""What the checking library's commonest findings mean to who writes the file."""


class SetupError(ValueError):
    """The set-up file cannot be used; the message names file, key and reason."""


def read_site(path: Path) -> Site:
    """Read a site.

    Raises:
        SetupError: there is no such file, it is not TOML, or a key is missing, unknown or wrong.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise SetupError(f"{path.name} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise SetupError(f"{path.name} is not UTF-8 text (byte {error.start})") from error
    except tomllib.TOMLDecodeError as error:
        raise SetupError(f"{path.name} is not TOML: {error}") from error
    try:
        return Site.model_validate(raw)
    except ValidationError as error:
        problems = "; ".join(
            f"{_place(e['loc'])}: {_PLAIN.get(e['type']) or e['msg'].removeprefix('Value error, ')}"
            for e in error.errors(include_url=False)
        )
        raise SetupError(f"{path.name}: {problems}") from error


def _place(where: tuple[int | str, ...]) -> str:
    """Write where in the file, as ``party[2].kind``; rows are counted from 1."""
    text = ""
    for part in where:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text or "the file"
