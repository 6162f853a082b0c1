"""Keys made from a number, so that every run signs alike; none is secret."""

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from service.ledger.note import Signer

ORIGIN = "custody.example/hill"


def signer(number: int, name: str = ORIGIN) -> Signer:
    """The key of that number."""
    return Signer(name, Ed25519PrivateKey.from_private_bytes(number.to_bytes(32)))
