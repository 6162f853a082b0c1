"""Writes a bundle: papers, files, leaves, proofs, rules and keys in one zip, its contents signed.

The same figures, material and libraries give the same bytes. Nothing of it is held whole.
"""

from base64 import b64encode
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from hashlib import sha256
from itertools import islice
from tempfile import TemporaryFile
from typing import BinaryIO

from service.bundles import names
from service.bundles.archive import BYTES_MAX, BundleError, Writer
from service.bundles.howto import how_to
from service.bundles.material import Material, Statement, statement
from service.bundles.warned import warned
from service.ledger.checkpoint import parse
from service.ledger.leaf import canonical
from service.ledger.merkle import Tree, leaf_hash
from service.ledger.note import Verifier, note_text
from service.manifests import tables
from service.manifests.figures import QuarterFigures
from service.manifests.pdf import write_pdf
from service.manifests.xlsx import write_xlsx

AT_ONCE = 1 << 20
LEAVES_AT_ONCE = 500


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
    yield f"{told.paper}.pdf", _written(partial(write_pdf, figures))
    yield f"{told.paper}.xlsx", _written(partial(write_xlsx, figures))
    for name, table in tables.parts(figures):
        yield f"csv/{name}", table
    with TemporaryFile() as hashes:
        tree = Tree(material.first, material.before)
        yield names.ENTRIES, _lines(material.leaves, tree, hashes)
        _agreeing(material, tree)
        yield names.LEAVES, _read(hashes)
    yield names.BEFORE, [names.hex_lines(material.before)]
    yield (
        names.EARLIER,
        (
            _line({"leaf": e.leaf.decode(), "number": e.number, "proof": _hex(e.proof)})
            for e in material.earlier
        ),
    )
    yield names.BROUGHT_FORWARD, map(_line, material.brought_forward)
    yield names.TRACES, (_trace(*one) for one in material.traces)
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


def _written(write: Callable[[BinaryIO], None]) -> Iterator[bytes]:
    """Give in parts what can only be written to a file."""
    with TemporaryFile() as file:
        write(file)
        yield from _read(file)


def _read(file: BinaryIO) -> Iterator[bytes]:
    file.seek(0)
    return iter(partial(file.read, AT_ONCE), b"")


def _lines(leaves: Iterable[bytes], tree: Tree, hashes: BinaryIO) -> Iterator[bytes]:
    """Give the leaves as lines, some at a time; the hash of each grows the tree and is listed."""
    leaves = iter(leaves)
    while some := list(islice(leaves, LEAVES_AT_ONCE)):
        found = [leaf_hash(leaf) for leaf in some]
        tree.add(found)
        hashes.write(names.hex_lines(found))
        yield b"\n".join((*some, b""))


def _agreeing(material: Material, tree: Tree) -> None:
    """What is not what was signed is not given out."""
    signed = parse(note_text(material.checkpoint))
    if (tree.size, tree.root) != (signed.size, signed.root) or signed.size != material.size:
        raise BundleError(
            "the entries on record are not those the checkpoint was signed over: "
            "run 'custody check'"
        )


def _line(value: object) -> bytes:
    return canonical(value).encode() + b"\n"


def _hex(proof: Iterable[bytes]) -> list[str]:
    return [step.hex() for step in proof]
