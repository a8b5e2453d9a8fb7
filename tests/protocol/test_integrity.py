import hashlib
from typing import Any

import pytest
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from hypothesis import given, settings
from hypothesis import strategies as st

from protocol.integrity import READY_MAX, Keyring, checksum, checksum_holds, hkdf, tag

KEY = bytes(range(32))


def test_crc_check_value_of_the_catalogue() -> None:
    # Catalogue of CRC algorithms, CRC-16/IBM-3740: check 0x29B1; of nothing, its start value.
    assert checksum(b"123456789") == bytes.fromhex("29b1")
    assert checksum(b"") == bytes.fromhex("ffff")


def test_crc_carried_on_over_itself_is_zero() -> None:
    assert checksum_holds(b"123456789\x29\xb1")
    assert not checksum_holds(b"123456789\x29\xb0")


def test_blake2s_vector_of_the_rfc() -> None:
    # RFC 7693 appendix B, BLAKE2s-256("abc"): the hash this Python carries is the RFC's.
    want = "508c5e8c327c14e2e1a72ba34eeb452f37458b209ed63a294d999b4c86675982"
    assert hashlib.blake2s(b"abc").hexdigest() == want


def grown(seed: int, size: int) -> bytes:
    """RFC 7693 appendix E, selftest_seq: a sequence that any implementation can make."""
    a, b, out = 0xDEAD4BAD * seed & 0xFFFF_FFFF, 1, bytearray()
    for _ in range(size):
        a, b = b, (a + b) & 0xFFFF_FFFF
        out.append(b >> 24)
    return bytes(out)


def test_keyed_blake2s_with_short_digests_as_in_the_self_test_of_the_rfc() -> None:
    # RFC 7693 appendix E, blake2s_selftest: hash of all hashes, keyed and not, of these lengths.
    want = "6a411f08ce25adcdfb02aba641451cec53c598b24f4fc787fbdc88797f4c1dfe"
    everything = hashlib.blake2s()
    for digest_size in (16, 20, 28, 32):
        for size in (0, 3, 64, 65, 255, 1024):
            data, key = grown(size, size), grown(digest_size, digest_size)
            everything.update(hashlib.blake2s(data, digest_size=digest_size).digest())
            everything.update(hashlib.blake2s(data, key=key, digest_size=digest_size).digest())
    assert everything.hexdigest() == want


def test_a_tag_is_no_beginning_of_a_longer_digest() -> None:
    # RFC 7693 2.5: the digest length goes into the parameter block.
    longer = hashlib.blake2s(b"frame", key=KEY).digest()
    assert len(tag(KEY, b"frame")) == 8
    assert tag(KEY, b"frame") != longer[:8]


@pytest.mark.parametrize(
    ("secret", "salt", "info", "length", "want"),
    [
        # RFC 5869 appendix A.1, A.2, A.3 (SHA-256).
        (
            "0b" * 22,
            "000102030405060708090a0b0c",
            "f0f1f2f3f4f5f6f7f8f9",
            42,
            "3cb25f25faacd57a90434f64d0362f2a2d2d0a90cf1a5a4c5db02d56ecc4c5bf34007208d5b887185865",
        ),
        (
            bytes(range(0x50)).hex(),
            bytes(range(0x60, 0xB0)).hex(),
            bytes(range(0xB0, 0x100)).hex(),
            82,
            (
                "b11e398dc80327a1c8e7f78c596a49344f012eda2d4efad8a050cc4c19afa97c59045a99cac7827271cb41"
                "c65e590e09da3275600c2f09b8367793a9aca3db71cc30c58179ec3e87c14c01d5c1f3434f1d87"
            ),
        ),
        (
            "0b" * 22,
            "",
            "",
            42,
            "8da4e775a563c18f715f802a063c5a31b8a11f5c5ee1879ec3454e5f3c738d2d9d201395faa4b61a96c8",
        ),
    ],
)
def test_hkdf_vectors_of_the_rfc(secret: str, salt: str, info: str, length: int, want: str) -> None:
    got = hkdf(bytes.fromhex(secret), bytes.fromhex(info), length, bytes.fromhex(salt))
    assert got.hex() == want


@given(st.binary(max_size=80), st.binary(max_size=80), st.integers(1, 200))
@settings(max_examples=50)
def test_hkdf_agrees_with_another_library(secret: bytes, info: bytes, length: int) -> None:
    assert hkdf(secret, info, length) == HKDF(SHA256(), length, None, info).derive(secret)


def test_derived_keys_are_those_of_the_vectors(keyring: Keyring, vectors: dict[str, Any]) -> None:
    fleet = {int(epoch): bytes.fromhex(key) for epoch, key in vectors["fleet_keys"].items()}
    for derived in vectors["derived_keys"]:
        ring = Keyring(fleet, derived["use"], 1)
        up = derived["direction"] == "up"
        key = ring.pack_key(derived["identity"], derived["epoch"], up=up)
        assert key.hex() == derived["key"]


def test_a_pack_gets_three_keys_and_shows_none_of_them(keyring: Keyring) -> None:
    keys = keyring.pack_keys(5, 2)
    assert keys.up == keyring.pack_key(5, 2, up=True)
    assert keys.down == keyring.pack_key(5, 2, up=False)
    assert keys.broadcast == keyring.broadcast_key(2) == keyring.pack_keys(6, 2).broadcast
    assert len({keys.up, keys.down, keys.broadcast}) == 3
    assert keys.up.hex() not in repr(keys)
    assert "b'" not in repr(keys)


