from protocol.rejects import Reject


def test_every_reason_has_words_of_its_own() -> None:
    words = [reason.words for reason in Reject]
    assert all(words)
    assert len(set(words)) == len(words)
    assert not any(text.endswith(".") for text in words)


def test_the_numbers_fit_a_byte_and_are_never_zero() -> None:
    assert all(1 <= reason <= 255 for reason in Reject)


def test_what_is_genuine_but_old() -> None:
    old = {reason for reason in Reject if reason.genuine_but_old}
    assert old == {Reject.TOO_OLD, Reject.BOOT_BACK, Reject.TWIN}
