import stat
from pathlib import Path

import pytest

from monitor import keyfile
from monitor.errors import BadFile, BadUsage
from protocol.integrity import Keyring

KEY = "ab" * 32


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "fleet.key"


def write(path: Path, text: str, mode: int = 0o600) -> Path:
    path.write_text(text, "utf-8")
    path.chmod(mode)
    return path


def secret(keyring: Keyring, epoch: int) -> bytes:
    return keyring.pack_key(1, epoch, up=True)


def test_a_file_by_hand(path: Path) -> None:
    write(path, f'use = "real"\ncurrent = 7\n[keys]\n6 = "{KEY}"\n7 = "{"cd" * 32}"\n')
    ring = keyfile.load(path)
    want = Keyring({6: bytes.fromhex(KEY), 7: bytes.fromhex("cd" * 32)}, "real", 7)
    assert (ring.use, ring.current_epoch, ring.epochs) == ("real", 7, (6, 7))
    assert [secret(ring, epoch) for epoch in (6, 7)] == [secret(want, epoch) for epoch in (6, 7)]


def test_a_new_file_is_private_and_reads_back(path: Path) -> None:
    made = keyfile.create(path, "exercise")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert secret(keyfile.load(path), 1) == secret(made, 1)
    assert made.use == "exercise"


def test_no_two_files_are_alike(tmp_path: Path) -> None:
    one, two = (keyfile.create(tmp_path / name, "exercise") for name in ("one", "two"))
    assert secret(one, 1) != secret(two, 1)


def test_a_file_is_never_written_over(path: Path) -> None:
    write(path, "mine")
    with pytest.raises(BadFile, match="there is a file already"):
        keyfile.create(path, "exercise")
    assert path.read_text("utf-8") == "mine"


def test_the_next_epoch_keeps_the_old_one_until_it_is_dropped(path: Path) -> None:
    old = secret(keyfile.create(path, "exercise"), 1)
    ring = keyfile.next_epoch(path)
    assert (ring.current_epoch, ring.epochs) == (2, (1, 2))
    loaded = keyfile.load(path)
    assert secret(loaded, 1) == old != secret(loaded, 2)
    assert secret(loaded, 2) == secret(ring, 2)
    assert keyfile.drop_epoch(path, 1).epochs == (2,)
    assert keyfile.load(path).epochs == (2,)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert list(path.parent.iterdir()) == [path]


def test_the_journal_key_outlives_every_epoch(path: Path) -> None:
    keyfile.create(path, "exercise")
    key = keyfile.journal_key(path)
    assert len(key) == 32
    keyfile.next_epoch(path)
    keyfile.drop_epoch(path, 1)
    assert keyfile.journal_key(path) == key
    with pytest.raises(BadUsage, match="there is a journal key already"):
        keyfile.add_journal_key(path)
    assert keyfile.journal_key(path) == key


def test_a_file_from_before_journal_keys_loads_and_gets_one(path: Path) -> None:
    write(path, GOOD)
    assert keyfile.journal_key(path) == b""
    ring = keyfile.load(path)
    keyfile.add_journal_key(path)
    assert len(keyfile.journal_key(path)) == 32
    assert secret(keyfile.load(path), 1) == secret(ring, 1)


def test_the_next_epoch_adds_a_journal_key_too(path: Path) -> None:
    write(path, GOOD)
    keyfile.next_epoch(path)
    assert len(keyfile.journal_key(path)) == 32


def test_epochs_held_are_bounded(path: Path) -> None:
    keyfile.create(path, "exercise")
    for _ in range(3):
        keyfile.next_epoch(path)
    with pytest.raises(BadUsage, match="4 key epochs are held already"):
        keyfile.next_epoch(path)


def test_after_the_last_number_comes_the_first(path: Path) -> None:
    write(path, f'use = "real"\ncurrent = 255\n[keys]\n255 = "{KEY}"\n')
    assert keyfile.next_epoch(path).epochs == (1, 255)


def test_a_number_still_held_is_not_given_again(path: Path) -> None:
    write(path, f'use = "real"\ncurrent = 255\n[keys]\n255 = "{KEY}"\n1 = "{KEY}"\n')
    with pytest.raises(BadUsage, match="epoch 1 is still held"):
        keyfile.next_epoch(path)


@pytest.mark.parametrize(("epoch", "wrong"), [(1, "is the current one"), (3, "is not held")])
def test_epochs_that_cannot_be_dropped(path: Path, epoch: int, wrong: str) -> None:
    keyfile.create(path, "exercise")
    with pytest.raises(BadUsage, match=wrong):
        keyfile.drop_epoch(path, epoch)


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o620, 0o666])
def test_a_file_that_others_can_read_or_write_is_refused(path: Path, mode: int) -> None:
    keyfile.create(path, "exercise")
    path.chmod(mode)
    with pytest.raises(BadFile, match="others can read or write it") as caught:
        keyfile.load(path)
    assert "chmod 600" in caught.value.to_do


GOOD = f'use = "real"\ncurrent = 1\n[keys]\n1 = "{KEY}"\n'


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("", "use: Field required"),
        (GOOD.replace("real", "drill"), "use: Input should be 'exercise' or 'real'"),
        (GOOD.replace("current = 1", "current = 2"), "no key for the current epoch 2"),
        (GOOD.replace("current = 1", "current = 0"), "current: "),
        (GOOD.replace(KEY, KEY[2:]), "keys.1: "),
        (GOOD.replace(KEY, "AB" * 32), "keys.1: "),
        (GOOD.replace("1 = ", "256 = "), "keys.256"),
        (GOOD + 'spare = "1"\n', "keys.spare"),
        (f'journal = "{KEY[2:]}"\n' + GOOD, "journal: "),
        ("owner = 1\n" + GOOD, "owner: Extra inputs"),
        ("use = ", "Invalid value"),
        ("# ø\n" + GOOD, "not a key file"),
        ("#" * 5000 + "\n" + GOOD, "key file is too long"),
    ],
)
def test_a_file_that_is_not_right_is_told_by_its_key(path: Path, text: str, wrong: str) -> None:
    write(path, text)
    with pytest.raises(BadFile) as caught:
        keyfile.load(path)
    assert wrong in str(caught.value)
    assert str(path) in str(caught.value)


def test_no_error_shows_a_key(path: Path) -> None:
    for text in (GOOD.replace("1 = ", "300 = "), GOOD.replace(KEY, KEY + "0")):
        write(path, text)
        with pytest.raises(BadFile) as caught:
            keyfile.load(path)
        assert KEY[:16] not in str(caught.value)


def test_no_file_and_no_place(path: Path) -> None:
    with pytest.raises(BadFile, match="key file is not there"):
        keyfile.load(path)
    with pytest.raises(BadFile, match="No such file"):
        keyfile.create(path / "deeper", "exercise")


def test_a_folder_is_no_key_file(path: Path) -> None:
    path.mkdir()
    with pytest.raises(BadFile, match="key file is a folder"):
        keyfile.load(path)
