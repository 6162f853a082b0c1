"""The operator's file: what cannot stand is named, before anything is served."""

from pathlib import Path

import pytest

from service.custody.verdict import Code
from service.custody.words import Severity
from service.notices.recipients import NoticesError, load

POST = '[post]\nhost = "mail.lantern.example"\nsender = "custody@lantern.example"\n'
TO = '[[to]]\nname = "officers"\nfacility = "lantern-hill"\n'


def written(folder: Path, text: str) -> Path:
    """The file with this in it, beside a good key and a short one."""
    (folder / "key").write_bytes(b"k" * 32)
    (folder / "short").write_bytes(b"k" * 31 + b"\n")
    path = folder / "notices.toml"
    path.write_text(
        text.replace("KEY", str(folder / "key")).replace("SHORT", str(folder / "short"))
    )
    return path


def test_people_and_programs_stand_side_by_side(tmp_path: Path) -> None:
    """Codes and severities are known as such; what is not said has its usual value."""
    more = '[[to]]\nname = "board"\nfacility = "lantern-hill"\nwebhook = "https://b.example/"\n'
    found = load(
        written(
            tmp_path,
            POST
            + TO
            + 'mail = ["o@lantern.example"]\ntell = ["unsafe", "holding.exceeded"]\n'
            + more
            + 'key_file = "KEY"\n',
        )
    )
    assert found.post is not None
    assert (found.post.port, found.post.tls) == (587, "starttls")
    assert found.to[0].tell == (Severity.UNSAFE, Code.HOLDING_EXCEEDED)
    assert found.to[1].tell == (Code.HOLDING_NEAR, Code.HOLDING_EXCEEDED)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (TO, "either mail or webhook"),
        (TO + 'mail = ["o@x.example"]\n', "needs the section"),
        (POST + TO + 'mail = ["o@x.example\\nBcc: all@x.example"]\n', "pattern"),
        (POST + TO + 'mail = ["no address"]\n', "pattern"),
        (TO + 'webhook = "http://elsewhere.example/"\nkey_file = "KEY"\n', "by https"),
        (TO + 'webhook = "https://x.example/"\n', "needs a key_file"),
        (TO + 'webhook = "https://x.example/"\nkey_file = "SHORT"\n', "fewer than 32 bytes"),
        (TO + 'webhook = "https://x.example/"\nkey_file = "/nowhere/key"\n', "key_file"),
        (POST + TO + 'mail = ["o@x.example"]\ntell = ["everything"]\n', "tell"),
        (POST + (TO + 'mail = ["o@x.example"]\n') * 2, "one name"),
        (POST + 'tls = "none"\nuser = "u"\npassword_file = "KEY"\n', "without TLS"),
        (POST + 'user = "u"\n', "go together"),
        (POST + "colour = 1\n", "colour"),
        ("[post\n", "Expected"),
        ("\udcff", "decode"),
    ],
)  # fmt: skip
def test_what_cannot_stand_is_named(tmp_path: Path, text: str, why: str) -> None:
    """With the file, the place and the reason; a secret never travels in the open."""
    path = written(tmp_path, "")
    path.write_bytes(
        text.replace("KEY", str(tmp_path / "key"))
        .replace("SHORT", str(tmp_path / "short"))
        .encode("utf-8", "surrogateescape")
    )
    with pytest.raises(NoticesError, match=why):
        load(path)


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    """By its path."""
    with pytest.raises(NoticesError, match=r"none\.toml"):
        load(tmp_path / "none.toml")
