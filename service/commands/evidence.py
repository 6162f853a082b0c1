"""Sign the log, show and change the key that signs it, and be a witness of another's log."""

from pathlib import Path
from typing import Annotated

import typer
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from service.commands.files import FOLDER, ready, write
from service.commands.frame import FacilityOption, app, keeping_of, now, open_facility
from service.commands.witnessing import demand_secret, hinted, key_in_force, read_proof
from service.duties import evidence
from service.duties.evidence import ACCESS, RECORD, ForkError, KeyringError
from service.ledger.note import NoteError, Verifier
from service.ledger.vouching import VouchingError
from service.ledger.witness import WitnessError
from service.store.witnessing import create_witness
from service.store.witnessing import witness as witnessed
from service.terminal import FOUND_WRONG, console, read_text, stop

AccessOption = Annotated[
    bool, typer.Option("--access-log", help="Of the access log, not of the record.")
]

key = typer.Typer(no_args_is_help=True, help="The key that signs a facility's log.")
witness = typer.Typer(no_args_is_help=True, help="Sign another's log if it only grew.")
app.add_typer(key, name="key")
app.add_typer(witness, name="witness")


@app.command()
def checkpoint(
    out: Annotated[
        Path | None, typer.Option(help=f"File to write instead of printing. {FOLDER}")
    ] = None,
    since: Annotated[
        int | None, typer.Option(min=0, help="Entries that a witness signed last.")
    ] = None,
    proof: Annotated[
        Path | None,
        typer.Option(help=f"File for the proof that the log goes on from those. {FOLDER}"),
    ] = None,
    access_log: AccessOption = False,
    facility: FacilityOption = None,
) -> None:
    """Sign the log as it stands; exit 1 if entries that were signed are lost or changed."""
    if (since is None) != (proof is None) or (proof is not None and out is None):
        stop("give --since, --proof and --out together: a proof is of one checkpoint, in a file")
    for file in (out, proof):
        if file is not None:
            ready(file)
    store, caller = open_facility(facility)
    keeping, log = keeping_of(store), ACCESS if access_log else RECORD
    try:
        signed = evidence.sign_log(keeping, caller, now(), log)
        size = signed.state.size
        steps = evidence.growth(keeping, caller, since, size, log) if since is not None else []
    except ForkError as error:
        stop(str(error), FOUND_WRONG)
    except (KeyringError, ValueError) as error:
        stop(str(error))
    if proof is not None:
        write(proof, "".join(f"{step.hex()}\n" for step in steps).encode())
    if out is None:
        typer.echo(signed.note, nl=False)
    else:
        write(out, signed.note.encode())


@key.command()
def show(
    pem: Annotated[bool, typer.Option("--pem", help="In PEM, for other tools.")] = False,
    access_log: AccessOption = False,
    facility: FacilityOption = None,
) -> None:
    """Print the public key in force; the first time, make the key."""
    store, caller = open_facility(facility)
    try:
        verifier = evidence.public_key(keeping_of(store), caller, ACCESS if access_log else RECORD)
    except KeyringError as error:
        stop(str(error))
    typer.echo(_pem(verifier) if pem else verifier.vkey, nl=not pem)


@key.command()
def rotate(
    reason: Annotated[str, typer.Option(help="Why, in a line of words; it is signed.")],
    after_loss: Annotated[
        bool, typer.Option("--after-loss", help="Entries that were signed are lost; say so.")
    ] = False,
    access_log: AccessOption = False,
    facility: FacilityOption = None,
) -> None:
    """Put a new key in force and print the note by which the old one vouches for it."""
    store, caller = open_facility(facility)
    try:
        note = evidence.change_key(
            keeping_of(store),
            caller,
            now(),
            reason=reason,
            after_loss=after_loss,
            log=ACCESS if access_log else RECORD,
        )
    except ForkError as error:
        stop(str(error), FOUND_WRONG)
    except (KeyringError, VouchingError) as error:
        stop(str(error))
    typer.echo(note, nl=False)
    console.print("Give this note to all who hold the public key; back the new key up.")


@witness.command()
def create(
    name: Annotated[str, typer.Argument(help="Name of the witness, such as its host name.")],
    out: Annotated[
        Path, typer.Option(help=f"File for its secret key; must not exist yet. {FOLDER}")
    ],
) -> None:
    """Make a witness's key, and print its public half to give to the log's keeper and readers."""
    ready(out)
    try:
        typer.echo(create_witness(name, out).vkey)
    except (NoteError, KeyringError) as error:
        stop(str(error))
    console.print(f"{out}: the secret key; keep it to yourself, and a copy apart", highlight=False)


@witness.command()
def sign(
    checkpoint: Annotated[Path, typer.Argument(help="Checkpoint that the log signed.")],
    log_key: Annotated[Path, typer.Option(help="File with the log's public key, one line.")],
    key: Annotated[
        Path,
        typer.Option(help="File with the witness's own secret key, as 'witness create' wrote it."),
    ],
    state: Annotated[Path, typer.Option(help=f"File where it keeps what it signed last. {FOLDER}")],
    proof: Annotated[
        Path | None,
        typer.Option(
            help="Proof that the log goes on from what was signed last; wanted once it grew."
        ),
    ] = None,
    vouching: Annotated[
        list[Path] | None, typer.Option(help="Change of the log's key since; each in order.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help=f"File to write instead of printing. {FOLDER}")
    ] = None,
) -> None:
    """Sign a checkpoint if the log only grew since the last; opens no database. Exit 1 if not."""
    for file in (out, state):
        if file is not None:
            ready(file)
    demand_secret(key)
    in_force = key_in_force(log_key, vouching or [])
    given, steps = read_text(checkpoint), read_proof(proof) if proof else []
    try:
        note, last = witnessed(given, [in_force], steps, key, state)
    except WitnessError as error:
        hinted(checkpoint, given, log_key, in_force, state, proof)
        stop(f"not signed: {error}", FOUND_WRONG)
    except KeyringError as error:
        stop(str(error))
    if last is None:
        console.print("The first of this log: there was nothing to compare it with.")
    if out is None:
        typer.echo(note, nl=False)
    else:
        write(out, note.encode())


def _pem(verifier: Verifier) -> str:
    public = Ed25519PublicKey.from_public_bytes(verifier.public_key)
    return public.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo).decode()
