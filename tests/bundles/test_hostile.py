"""Bundles signed by a service that lies, and bundles made to break the verifier."""

import json
from collections.abc import Callable, Mapping
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from service.bundles import archive, names
from service.bundles import material as materials
from service.bundles import write as writing
from service.bundles.archive import BundleError
from service.bundles.reckoned import reckoned
from service.bundles.write import write
from service.custody.events import Entry
from service.custody.regime import Regime
from service.custody.rules import Rules
from service.manifests.pdf import pdf
from service.regimes.load import assemble
from tests.bundles.made import (
    Q3,
    Record,
    bundle,
    checked,
    failed,
    files_of,
    material,
    regimes_of,
    signed_anew,
    signer,
    unknown,
    whole,
)

DEEP = b"[" * 200_000
SIZES = b'"size":'
REGIME = "regimes/india-2016.toml"


def service_says(**changes: Callable[[bytes], bytes]) -> bytes:
    """The good bundle with files changed, listed and signed anew by the service's own key."""
    files = files_of(whole()[1])
    for name, change in changes.items():
        files[name] = change(files[name])
    return signed_anew(files, whole()[0].signers[0])


def test_another_rule_than_the_published_one_is_found() -> None:
    """The service made its holding limit longer: the file is named, and the verdicts are others."""
    text = files_of(whole()[1])[REGIME].decode()
    assert "hours = 48" in text
    other = text.replace("hours = 48", "hours = 4800").encode()
    found = failed(service_says(**{REGIME: lambda _: other}))
    assert "not as this tool carries it: india-2016.toml" in found["rules"]
    assert "listed, but not found by entries and rules" in found["violations"]


def test_a_rule_of_another_version_of_the_tool_is_judged_by_what_follows_from_it() -> None:
    """A remark more changes nothing; a longer limit is found whatever version is claimed."""
    files = files_of(whole()[1])
    remarked = files | {REGIME: files[REGIME] + b"\n# a later note\n"}
    longer = files | {REGIME: files[REGIME].replace(b"hours = 48", b"hours = 4800")}
    checks = {c.name: c for c in checked(_made_with(remarked, **{materials.TOOL: "9.9"}))}
    assert checks["rules"].holds
    assert "by the tool's own the figures are the same" in checks["rules"].said
    log, _ = whole()
    rules = Rules(_with(longer, REGIME), log.site)
    figures, made = material(log, Q3)
    entries = {n: one for n, one in log.known().items() if isinstance(one, Entry)}
    lenient = reckoned(
        entries, [x.container for x in figures.lines], rules, Q3, made.now, dict(made.traces)
    )
    out = BytesIO()
    write(out, lenient, made, regimes_of(log.site) | {REGIME.split("/")[1]: longer[REGIME]})
    wrong = failed(_made_with(files_of(out.getvalue()), **{materials.TOOL: "9.9"}))
    assert list(wrong) == ["rules"]
    assert "by the tool's own: csv/" in wrong["rules"]


def _with(files: Mapping[str, bytes], name: str) -> Regime:
    """The regime as these files have it."""
    with TemporaryDirectory() as folder:
        for path, content in files.items():
            if path.startswith("regimes/"):
                (Path(folder) / path.split("/")[1]).write_bytes(content)
        return assemble(Path(name).stem, Path(folder))


def test_an_event_that_is_on_record_twice_is_named() -> None:
    """The same id with other content: who folds them must choose, and may choose otherwise."""
    log, _ = whole()
    again = log.leaves[9].replace(b'"actor":"', b'"actor":"x')
    twice = Record(log.site, [*log.leaves, again], log.signers)
    event = json.loads(again)["event"]["id"]
    assert f"the event {event} is on record twice" in failed(bundle(twice, Q3))["entries"]


def test_what_a_bundle_says_moves_no_cursor() -> None:
    """A cell with the terminal's own commands in it is shown without them."""
    files = files_of(whole()[1])
    rows = files["csv/by-unit.csv"].replace(b",", b"\x1b[2J\r\n,", 1)
    found = failed(service_says(**{"csv/by-unit.csv": lambda _: rows}))
    assert not any("\x1b" in said or "\n" in said for said in found.values())


def _made_with(files: Mapping[str, bytes], **versions: str) -> bytes:
    told = materials.Statement.read(files[names.STATEMENT])
    other = told.model_copy(update={"made_with": dict(told.made_with) | versions})
    return signed_anew({**files, names.STATEMENT: other.text}, whole()[0].signers[0])


