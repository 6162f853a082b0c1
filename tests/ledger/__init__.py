"""Tests of the ledger: tree, notes, checkpoints, leaves, changes of key, witnesses."""
