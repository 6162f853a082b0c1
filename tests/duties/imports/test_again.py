"""The same list again: repeated, stopped half-way, corrected; the record is the same in the end."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from service.duties import importing
from service.duties.imports.results import read_report
from tests.databases import Databases
from tests.duties.imports.office import (
    FIELDS,
    KEEPER,
    LEDGER,
    LEDGER_HEADER,
    Office,
    code,
    reasons,
    sealed,
)

ROOT = Path(__file__).parents[3]


def ledger(rows: int) -> str:
    """A list of registrations, every seventh line bad, every fifth there twice."""
    lines = [FIELDS]
    for n in range(rows):
        lines.append(sealed(n, n % 600, **({"weight_g": "heavy"} if n % 7 == 3 else {})))
        lines += lines[-1:] if n % 5 == 0 else []
    return "\n".join(lines) + "\n"


def test_a_list_imported_twice_is_not_doubled(office: Office) -> None:
    """Every line that was recorded is repeated the second time, under whatever file name."""
    first = office.bring_in(office.write("list.csv", ledger(40)))
    before = office.record()
    second = office.bring_in(office.write("copy of list.csv", ledger(40)))
    assert office.record() == before
    assert (second.recorded, second.repeated) == (0, first.recorded + first.repeated)
    assert second.refused == first.refused > 0


def test_another_spelling_of_the_same_event_is_the_same_event(office: Office) -> None:
    """Offset, blanks, letter case of an id and an explicit usual value make no second event."""
    office.bring_in(office.write("a.csv", f"{FIELDS}\n{sealed(1)}\n"))
    spelled = sealed(
        1,
        containers=code(1).lower(),
        occurred_at="2026-07-19 11:30+05:30",
        actor=" nurse ",
        weight_g="3420.0",
    )
    report = office.bring_in(office.write("b.csv", f"{FIELDS},closed\n{spelled},yes\n"))
    assert (report.repeated, reasons(report)) == (1, {})


def test_the_same_line_of_another_keeper_is_another_event(office: Office) -> None:
    """Two ledgers that both tell of one bag are two testimonies."""
    office.bring_in(office.write("a.csv", f"{FIELDS}\n{sealed(1)}\n"))
    other = importing.plain("carrier's list")
    report = office.bring_in(office.write("b.csv", f"{FIELDS}\n{sealed(1)}\n"), other)
    assert report.recorded == 1


class Stopped(Exception):  # noqa: N818 - what happens to the run, no error of ours
    """The run was ended by force."""


@pytest.mark.parametrize("error", [Stopped, KeyboardInterrupt])
@pytest.mark.parametrize("after", [0, 1, 3])
def test_a_run_stopped_half_way_and_repeated_equals_a_straight_run(
    tmp_path: Path,
    databases: Databases,
    monkeypatch: pytest.MonkeyPatch,
    error: type[BaseException],
    after: int,
) -> None:
    """What was acknowledged stays; the second run adds the rest; the records are equal."""
    monkeypatch.setattr(importing, "BATCH", 10)
    straight, stopped = (Office.opened(databases, tmp_path / n) for n in ("straight", "stopped"))
    straight_report = straight.bring_in(straight.write("list.csv", ledger(60)))
    path = stopped.write("list.csv", ledger(60))
    calls: list[int] = []

    def stop(done: int, _all: int) -> None:
        calls.append(done)
        if len(calls) > after:
            raise error

    with pytest.raises(error):
        stopped.bring_in(path, progress=stop)
    told = list(read_report(stopped.folder / "list.report.csv"))
    kept = {str(e.event.id) for e in stopped.entries()}
    assert {o.event_id for o in told if o.outcome == "recorded"} == kept
    assert len(told) == 10 * after, "the report holds every batch that was acknowledged"
    report = stopped.bring_in(path)
    assert stopped.record() == straight.record()
    assert report.recorded + len(kept) == straight_report.recorded
    assert report.rejects is not None
    assert straight_report.rejects is not None
    assert report.rejects.read_bytes() == straight_report.rejects.read_bytes()


KILLED = """
import os, signal, sys
from pathlib import Path
from service.custody.words import Role
from service.duties import importing
from service.access.caller import Caller
from service.store.store import Store
from tests.duties.imports.office import NOW

