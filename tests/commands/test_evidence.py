"""Keys and witnesses on the command line, as an operator and an inspector use them."""

import json
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import load_pem_public_key

import scenario
from service.ledger.checkpoint import Checkpoint
from service.ledger.merkle import consistency_proof
from service.ledger.note import Verifier, opened, sign
from service.ledger.vouching import trusted_keys
from tests.databases import Databases
from tests.ledger.signers import ORIGIN, signer
from tests.ledger.tree import Tree
from tests.test_cli import run

HOSPITAL = Path(scenario.__file__).parent / "hospital.toml"
LOG, TREE, FORGED = signer(1), Tree.of(40), Tree([b"x", *(b"leaf %d" % n for n in range(1, 40))])


@pytest.fixture
def folder(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty working folder, with nothing in its database yet."""
    monkeypatch.setenv("CUSTODY_LABEL_URL", "https://Waste.example:8443")
    return folder


@pytest.fixture
def backup(tmp_path: Path, databases: Databases) -> str:
    """The address of a second database."""
    return databases.at(tmp_path / "backup")


# --- the key


def test_the_public_key_is_shown_as_one_line_and_in_pem(folder: Path) -> None:
    """It bears the name of the log, and is the same each time and in both forms."""
    assert run("setup", str(HOSPITAL)).exit_code == 0

    first, again, pem = run("key", "show"), run("key", "show"), run("key", "show", "--pem")

    verifier = Verifier.parse(first.stdout)
    public = load_pem_public_key(pem.stdout.encode())
    assert verifier.name.startswith("waste.example/")
    assert first.stdout == again.stdout == verifier.vkey + "\n"
    assert isinstance(public, Ed25519PublicKey)
    assert public.public_bytes_raw() == verifier.public_key
    assert "PRIVATE" not in pem.output


def test_a_key_folder_open_to_others_ends_the_command_with_a_sentence(folder: Path) -> None:
    """It says what to run."""
    run("setup", str(HOSPITAL))
    run("key", "show")
    (folder / "custody-keys").chmod(0o755)

    refused = run("key", "show")

    assert refused.exit_code == 2
    assert "chmod 700" in " ".join(refused.output.split())


def test_a_changed_key_prints_the_note_that_leads_to_it(folder: Path) -> None:
    """The note leads from the key shown before to the one shown after, with the reason."""
    run("setup", str(HOSPITAL))
    before = Verifier.parse(run("key", "show").stdout)

    changed = run("key", "rotate", "--reason", "the officer who kept it has left")

    after = Verifier.parse(run("key", "show").stdout)
    assert changed.exit_code == 0
    assert trusted_keys(before, [changed.stdout]) == [before, after]
    assert "reason: the officer who kept it has left" in changed.stdout
    assert before != after


def test_a_record_put_back_from_an_old_backup_is_found(
    folder: Path, database: str, backup: str, databases: Databases
) -> None:
    """Exit 1 and what to do; said openly, the log begins anew, and once only."""
    run("setup", str(HOSPITAL))
    databases.copy(database, backup)
    run("setup", str(HOSPITAL))
    run("key", "show")
    assert run("key", "rotate", "--reason", "yearly").exit_code == 0
    databases.copy(backup, database)

    found = run("key", "rotate", "--reason", "yearly")
    said = run("key", "rotate", "--reason", "disk failed", "--after-loss")
    again = run("key", "rotate", "--reason", "disk failed", "--after-loss")

    assert found.exit_code == 1
    assert "entries are lost or changed" in " ".join(found.output.split())
    assert said.exit_code == 0
    assert "entries were lost or changed" in said.stdout
    assert again.exit_code == 2
    assert "nothing is lost" in " ".join(again.output.split())


def test_a_change_without_a_key_or_a_reason_is_refused(folder: Path) -> None:
    """Exit 2 and a sentence."""
    run("setup", str(HOSPITAL))
    none = run("key", "rotate", "--reason", "yearly")
    run("key", "show")
    empty = run("key", "rotate", "--reason", "two\nlines")

    assert (none.exit_code, empty.exit_code) == (2, 2)
    assert "there is no key in" in " ".join(none.output.split())
    assert "in one line" in " ".join(empty.output.split())


# --- the log signed, and followed by a witness


def test_a_log_is_signed_and_followed_from_one_checkpoint_to_the_next(folder: Path) -> None:
    """What the facility writes is what the witness takes: checkpoint, key, proof, changed key."""
    run("setup", str(HOSPITAL))
    (folder / "log.key").write_text(run("key", "show").stdout, encoding="utf-8")
    run("witness", "create", "witness.example", "--out", "witness.pem")
    files = ("--log-key", "log.key", "--key", "witness.pem", "--state", "state.txt")
    assert run("checkpoint", "--out", "one.txt").exit_code == 0
    assert run("witness", "sign", "one.txt", *files).exit_code == 0
    for _ in range(4):
        run("setup", str(HOSPITAL))
    (folder / "vouching.txt").write_text(
        run("key", "rotate", "--reason", "yearly").stdout, encoding="utf-8"
    )

    proved = run("checkpoint", "--since", "1", "--proof", "proof.txt", "--out", "five.txt")
    stranger = run("witness", "sign", "five.txt", *files, "--proof", "proof.txt")
    led = ("--proof", "proof.txt", "--vouching", "vouching.txt")
    followed = run("witness", "sign", "five.txt", *files, *led)

    assert proved.exit_code == 0
    assert stranger.exit_code == 2
    assert "give it with --vouching" in " ".join(stranger.output.split())
    assert followed.exit_code == 0
    assert followed.stdout.splitlines()[1] == "5"


def test_a_checkpoint_of_a_lost_record_is_not_signed(
    folder: Path, database: str, backup: str, databases: Databases
) -> None:
    """Exit 1; a proof from more entries than there are, or a file for none, is wrong usage."""
    run("setup", str(HOSPITAL))
    databases.copy(database, backup)
    run("setup", str(HOSPITAL))
    signed = run("checkpoint")
    databases.copy(backup, database)
    lost = run("checkpoint", "--out", "lost.txt")

    assert signed.stdout.splitlines()[1] == "2"
    assert lost.exit_code == 1
    assert "nothing was signed" in " ".join(lost.output.split())
    assert not (folder / "lost.txt").exists()


def test_a_proof_is_asked_for_with_both_its_options(folder: Path) -> None:
    """Exit 2 and a sentence: from where, into which file, and for which checkpoint."""
    run("setup", str(HOSPITAL))
    since, proof, out = ("--since", "1"), ("--proof", "p.txt"), ("--out", "c.txt")

    for words in (since, proof, (*since, *out), (*proof, *out), (*since, *proof)):
        refused = run("checkpoint", *words)
        assert refused.exit_code == 2
        assert "together" in refused.output
    beyond = run("checkpoint", "--since", "9", *proof, *out)
    assert beyond.exit_code == 2
    assert "cannot begin with 9" in beyond.output
    assert not (folder / "p.txt").exists()


# --- the witness


def _files(folder: Path) -> None:
    (folder / "log.key").write_text(LOG.verifier.vkey + "\n", encoding="utf-8")
    run("witness", "create", "witness.example", "--out", "witness.pem")


def _witness(folder: Path, size: int, *more: str, tree: Tree = TREE) -> tuple[int, str, str]:
    note = sign(Checkpoint(ORIGIN, size, tree.root(size)).text, LOG)
    (folder / "checkpoint.txt").write_text(note, encoding="utf-8")
    files = ("--log-key", "log.key", "--key", "witness.pem", "--state", "state.txt")
    found = run("witness", "sign", "checkpoint.txt", *files, *more)
    return found.exit_code, found.stdout, " ".join(found.stderr.split())


def _proof(folder: Path, first: int, second: int, tree: Tree = TREE) -> tuple[str, str]:
    steps = [step.hex() for step in consistency_proof(first, second, tree.read)]
    (folder / "proof.txt").write_text("\n".join(steps) + "\n", encoding="utf-8")
    (folder / "proof.json").write_text(json.dumps({"proof": steps}), encoding="utf-8")
    return "--proof", "proof.txt"


def test_a_witness_follows_a_log_without_a_database(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Made, first sight, growth by a proof as lines and as JSON: no database is asked."""
    monkeypatch.setenv("CUSTODY_DATABASE_URL", "sqlite:////nowhere/custody.sqlite3")
    made = run("witness", "create", "witness.example", "--out", "witness.pem")
    own = Verifier.parse(made.stdout)
    (folder / "log.key").write_text(LOG.verifier.vkey + "\n", encoding="utf-8")

    code, note, said = _witness(folder, 5)
    assert (code, "nothing to compare" in said) == (0, True)
    assert opened(note, [own, LOG.verifier]).signed_by == (LOG.verifier, own)
    code, note, said = _witness(folder, 12, *_proof(folder, 5, 12))
    assert (code, said) == (0, "")
    (folder / "signed").mkdir()
    _proof(folder, 12, 40)
    code, _, _ = _witness(folder, 40, "--proof", "proof.json", "--out", "signed/note.txt")
    assert code == 0
    text = (folder / "signed/note.txt").read_text(encoding="utf-8")
    assert opened(text, [own]).text.splitlines()[1] == "40"


def test_a_witness_does_not_sign_a_log_that_lost_entries(folder: Path) -> None:
    """Exit 1 and the reason: it is shorter, other, or not proved to go on."""
    _files(folder)
    _witness(folder, 12)

    for size, tree, said in (
        (11, TREE, "had 12 when it was last signed"),
        (20, FORGED, "does not go on"),
        (12, FORGED, "does not go on"),
    ):
        more = _proof(folder, 12, size, tree) if size > 12 else ()
        code, note, told = _witness(folder, size, *more, tree=tree)
        assert (code, note) == (1, "")
        assert said in told


def test_a_proof_that_is_wanted_is_asked_for(folder: Path) -> None:
    """With the number to ask from; a proof that proves nothing is another matter."""
    _files(folder)
    _witness(folder, 12)

    code, note, told = _witness(folder, 20)
    other, _, _ = _witness(folder, 20, *_proof(folder, 5, 20))

    assert (code, note, other) == (2, "", 1)
    assert "'custody checkpoint --since 12 --proof PROOF --out CHECKPOINT'" in told
    assert "state.txt" in told


def test_a_false_signature_is_not_taken_for_a_changed_key(folder: Path) -> None:
    """Exit 1: the log's own key did not sign what stands here."""
    _files(folder)
    note = sign(Checkpoint(ORIGIN, 5, TREE.root(5)).text, LOG)
    (folder / "false.txt").write_text(note.replace("\n5\n", "\n6\n"), encoding="utf-8")

    files = ("--log-key", "log.key", "--key", "witness.pem", "--state", "state.txt")
    refused = run("witness", "sign", "false.txt", *files)

    assert refused.exit_code == 1
    assert "is false" in refused.output


@pytest.mark.parametrize("form", [(), ("--pem",)], ids=["one line", "PEM"])
def test_a_public_key_given_as_the_secret_one_is_told(folder: Path, form: tuple[str, ...]) -> None:
    """Whatever its form and its permissions: what is wanted is said."""
    _files(folder)
    run("setup", str(HOSPITAL))
    (folder / "witness.pem").write_text(run("key", "show", *form).stdout, encoding="utf-8")

    code, note, told = _witness(folder, 5)

    assert (code, note) == (2, "")
    assert "witness.pem is a public key" in told
    assert "'custody witness create NAME --out FILE'" in told


def test_a_note_of_a_changed_key_that_is_none_is_named(folder: Path) -> None:
    """The file, and what it should be; also one that leads on from another key."""
    _files(folder)
    run("setup", str(HOSPITAL))
    run("key", "show")
    (folder / "changed.txt").write_text(run("key", "rotate", "--reason", "yearly").stdout)
    (folder / "none.txt").write_text("no note", encoding="utf-8")

    none = _witness(folder, 5, "--vouching", "none.txt")
    others = _witness(folder, 5, "--vouching", "changed.txt")

    assert (none[0], others[0]) == (2, 2)
    assert "none.txt is no note of a changed key" in none[2]
    assert "do not lead on from log.key" in others[2]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("log.key", b"no key", "name+id+key"),
        ("log.key", b"\xff", "is no text"),
        ("witness.pem", b"no key", "damaged"),
        ("state.txt", b"no state", "not what this witness signed last"),
        ("proof.txt", b"no proof", "is no proof"),
        ("proof.txt", b'{"proof": 5}', "is no proof"),
        ("proof.txt", b'{"proof": [5]}', "is no proof"),
        ("proof.txt", b"{", "is no proof"),
    ],
)
def test_a_file_that_is_not_what_it_should_be_is_told(
    folder: Path, name: str, content: bytes, said: str
) -> None:
    """Exit 2 and a sentence for each kind of file, no traceback."""
    _files(folder)
    _witness(folder, 5)
    more = _proof(folder, 5, 12)
    (folder / name).write_bytes(content)

    code, note, told = _witness(folder, 12, *more)

    assert (code, note) == (2, "")
    assert said in told


def test_a_file_that_is_not_there_is_told(folder: Path) -> None:
    """A slip in a name."""
    assert _witness(folder, 5)[0] == 2
    _files(folder)
    assert _witness(folder, 5, "--proof", "nowhere.txt")[0] == 2
    assert run("witness", "create", "w", "--out", "witness.pem").exit_code == 2
    assert run("witness", "create", "two words", "--out", "other.pem").exit_code == 2
    assert not (folder / "other.pem").exists()
