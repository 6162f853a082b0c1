"""Whatever is changed in a bundle by whomever is found, and named."""

from collections.abc import Callable

import pytest

from service.bundles import names
from service.bundles.archive import BundleError
from service.ledger.leaf import read
from service.ledger.merkle import leaf_hash
from tests.bundles.made import (
    Q3,
    bundle,
    changed,
    checked,
    failed,
    files_of,
    later,
    record,
    signed_anew,
    signer,
    stream,
    unknown,
    whole,
)


def lines(change: Callable[[list[bytes]], None]) -> Callable[[bytes], bytes]:
    """A change of a file's lines."""

    def made(content: bytes) -> bytes:
        found = content.splitlines(keepends=True)
        change(found)
        return b"".join(found)

    return made


def by_the_service(made: bytes, **files: Callable[[bytes], bytes]) -> bytes:
    """The bundle with files changed and listed and signed anew, as the service itself could."""
    found = files_of(made)
    for name, change in files.items():
        found[name] = change(found[name])
    return signed_anew(found, whole()[0].signers[0])


def test_a_good_bundle_holds_whole() -> None:
    """Every check of a record that begins with the quarter holds, with the key at hand."""
    log, made = whole()
    found = checked(made, key=log.signers[0].verifier, checkpoints=[log.note(n) for n in (1, 700)])

    assert [check for check in found if check.holds is not True] == []
    assert len(found) == 27


def test_the_same_record_gives_the_same_bundle() -> None:
    """Byte for byte, so that two who made it can compare what they hold."""
    log, made = whole()
    assert bundle(log, Q3, leaves=iter(log.leaves)) == made


def test_another_key_can_sign_but_not_as_the_one_you_hold() -> None:
    """A forger who makes a whole bundle anew is found by who holds the key, and by nobody else."""
    site, entries = stream()
    forged = record(entries[:-30], site, entries[0].recorded_at)
    forged.signers = [signer(forged.origin, 66)]
    made = bundle(forged, Q3)
    held = whole()[0].signers[0].verifier

    assert failed(made) == {}
    wrong = failed(made, key=held)
    assert list(wrong) == ["key"]
    assert held.vkey in wrong["key"]


def test_contents_signed_by_another_key_are_no_contents() -> None:
    """Even with every digest right."""
    files = files_of(whole()[1])
    made = signed_anew(files, signer(whole()[0].origin, 66))
    assert "signed by no known key" in failed(made)["signature of the contents"]


def test_a_second_signature_is_not_passed_over() -> None:
    """A line below the contents that nobody reads is a change all the same."""
    made = changed(
        whole()[1], names.CONTENTS, lambda note: note + "— else.example AAAAAAAAAAAA\n".encode()
    )
    assert "more than the one signature" in failed(made)["signature of the contents"]


SEALED = b'"kind":"registered"'


def test_an_entry_that_the_service_itself_changed_is_named() -> None:
    """By number, event and container: another weight in line 301, listed and signed anew."""
    log, made = whole()
    number = next(n for n in range(300, log.size) if SEALED in log.leaves[n])
    wrong = log.leaves[number].replace(b'"weight_g":', b'"weight_g":1')
    made = by_the_service(
        made, **{names.ENTRIES: lines(lambda one: one.__setitem__(number, wrong + b"\n"))}
    )
    found = failed(made)
    event = read(log.leaves[number]).event  # type: ignore[union-attr]

    said = found["hashes of the entries"]
    assert f"entry {number}, event {event.id}, registered, {event.containers[0]}" in said
    assert "Up to entry 100 they are as signed" in found["root of the log"]
    assert "The change lies before entry 700" in found["root of the log"]
    assert {"tables", "workbook", "paper"} <= found.keys()


def test_a_set_up_that_the_service_changed_is_named() -> None:
    """A scale was made coarser in the first line, so that its errors explain more."""
    log, made = whole()
    wrong = log.leaves[0].replace(b'"interval_g":"20"', b'"interval_g":"50"')
    assert wrong != log.leaves[0]
    change = {names.ENTRIES: lines(lambda one: one.__setitem__(0, wrong + b"\n"))}
    assert "entry 0, set-up 1" in failed(by_the_service(made, **change))["hashes of the entries"]
    hashes = {
        names.LEAVES: lines(lambda one: one.__setitem__(0, leaf_hash(wrong).hex().encode() + b"\n"))
    }
    found = failed(by_the_service(made, **change, **hashes))
    assert "The change lies before entry 1." in found["root of the log"]