def test_no_two_keys_of_a_fleet_are_equal() -> None:
    rings = [Keyring({1: KEY, 2: KEY[::-1]}, use, 1) for use in ("exercise", "real")]
    keys = [
        ring.pack_key(identity, epoch, up=up)
        for ring in rings
        for epoch in (1, 2)
        for identity in (1, 2, 3)
        for up in (True, False)
    ]
    assert len(set(keys)) == 24


@pytest.mark.parametrize(
    ("keys", "use", "current", "wrong"),
    [
        ({1: KEY}, "drill", 1, "use is exercise or real"),
        ({0: KEY}, "real", 0, "epoch 0 is not within"),
        ({256: KEY}, "real", 256, "epoch 256 is not within"),
        ({1: KEY[1:]}, "real", 1, "has 31 bytes"),
        ({1: KEY}, "real", 2, "no key for the current epoch 2"),
    ],
)
def test_a_keyring_that_cannot_be(keys: Any, use: Any, current: int, wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        Keyring(keys, use, current)


def test_epochs_held(keyring: Keyring) -> None:
    assert keyring.epochs == (1, 2)
    assert keyring.holds(2)
    assert not keyring.holds(3)
    with pytest.raises(KeyError):
        keyring.pack_key(1, 3, up=True)


def upward(ring: Keyring, identity: int) -> bytes:
    content = bytes((1, 2, 1, 1)) + identity.to_bytes(4, "big") + bytes(26)
    whole = content + tag(ring.pack_key(identity, 1, up=True), content)
    return whole + checksum(whole)


def test_only_what_has_proven_genuine_is_kept_ready(keyring: Keyring) -> None:
    frame = upward(keyring, 9)
    forged = frame[:-10] + bytes(8) + frame[-2:]
    assert not keyring.genuine(forged)
    assert keyring.ready == {}
    assert keyring.genuine(frame)
    assert len(keyring.ready) == 1
    assert keyring.genuine(frame)
    assert not keyring.genuine(forged)
    assert len(keyring.ready) == 1


def test_what_cannot_be_genuine_is_known_of_packs_that_have_proven_so_and_of_no_other(
    keyring: Keyring,
) -> None:
    """Of any kind of frame, and nothing is remembered of it."""
    frame = upward(keyring, 9)
    sign_on = bytes((1, 1)) + frame[2:-10]
    sign_on += tag(keyring.pack_key(9, 1, up=True), sign_on) + bytes(2)
    wrong = [one[:-3] + bytes((one[-3] ^ 1,)) + one[-2:] for one in (frame, sign_on)]
    assert not any(keyring.forged(one) for one in (frame, sign_on, *wrong)), "of nobody heard yet"
    keyring.genuine(frame)
    before = (dict(keyring.ready), dict(keyring._ready_others), keyring.strangers_left)
    assert not any(keyring.forged(one) for one in (frame, sign_on))
    assert all(keyring.forged(one) for one in wrong)
    assert not keyring.forged(upward(keyring, 10))
    # Open, of an epoch that is not held, cut short: none of a pack that has a key here.
    assert all(keyring.forged(one) for one in (bytes((1, 2, 0, 0)) + frame[4:], frame[:9], b""))
    assert keyring.forged(bytes((1, 2, 1, 99)) + frame[4:])
    assert before == (keyring.ready, keyring._ready_others, keyring.strangers_left)


def test_keys_of_strangers_are_made_as_often_as_is_allowed(keyring: Keyring) -> None:
    keyring.strangers_left = 2
    frames = [upward(keyring, identity) for identity in range(1, 6)]
    assert [keyring.genuine(frame) for frame in frames] == [True, True, None, None, None]
    # Who has proven genuine, or is expected, is looked at whatever else comes: any kind of frame.
    assert keyring.genuine(frames[0]) is True
    event = bytes((1, 3)) + frames[0][2:-10]
    whole = event + tag(keyring.pack_key(1, 1, up=True), event)
    assert keyring.genuine(whole + checksum(whole)) is True
    keyring.expected = {5}
    forged = frames[4][:-10] + bytes(8) + frames[4][-2:]
    assert [keyring.genuine(frame) for frame in (forged, frames[4], frames[3])] == [
        False, True, None,
    ]  # fmt: skip


def test_the_store_of_keys_is_bounded(keyring: Keyring) -> None:
    keyring._pack_keys = {number.to_bytes(5, "big"): KEY for number in range(READY_MAX)}
    assert keyring.genuine(upward(keyring, 9))
    assert len(keyring._pack_keys) == READY_MAX


def test_the_store_of_ready_states_is_bounded_and_drops_the_oldest(keyring: Keyring) -> None:
    first, second = bytes(8), bytes((0,) * 7 + (1,))
    state = hashlib.blake2s(key=KEY, digest_size=8)
    keyring.ready.update({number.to_bytes(8, "big"): state for number in range(READY_MAX)})
    assert keyring.genuine(upward(keyring, 9))
    assert len(keyring.ready) == READY_MAX
    assert first not in keyring.ready
    assert second in keyring.ready


def test_hkdf_refuses_a_length_it_cannot_give() -> None:
    for length in (0, 255 * 32 + 1):
        with pytest.raises(AssertionError):
            hkdf(KEY, b"", length)
    assert len(hkdf(KEY, b"", 255 * 32)) == 8160
