"""A keyring on disk and two invented logs to sign: one is the other with its past changed."""

from collections.abc import Callable
from pathlib import Path

from service.ledger.checkpoint import Checkpoint
from service.store.keyring import Keyring
from tests.ledger.tree import Tree
from tests.trade import at

HILL, ORIGIN = "hill", "custody.example/hill"
NOW = at("2026-07-01 10:00")
TREE, OTHER = Tree.of(40), Tree([b"other", *(b"leaf %d" % n for n in range(1, 40))])
WHY = "the officer who kept it has left"


def state(size: int, tree: Tree = TREE) -> Checkpoint:
    """The log at a size."""
    return Checkpoint(ORIGIN, size, tree.root(size))


def grown(size: int, tree: Tree = TREE) -> Callable[[Checkpoint], bool]:
    """Whether the log, now of that size, begins with a checkpoint."""
    return lambda last: last.size <= size and tree.root(last.size) == last.root


def sign(ring: Keyring, size: int, tree: Tree = TREE) -> str:
    """Sign the log as it stands."""
    return ring.sign(HILL, state(size, tree), grown(size, tree))


def rotate(ring: Keyring, size: int, tree: Tree = TREE, *, after_loss: bool = False) -> str:
    """Change the key of the log as it stands."""
    held = state(size, tree)
    return ring.rotate(HILL, held, NOW, WHY, grown=grown(size, tree), after_loss=after_loss)


def names(folder: Path) -> list[str]:
    """The files of the facility but for the lock."""
    return sorted(p.name for p in (folder / HILL).iterdir() if p.name != ".lock")