importing.BATCH = 10
folder = Path(sys.argv[1])
store = Store(sys.argv[3])
importing.import_file(
    store, Caller("hill", "office", Role.OFFICER), folder / "list.csv",
    importing.plain(sys.argv[2]), NOW, rejects=folder / "list.rejects.csv",
    progress=lambda done, _all: done > 25 and os.kill(os.getpid(), signal.SIGKILL),
)
"""


def test_a_killed_run_loses_nothing_that_was_acknowledged(
    databases: Databases, tmp_path: Path
) -> None:
    """After SIGKILL the report names what is on record; the next run ends as a straight one."""
    straight, killed = (Office.opened(databases, tmp_path / n) for n in ("straight", "killed"))
    straight.bring_in(straight.write("list.csv", ledger(60)))
    path = killed.write("list.csv", ledger(60))
    killed.store.database.close()
    ended = subprocess.run(
        [sys.executable, "-c", KILLED, str(killed.folder), KEEPER, databases.at(killed.folder)],
        check=False,
        cwd=ROOT,
    )
    assert ended.returncode == -signal.SIGKILL
    told = list(read_report(killed.folder / "list.report.csv"))
    kept = {str(e.event.id) for e in killed.entries()}
    assert kept == {o.event_id for o in told if o.outcome == "recorded"} != set()
    report = killed.bring_in(path)
    assert killed.record() == straight.record()
    assert report.repeated >= len(kept)


def test_progress_counts_lines_to_the_end(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    """It starts at none, never goes back, and ends with all physical lines."""
    monkeypatch.setattr(importing, "BATCH", 10)
    seen: list[tuple[int, int]] = []
    text = ledger(30) + "\n\n"
    office.bring_in(office.write("l.csv", text), progress=lambda *at: seen.append(at))
    assert seen[0] == (0, text.count("\n"))
    assert seen[-1] == (text.count("\n"), text.count("\n"))
    assert seen == sorted(seen)


BAD = f'''{LEDGER_HEADER}
17;19.07.2026;08:30;3,42;Gelber Sack;Station Süd;ja;
18;19.07.2026;08:31;3,4205;Gelber Sack;"Station ""Nord""";ja;
19;19.07.2026;08:32;1.234,5;Gelber Sack;OP;ja;
20;19.07.2026;08:33;4;Gelber Sack;OP
21;19.07.2026;08:34;5;Gelber Sack;OP;vielleicht;"zwei
Zeilen"
22;"19.07.2026;08:35;6;Gelber Sack;OP;ja;
23;19.07.2026;08:36;7;Gelber Sack;OP;ja;
'''


def test_rejects_are_kept_as_they_stand_with_their_reason(office: Office) -> None:
    """Each refused line is untouched behind its reason; lines after an open quotation go on."""
    path = office.write("juli.csv", BAD, "cp1252")
    mapping = office.mapping(f'encoding = "cp1252"\n{LEDGER}')
    report = office.bring_in(path, mapping)
    assert report.recorded == 2
    why = reasons(report)
    assert list(why) == [3, 4, 5, 6, 8]
    assert "'3,4205' is finer than a gram" in why[3]
    assert "'Station \"Nord\"' is not among the values" in why[3]
    assert "'1.234,5' is ambiguous" in why[4]
    assert why[5] == "the row has 6 columns, the header 8"
    assert why[6].startswith("dicht?: 'vielleicht'")
    assert why[8].startswith("a quotation mark opens on this line")
    assert report.rejects is not None
    kept = report.rejects.read_bytes().decode("cp1252")
    for line in (3, 4, 5, 6, 8):
        assert f";{BAD.splitlines()[line - 1]}\n" in kept


def test_a_corrected_file_of_rejects_brings_in_the_rest(office: Office) -> None:
    """Corrected in place and imported by the same mapping, only what is still wrong stays out."""
    mapping = office.mapping(f'encoding = "cp1252"\n{LEDGER}')
    report = office.bring_in(office.write("juli.csv", BAD, "cp1252"), mapping)
    assert report.rejects is not None
    corrected = (
        report.rejects.read_bytes()
        .decode("cp1252")
        .replace('3,4205;Gelber Sack;"Station ""Nord"""', "3,420;Gelber Sack;OP")
        .replace("08:32;1.234,5", "08:32;1,2")
        .replace(";vielleicht;", ";nein;")
        .replace(';22;"19.07', ";22;19.07")
    )
    rest = office.bring_in(office.write(report.rejects.name, corrected, "cp1252"), mapping)
    assert (rest.recorded, rest.refused) == (4, 1)
    assert rest.rejects is not None
    assert rest.rejects != report.rejects
    last = rest.rejects.read_bytes().decode("cp1252").splitlines()
    assert last[0] == f"refused because;{LEDGER_HEADER}"
    assert last[1].endswith('";20;19.07.2026;08:33;4;Gelber Sack;OP')
    assert last[1].count("columns") == 1, "one reason, the new one"
    numbers = [e.event.note.removeprefix("their number: ") for e in office.entries()]
    assert sorted(numbers) == ["17", "18", "19", "21", "22", "23"]


def test_rejects_of_json_lines_stay_json_lines(office: Office) -> None:
    """The reason is the first key of the object, which can be corrected and imported again."""
    line = (
        f'{{"kind": "found", "containers": ["{code(1)}"], "occurred_at": "2026-07-19T08:00",'
        ' "actor": "porter"}'
    )
    report = office.bring_in(office.write("e.jsonl", f"{line}\n{{}}\nno object\n"))
    assert report.rejects is not None
    kept = report.rejects.read_text().splitlines()
    assert kept[0].startswith('{"refused because": "occurred_at')
    assert kept[0].endswith(line[1:])
    again = office.bring_in(report.rejects)
    assert again.rejects is not None
    assert again.rejects.read_text().splitlines()[:2] == kept[:2], "one reason, not two"
    report.rejects.write_text(kept[0].replace("08:00", "08:00Z") + "\n")
    assert office.bring_in(report.rejects).recorded == 1


def test_no_file_is_written_over(office: Office) -> None:
    """Corrections in a file of rejects outlive another run of the list they came from."""
    path = office.write("list.csv", f"{FIELDS}\n{sealed(1, weight_g='x')}\n")
    first = office.bring_in(path)
    assert first.rejects is not None
    first.rejects.write_text("being corrected")
    second = office.bring_in(path)
    assert first.rejects.read_text() == "being corrected"
    assert second.rejects == office.folder / "list.rejects-2.csv"
    assert second.file == office.folder / "list.report-2.csv"


def test_an_id_in_the_list_is_taken(office: Office) -> None:
    """An id given in the list is taken; the same id for other content is refused, not doubled."""
    own = "019f1d1f-0500-7000-8000-000000000001"
    office.bring_in(office.write("a.csv", f"id,{FIELDS}\n{own},{sealed(1)}\n"))
    changed = sealed(1, weight_g="9")
    report = office.bring_in(office.write("b.csv", f"id,{FIELDS}\n{own},{changed}\n"))
    assert "on record with other content" in reasons(report)[2]
    assert len(office.entries()) == 1
    assert str(office.entries()[0].event.id) == own
    assert office.entries()[0].origin.keeper == KEEPER
