"""Signatures against RFC 8032, "Edwards-Curve Digital Signature Algorithm" (2017), section 7.1.

Tests 1 to 3, from memory; a signature cannot agree by chance.
"""

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from service.ledger.note import Signer, Verifier

VECTORS = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bac"
            "c61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"
        ),
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e"
            "458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        (
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290"
            "ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"
        ),
    ),
]


@pytest.mark.parametrize(("secret", "public", "message", "signature"), VECTORS)
def test_a_key_makes_the_published_signature(
    secret: str, public: str, message: str, signature: str
) -> None:
    """The public half and the signature are those printed in the standard."""
    signer = Signer("log", Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret)))

    assert signer.verifier.public_key.hex() == public
    assert signer.key.sign(bytes.fromhex(message)).hex() == signature


@pytest.mark.parametrize(("message", "signature"), [(v[2], v[3]) for v in VECTORS[:2]])
@pytest.mark.parametrize("public", [v[1] for v in VECTORS])
def test_a_published_signature_is_that_of_its_own_key_alone(
    message: str, signature: str, public: str
) -> None:
    """Of the three keys only the one that signed is found to have (texts that are UTF-8 only)."""
    text, own = bytes.fromhex(message).decode(), {v[2]: v[1] for v in VECTORS}[message]
    verifier = Verifier("log", bytes.fromhex(public))

    assert verifier.signed(text, bytes.fromhex(signature)) is (public == own)
    assert not verifier.signed(text + "r", bytes.fromhex(signature))
    assert not verifier.signed(text, bytes.fromhex(signature)[:-1])
