"""The outside of a bundle: the archive, the files, the signatures and the keys."""

import re
from hashlib import sha256

from service.bundles import names
from service.bundles.archive import altered, repacked
from service.bundles.checks.case import Case, shortened, signed_by
from service.bundles.parts import Parts
from service.bundles.reading import Unknown, Unsound
from service.ledger.checkpoint import parse
from service.ledger.note import note_text
from service.ledger.vouching import Vouching

_RECORD = (
    names.ENTRIES, names.LEAVES, names.BEFORE, names.EARLIER, names.BROUGHT_FORWARD,
    names.CHECKPOINT, names.CHECKPOINTS, names.STATEMENT, names.TRACES,
)  # fmt: skip
_MANY = re.compile(r"csv/[a-z-]+\.csv|regimes/[a-z0-9-]+\.toml|keys/[a-z]+-[1-9]\d{0,3}\.[a-z]+")


def archive(case: Case) -> str:
    """The zip file has no byte but those that writing these files gives."""
    parts = case.parts
    where = altered(parts.archive, parts.packed)
    other = "" if where else repacked(parts.packed)
    if other and parts.told.others(["zlib"]):
        versions = ", ".join(parts.told.others(["zlib"]))
        raise Unknown(f"packed by another version ({versions}): its packing cannot be compared")
    if where or other:
        wrong = _unlisted(parts)
        inside = (
            f"and what is in it is not what was written: {shortened(wrong)}"
            if wrong
            else f"but each file in it is as {names.CONTENTS} lists it: it was packed anew"
        )
        raise Unsound(
            f"the zip file has other bytes than were written, first at "
            f"{where or f'the packed bytes of {other}'}; {inside}"
        )
    return f"{len(parts.packed)} files, packed as a bundle is"


def files(case: Case) -> str:
    """The files are those that the contents list, and none besides."""
    parts = case.parts
    digests, listed, wrong = _digests(parts), _listed(parts), _unlisted(parts)
    fixed = {names.HOW_TO, f"{parts.told.paper}.pdf", f"{parts.told.paper}.xlsx", *_RECORD}
    strange = [n for n in digests if n not in fixed and not _MANY.fullmatch(n)]
    wrong += [f"{name} is no file of a bundle" for name in strange]
    wrong += [f"{name} is missing" for name in sorted(fixed - digests.keys() - listed.keys())]
    if wrong:
        raise Unsound(shortened(wrong))
    if note_text(parts.text(names.CONTENTS)) != names.contents_text(parts.told, digests):
        raise Unsound(
            f"{names.CONTENTS} lists these files, but its first lines are not of this facility, "
            "quarter, log and these entries, or it has lines besides"
        )
    return f"{len(digests)} files, each with the digest in {names.CONTENTS}"


def _unlisted(parts: Parts) -> list[str]:
    """Say what is in the archive otherwise than the contents list it; nothing if it is all so."""
    digests, listed = _digests(parts), _listed(parts)
    wrong = [
        f"{name} was changed: its digest is not the one in {names.CONTENTS}"
        for name in listed
        if digests.get(name, listed[name]) != listed[name]
    ]
    wrong += [f"{name} is missing" for name in listed if name not in digests]
    wrong += [
        f"{name} was put in: {names.CONTENTS} has none" for name in digests if name not in listed
    ]
    if wrong:
        return wrong
    due = [*listed, names.CONTENTS]
    order = zip([file.name for file in parts.packed], due, strict=True)
    return [f"{one} stands where {other} belongs" for one, other in order if one != other][:1]


def _digests(parts: Parts) -> dict[str, str]:
    """Give the digest of every file but the contents."""
    return {
        name: sha256(content).hexdigest()
        for name, content in parts.files.items()
        if name != names.CONTENTS
    }


def _listed(parts: Parts) -> dict[str, str]:
    found: dict[str, str] = {}
    for line in note_text(parts.text(names.CONTENTS)).splitlines():
        match = names.LISTED.fullmatch(line)
        if match and match[2] in found:
            raise Unsound(f"{names.CONTENTS} lists {match[2]} twice")
        if match:
            found[match[2]] = match[1]
    return found


def contents_signature(case: Case) -> str:
    """The contents are signed by the log's present key, and by nobody else."""
    note = case.parts.text(names.CONTENTS)
    signed_by(note, case.parts.keys[-1], names.CONTENTS)
    if note[len(note_text(note)) + 1 :].count("\n") != 1:
        raise Unsound(f"{names.CONTENTS} bears more than the one signature")
    return f"{names.CONTENTS} is signed by the key {case.parts.keys[-1].vkey}"


def key(case: Case) -> str:
    """The key is the one given, or leads on from it; else it is only the bundle's own."""
    present = case.parts.keys[-1]
    changes = case.changes
    by = f"; {len(changes)} change(s) of key vouched for" if changes else ""
    whose = "the one you gave" if case.key else "the bundle's own"
    if case.key and changes:
        whose = "vouched for by the one you gave"
    return f"{present.vkey}, {whose}{by}"


def key_changes(case: Case) -> str:
    """Each change of key left the record as it was."""
    for change in case.changes:
        _same_record(case, change)
    for change in case.changes:
        if change.after_loss:
            raise Unknown(
                f"entries were lost or changed before the key was changed on {change.at:%Y-%m-%d} "
                f"({change.reason}): what was signed before that holds no more"
            )
    return "; ".join(f"{c.at:%Y-%m-%d}: {c.reason}" for c in case.changes) or "none"


def _same_record(case: Case, change: Vouching) -> None:
    """The state at a change is one of this log; of one before the first entry only if proved."""
    told, state, on = case.parts.told, change.state, f"{change.at:%Y-%m-%d}"
    if state.origin != told.log or state.size > told.size:
        raise Unsound(f"the key was changed on {on} at a state that this log never had")
    roots = {one.size: one.root for one in map(parse, map(note_text, _notes(case)))}
    if state.size >= told.first:
        roots[state.size] = case.parts.root_at(state.size)
    if roots.get(state.size, state.root) != state.root:
        raise Unsound(f"the first {state.size} entries are not those at the change on {on}")


def _notes(case: Case) -> list[str]:
    return [one.note for one in case.parts.signed]
