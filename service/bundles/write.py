"""Writes a bundle: papers, files, leaves, proofs, rules and keys in one zip, its contents signed.

The same figures, material and libraries give the same bytes. Leaves go through one at a time.
"""

from base64 import b64encode
from collections.abc import Iterable, Iterator, Mapping
from hashlib import sha256
from typing import BinaryIO

from service.bundles import names
from service.bundles.archive import BYTES_MAX, BundleError, Writer
from service.bundles.howto import how_to
from service.bundles.material import Material, Statement, statement
from service.bundles.warned import warned
from service.ledger.checkpoint import parse
from service.ledger.leaf import canonical
from service.ledger.merkle import grow, leaf_hash, root
from service.ledger.note import Verifier, note_text
from service.manifests.figures import QuarterFigures
from service.manifests.pdf import pdf
from service.manifests.tables import tables
from service.manifests.xlsx import xlsx


def write(
    out: BinaryIO, figures: QuarterFigures, material: Material, regimes: Mapping[str, bytes]
) -> None:
    """Write a bundle.

    Args:
        out: Where to; it must be possible to go back in it.
        figures: The quarter, reckoned from the same entries.
        material: What the record gives.
        regimes: The regime in force and those it adds to, by file name.

    Raises:
        BundleError: the entries are not those the checkpoint was signed over, or too many.
    """
    told = statement(material, figures.quarter)
    digests: dict[str, str] = {}
    writing = Writer(out)
    whole = 0
    for path, parts in _files(figures, told, material, regimes):
        digest = sha256()
        with writing.file(path) as file:
            for part in parts:
                file.write(part)
                digest.update(part)
                whole += len(part)
        digests[path] = digest.hexdigest()
        if whole > BYTES_MAX:
            raise BundleError(f"the record of the quarter has more than {BYTES_MAX:,} bytes")
    with writing.file(names.CONTENTS) as file:
        file.write(material.sign(names.contents_text(told, digests)).encode())
    writing.close()


def _files(
    figures: QuarterFigures, told: Statement, material: Material, regimes: Mapping[str, bytes]
) -> Iterator[tuple[str, Iterable[bytes]]]:
    """Give every file but the contents, in order, with what is in it."""
    verifiers = [Verifier.parse(key) for key in material.vkeys]
    said = warned(figures.quarter, figures.site.zone, material.now, material.began)
    yield names.HOW_TO, [how_to(told, len(verifiers), said).encode()]
    yield f"{told.paper}.pdf", [pdf(figures)]
    yield f"{told.paper}.xlsx", [xlsx(figures)]
    for name, table in tables(figures).items():
        yield f"csv/{name}", [table]
    hashes: list[bytes] = []
    yield names.ENTRIES, _lines(material.leaves, hashes)
    _agreeing(material, hashes)
    yield names.LEAVES, [names.hex_lines(hashes)]
    yield names.BEFORE, [names.hex_lines(material.before)]
    yield (
        names.EARLIER,
        (
            _line({"leaf": e.leaf.decode(), "number": e.number, "proof": _hex(e.proof)})
            for e in material.earlier
        ),
    )
    yield names.BROUGHT_FORWARD, map(_line, material.brought_forward)
    yield names.TRACES, (_trace(sha256, c) for sha256, c in sorted(material.traces.items()))
    yield names.CHECKPOINT, [material.checkpoint.encode()]
    yield (
        names.CHECKPOINTS,
        (
            _line({"note": signed.note, "proof": _hex(signed.proof)})
            for signed in material.checkpoints
        ),
    )
    yield names.STATEMENT, [told.text]
    for name, text in sorted(regimes.items()):
        yield f"regimes/{name}", [text]
    for path, content in names.key_files(verifiers, material.vouching).items():
        yield path, [content]


def _trace(sha256: str, content: bytes) -> bytes:
    """Write a logger's file as a line: its text where it is text, so that anybody can read it."""
    told = {"base64": "", "sha256": sha256, "text": ""}
    try:
        return _line(told | {"text": content.decode()})
    except UnicodeDecodeError:
        return _line(told | {"base64": b64encode(content).decode()})


def _lines(leaves: Iterable[bytes], hashes: list[bytes]) -> Iterator[bytes]:
    """Give the leaves as lines, and keep the hash of each."""
    for leaf in leaves:
        hashes.append(leaf_hash(leaf))
        yield leaf + b"\n"


def _agreeing(material: Material, hashes: list[bytes]) -> None:
    """What is not what was signed is not given out."""
    signed = parse(note_text(material.checkpoint))
    _, tops = grow(material.first, material.before, hashes)
    found = material.first + len(hashes), root(tops)
    if found != (signed.size, signed.root) or signed.size != material.size:
        raise BundleError(
            "the entries on record are not those the checkpoint was signed over: "
            "run 'custody check'"
        )


def _line(value: object) -> bytes:
    return canonical(value).encode() + b"\n"


def _hex(proof: Iterable[bytes]) -> list[str]:
    return [step.hex() for step in proof]
