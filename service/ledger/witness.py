"""A witness: a second party that signs a log's checkpoint if the log only grew since it last did.

It holds no part of the record. What it last signed is handed in, and is to be kept, synced to disk,
before the answer is given out (C2SP tlog-witness). Its signature is a plain one (type 01).
"""

from collections.abc import Collection, Sequence

from service.ledger.checkpoint import Checkpoint, CheckpointError, parse
from service.ledger.merkle import ProofError, check_consistency
from service.ledger.note import NoteError, Signer, Verifier, cosign, opened


class WitnessError(ValueError):
    """The witness does not sign: the log is another, or other than what it signed before."""


def cosigned(
    note: str,
    log: Collection[Verifier],
    last: Checkpoint | None,
    proof: Sequence[bytes],
    witness: Signer,
) -> str:
    """Give the note with the witness's signature below, if the log goes on from the last one.

    Of the first checkpoint it sees only the log's own signature can be checked.

    Args:
        note: The checkpoint as the log signed it.
        log: The log's keys, one of which must have signed.
        last: The checkpoint this witness signed last.
        proof: That the log begins with the last; not looked at where there is none.
        witness: Who signs.

    Raises:
        WitnessError: it must not be signed; the message says why.
    """
    try:
        found = opened(note, (*log, witness.verifier))
        checkpoint = parse(found.text)
    except (NoteError, CheckpointError) as error:
        raise WitnessError(f"this is no checkpoint of the log: {error}") from error
    names = {verifier.name for verifier in found.signed_by if verifier in log}
    if checkpoint.origin not in names:
        raise WitnessError(f"{checkpoint.origin} has not signed this checkpoint of its own")
    if last is not None:
        _goes_on(last, checkpoint, proof)
    signed = witness.verifier in found.signed_by
    return note if signed else cosign(note, witness)


def _goes_on(last: Checkpoint, present: Checkpoint, proof: Sequence[bytes]) -> None:
    if present.origin != last.origin:
        raise WitnessError(
            f"this is the log {present.origin}, the last one signed was {last.origin}: "
            "keep a state for each log"
        )
    if present.size < last.size:
        raise WitnessError(
            f"the log has {present.size} entries, but had {last.size} when it was last signed: "
            "entries are lost, or you are shown another log"
        )
    try:
        check_consistency(last.size, last.root, present.size, present.root, proof)
    except ProofError as error:
        raise WitnessError(
            f"the log does not go on from what was last signed: {error}. "
            f"It wants a proof from {last.size} to {present.size} entries"
        ) from error
