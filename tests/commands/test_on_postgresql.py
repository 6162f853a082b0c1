"""A PostgreSQL server that is set wrongly: nothing that writes starts, and it is said why."""

from pathlib import Path

import pytest

import scenario
from tests.postgres import cluster, quick
from tests.test_cli import run

HOSPITAL = str(Path(scenario.__file__).parent / "hospital.toml")
WRONG = "ALTER DATABASE custody SET synchronous_commit = off"


def test_a_server_that_does_not_wait_for_its_disk_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 2 and the setting's name, from the service and from commands that record."""
    monkeypatch.chdir(tmp_path)
    with cluster(where=quick()) as server:
        monkeypatch.setenv("CUSTODY_DATABASE_URL", server.made("custody"))
        assert run("setup", HOSPITAL).exit_code == 0
        server.ask(WRONG)
        for words in (("serve",), ("setup", HOSPITAL), ("admit", "link", "--role", "plant")):
            refused = run(*words)
            assert refused.exit_code == 2, words
            said = " ".join(refused.output.split())
            assert "PostgreSQL's setting synchronous_commit is off" in said
            assert "Traceback" not in said
        assert run("device", "list").exit_code == 0  # who only reads is let
        server.ask(WRONG.replace("SET", "RESET").replace(" = off", ""))
        assert run("admit", "link", "--role", "plant").exit_code == 0
