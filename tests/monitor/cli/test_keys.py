from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import load_pem_public_key

from monitor import keyfile
from monitor.cli import main
from monitor.errors import Exit


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "fleet.key"


def test_a_fleet_from_its_first_key_to_the_next_epoch(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name = str(path)
    assert main(["keys", "create", name, "--exercise"]) == Exit.OK
    assert main(["keys", "next", name]) == Exit.OK
    assert main(["keys", "drop", name, "1"]) == Exit.OK
    capsys.readouterr()
    assert main(["keys", "show", name]) == Exit.OK
    shown = dict(line.split() for line in capsys.readouterr().out.splitlines())
    assert shown == {
        "use": "exercise", "current": "2", "held": "2", "journal": "keyed", "signing": "no",
    }  # fmt: skip


def test_a_signing_key_and_its_public_part(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The public key of RFC 8032, section 7.1, TEST 1; its file is kept through an epoch."""
    keyfile.create(path, "real")
    assert main(["keys", "public", str(path)]) == Exit.USAGE
    assert "there is no signing key" in capsys.readouterr().err
    assert main(["keys", "signing", str(path)]) == Exit.OK
    made = keyfile.signing_key(path).hex()
    seed = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
    path.write_text(path.read_text("ascii").replace(made, seed), "ascii")
    keyfile.next_epoch(path)
    capsys.readouterr()
    assert main(["keys", "public", str(path)]) == Exit.OK
    public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
    assert capsys.readouterr().out == f"{public}\n"
    assert main(["keys", "public", str(path), "--pem"]) == Exit.OK
    read = load_pem_public_key(capsys.readouterr().out.encode())
    assert isinstance(read, Ed25519PublicKey)
    assert read.public_bytes_raw().hex() == public
    assert main(["keys", "signing", str(path)]) == Exit.USAGE
    assert "there is a signing key already" in capsys.readouterr().err


def test_an_old_file_gets_a_key_of_journals(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path.write_text(f'use = "real"\ncurrent = 1\n[keys]\n1 = "{"ab" * 32}"\n', "utf-8")
    path.chmod(0o600)
    assert main(["keys", "show", str(path)]) == Exit.OK
    assert "journal  open" in capsys.readouterr().out
    assert main(["keys", "journal", str(path)]) == Exit.OK
    assert len(keyfile.journal_key(path)) == 32
    capsys.readouterr()
    assert main(["keys", "journal", str(path)]) == Exit.USAGE
    assert "there is a journal key already" in capsys.readouterr().err


@pytest.mark.parametrize("identity", ["16909060", "0x01020304"])
@pytest.mark.parametrize("epoch", [None, 1, 2])
def test_the_keys_of_one_pack(
    path: Path, capsys: pytest.CaptureFixture[str], identity: str, epoch: int | None
) -> None:
    keyfile.create(path, "real")
    ring = keyfile.next_epoch(path)
    asked = [] if epoch is None else ["--epoch", str(epoch)]
    assert main(["keys", "pack", str(path), identity, *asked]) == Exit.OK
    printed = dict(line.split(maxsplit=1) for line in capsys.readouterr().out.splitlines())
    keys = ring.pack_keys(0x01020304, epoch or 2)
    assert printed == {
        "pack": "16909060 (0x01020304)",
        "use": "real",
        "epoch": str(epoch or 2),
        "up": keys.up.hex(),
        "down": keys.down.hex(),
        "beacons": keys.broadcast.hex(),
    }


def test_the_page_of_the_format_shows_what_is_printed(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    secret = bytes(range(32)).hex()
    path.write_text(f'use = "exercise"\ncurrent = 1\n[keys]\n1 = "{secret}"\n', "utf-8")
    path.chmod(0o600)
    assert main(["keys", "pack", str(path), "0x01020304"]) == Exit.OK
    page = Path(__file__).parents[3] / "protocol" / "PACKET-FORMAT.md"
    assert f"```\n{capsys.readouterr().out}```\n" in page.read_text("utf-8")


def test_an_epoch_that_is_not_held(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    keyfile.create(path, "real")
    assert main(["keys", "pack", str(path), "1", "--epoch", "9"]) == Exit.USAGE
    assert capsys.readouterr().err == f"outby: epoch 9 is not held: {path}: held: 1\n"


def test_a_file_that_is_not_there(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["keys", "show", str(path)]) == Exit.FILE
    assert capsys.readouterr().err.startswith("outby: key file is not there")


@pytest.mark.parametrize(
    "asked",
    [
        ["create", "x"],
        ["create", "x", "--real", "--exercise"],
        ["pack", "x", "0"],
        ["pack", "x", "4294967296"],
        ["pack", "x", "pump"],
        [],
    ],
)
def test_use_and_identity_are_never_assumed(
    asked: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["keys", *asked])
    assert caught.value.code == Exit.USAGE
    assert capsys.readouterr().err


def test_signing_without_its_extra_names_the_extra(
    path: Path, without_signing: None, capsys: pytest.CaptureFixture[str]
) -> None:
    keyfile.create(path, "real")
    for act in ("signing", "public"):
        assert main(["keys", act, str(path)]) == Exit.USAGE
        assert "pip install 'outby[signing]'" in capsys.readouterr().err