def test_a_paper_of_other_libraries_cannot_be_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is another file then, and the check says with which versions it was made."""
    here = materials.made_with()
    monkeypatch.setattr(writing, "write_pdf", lambda f, out: out.write(pdf(f) + b"\n"))
    monkeypatch.setattr(materials, "made_with", lambda: here | {"reportlab": "1.0"})
    made = bundle(whole()[0], Q3)
    monkeypatch.undo()
    assert failed(made) == {}
    assert "reportlab 1.0, here" in unknown(made)["paper"]
    assert "the tables hold them" in unknown(made)["paper"]


def test_an_archive_packed_by_another_library_cannot_be_compared(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What is in it is checked all the same, a workbook by the sheets in it."""
    made = _made_with(files_of(whole()[1]), zlib="0.9")
    assert (failed(made), unknown(made)) == ({}, {})
    monkeypatch.setattr(archive, "_packed", lambda _: b"packed otherwise")
    assert failed(made) == {}
    assert "packed by another version (zlib 0.9, here" in unknown(made)["archive"]
    assert "first at the packed bytes of HOW-TO-VERIFY.txt" in failed(whole()[1])["archive"]


def test_the_text_for_who_has_no_tool_cannot_mislead() -> None:
    """The service left the warning about the key out."""
    made = service_says(**{names.HOW_TO: lambda text: text.replace(b"FIRST compare", b"compare")})
    assert "is not the text that this tool writes" in failed(made)["text for who has no tool"]


@pytest.mark.parametrize(
    ("name", "content"),
    [
        (names.ENTRIES, DEEP + b"\n"),
        (names.ENTRIES, b'{"event":{}}\n' * 1894),
        (names.EARLIER, b'{"leaf":' + DEEP + b"\n"),
        (names.EARLIER, b'{"leaf":"\\ud800","number":0,"proof":[]}\n'),
        (names.EARLIER, b'{"leaf":"{}","number":0,"proof":["xx"]}\n'),
        (names.CHECKPOINTS, b'{"note":"\\u0000","proof":[]}\n'),
        (names.CHECKPOINTS, b'{"note":"a\\n\\nb\\n","proof":[]}\n'),
        (names.CHECKPOINT, b"\xff\xfe"),
        (names.CHECKPOINT, b"a\n1\nb\n\n\xe2\x80\x94 a b\n"),
        (names.BEFORE, b"00\n"),
        (names.LEAVES, b"zz\n" * 1895),
        (names.BROUGHT_FORWARD, b'"b"\n"a"\n'),
        (names.BROUGHT_FORWARD, DEEP),
        (REGIME, b"a = " + DEEP),
        (REGIME, b"\xff"),
        (REGIME, b"hours = 1e999999999\n"),
        ("regimes/good-practice.toml", b""),
        ("csv/violations.csv", b'"' + b"x" * 400_000),
        ("csv/violations.csv", b"\xff"),
        ("csv/summary.csv", b""),
        ("lantern-hill-2026-Q3.xlsx", b"PK\3\4 no workbook"),
        ("lantern-hill-2026-Q3.pdf", b""),
        ("keys/key-1.vkey", b"no key\n"),
        ("keys/key-1.pem", b"no key\n"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_file_that_is_not_what_it_must_be_ends_as_a_failed_check(
    name: str, content: bytes
) -> None:
    """Nothing that stands in a file ends the verification with anything but a sentence."""
    found = failed(service_says(**{name: lambda _: content}))
    assert found
    assert not [said for said in found.values() if len(said) > 2_000]


@pytest.mark.parametrize(
    "content",
    [
        b"", DEEP, b"{}", b'{"facility":"../../etc"}', b"\xff", b"null",
        b'{"facility":"a","from":-1}',
    ],
)  # fmt: skip
def test_a_statement_that_is_none_makes_no_bundle(content: bytes) -> None:
    """Without it nobody knows what the bundle is of."""
    with pytest.raises(BundleError, match=r"record/statement\.json cannot be read"):
        checked(service_says(**{names.STATEMENT: lambda _: content}))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'"size":ALL', b'"size":4000000000000000000'),
        (b'"from":0', b'"from":ALL'),
        (b'"from":0', b'"from":4000000000000000000'),
        (b'"setup_number":0', b'"setup_number":1'),
        (b'"setup_number":0', b'"setup_number":99999999'),
        (b'"setup_version":1', b'"setup_version":2'),
        (b'"quarter":"2026-Q3"', b'"quarter":"1000-Q3"'),
        (b'"facility":"lantern-hill"', b'"facility":"another"'),
        (b'"log":"custody', b'"log":"another'),
        (b'"now":"2026-', b'"now":"2027-'),
    ],
)
def test_a_statement_that_is_not_true_fails(old: bytes, new: bytes) -> None:
    """Sizes, numbers, names and times that are not those of the record."""
    all_ = b"%d" % whole()[0].size
    old, new = (said.replace(b"ALL", all_) for said in (old, new))

    def change(told: bytes) -> bytes:
        assert old in told
        return told.replace(old, new)

    made = service_says(**{names.STATEMENT: change})
    try:
        assert failed(made)
    except BundleError as error:
        assert "quarter" in str(error)


def test_a_log_of_another_facility_is_not_this_ones() -> None:
    """The name of the log ends in the facility's id."""
    log, _ = whole()
    other = signer("custody.example/other")
    files = files_of(whole()[1])
    assert (
        "signed by no known key" in failed(signed_anew(files, other))["signature of the contents"]
    )
    assert log.origin.endswith(log.site.id)