def test_what_was_not_signed_is_not_written() -> None:
    """A record that lost an entry since its checkpoint gives no bundle, but a sentence."""
    log, _ = whole()
    for leaves in (log.leaves[:-1], log.leaves[1:], [*log.leaves, log.leaves[0]]):
        with pytest.raises(BundleError, match="not those the checkpoint was signed over"):
            bundle(log, Q3, leaves=leaves)


@pytest.mark.parametrize(
    "change",
    [
        lambda one: one.pop(400),
        lambda one: one.insert(400, one[9]),
        lambda one: one.__setitem__(slice(400, 402), [one[401], one[400]]),
        lambda one: one.__setitem__(400, one[9]),
    ],
    ids=["left out", "put in", "swapped", "replaced"],
)
def test_entries_left_out_put_in_swapped_or_replaced_do_not_give_the_root(
    change: Callable[[list[bytes]], None],
) -> None:
    """Though the list of hashes was made to fit and signed anew by the service's own key."""
    log, made = whole()
    leaves = list(log.leaves)
    change(leaves)
    found = failed(
        by_the_service(
            made,
            **{
                names.ENTRIES: lambda _: b"".join(leaf + b"\n" for leaf in leaves),
                names.LEAVES: lambda _: b"".join(
                    leaf_hash(leaf).hex().encode() + b"\n" for leaf in leaves
                ),
            },
        )
    )
    assert "hashes of the entries" not in found
    assert "The change lies before entry 700" in found["root of the log"]


def test_an_entry_in_other_bytes_that_say_the_same_is_not_canonical() -> None:
    """A space more is enough."""
    made = by_the_service(
        whole()[1],
        **{names.ENTRIES: lines(lambda one: one.__setitem__(5, one[5].replace(b":", b": ", 1)))},
    )
    found = failed(made)
    assert "entry 5: this entry is not in the canonical form" in found["entries"]
    assert "entry 5, line 6" in found["hashes of the entries"]
    assert "this needs what is at fault above" in unknown(made)["tables"]


def test_a_violation_that_the_service_left_out_is_found_by_the_rules() -> None:
    """The line is gone from the table and all is signed anew: container and rule are named."""
    made = whole()[1]
    row = files_of(made)["csv/violations.csv"].splitlines()[4].decode().split(",")
    made = by_the_service(made, **{"csv/violations.csv": lines(lambda one: one.pop(4))})
    found = failed(made)

    assert list(found) == ["violations"]
    assert f"missing: {row[3]} {row[1]}" in found["violations"]


def test_a_violation_that_the_rules_do_not_find_is_named() -> None:
    """One was put in for a container that has none."""
    line = b"1,lost.container,lost,SOMEBODY,,,,,,,,,,,,,,,\r\n"
    made = by_the_service(whole()[1], **{"csv/violations.csv": lines(lambda o: o.insert(3, line))})
    assert "not found by entries and rules: SOMEBODY" in failed(made)["violations"]


def test_a_total_that_the_service_changed_is_named_by_cell() -> None:
    """File, line, column, what is said and what is reckoned."""
    made = whole()[1]
    right = files_of(made)["csv/by-category.csv"].splitlines()[2].split(b",")[-2].decode()
    made = by_the_service(
        made,
        **{
            "csv/by-category.csv": lines(
                lambda one: one.__setitem__(2, one[2].replace(right.encode(), b"7"))
            )
        },
    )
    assert failed(made) == {
        "tables": f"csv/by-category.csv, line 3, weight_g: said '7', reckoned '{right}'"
    }


@pytest.mark.parametrize("kind", ["pdf", "xlsx"])
def test_a_paper_that_is_not_the_one_the_figures_give_is_found(kind: str) -> None:
    """The service put another quarter's paper in."""
    other = files_of(later()[2])
    name = next(n for n in other if n.endswith(kind))
    found = failed(by_the_service(whole()[1], **{name: lambda _: other[name]}))
    check = "paper" if kind == "pdf" else "workbook"
    assert found == {check: f"{name} is not the one that the figures give"}
