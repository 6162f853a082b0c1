"""Evidence, pure: what of the record is hashed, the log's tree and proofs, signed checkpoints."""
