from pathlib import Path

import pytest

from monitor.errors import BadJournal
from monitor.journal.place import check_place, kind_of

MOUNTS = r"""22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
30 22 0:26 / /mnt/share rw,relatime shared:15 - nfs4 server:/share rw,vers=4.2
31 30 8:2 / /mnt/share/disk rw,relatime - ext4 /dev/sdb1 rw
32 22 0:30 / /mnt/with\040space rw master:1 propagate_from:2 - cifs //server/x rw
33 22 8:3 / /srv rw - ext4 /dev/sdc1 rw
34 22 0:31 / /srv rw - fuse.sshfs somebody@server:/ rw
"""
"""In the form of proc(5), /proc/pid/mountinfo."""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/var/incidents", "ext4"),
        ("/mnt/share", "nfs4"),
        ("/mnt/share/a/b", "nfs4"),
        ("/mnt/shared", "ext4"),
        ("/mnt/share/disk/a", "ext4"),
        ("/mnt/with space/a", "cifs"),
        ("/srv/a", "fuse.sshfs"),
    ],
)
def test_the_deepest_and_last_mount_counts(folder: str, kind: str) -> None:
    assert kind_of(Path(folder), MOUNTS) == kind


@pytest.mark.parametrize("text", ["", "rubbish", "1 2 3 - ", "1 2 3 4 / rw -", " - ext4"])
def test_what_cannot_be_told_is_empty(text: str) -> None:
    assert kind_of(Path("/a"), text) == ""


def test_a_network_file_system_is_refused(tmp_path: Path) -> None:
    mounts = tmp_path / "mountinfo"
    mounts.write_text(f"1 0 0:1 / {tmp_path} rw - nfs server:/ rw\n", encoding="utf-8")
    with pytest.raises(BadJournal, match=r"network file system \(nfs\)") as refused:
        check_place(tmp_path / "incidents", mounts)
    assert refused.value.exit_code == 5


def test_a_disk_of_this_machine_will_do(tmp_path: Path) -> None:
    check_place(tmp_path)
    check_place(tmp_path, tmp_path / "there is no such file")
