from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from travel.errors import InputError
from travel.writers.files import write_whole


def test_writes_and_replaces_without_leaving_anything(tmp_path: Path) -> None:
    target = tmp_path / "new" / "plan.json"
    write_whole(target, b"one")
    write_whole(target, b"two")
    assert target.read_bytes() == b"two"
    assert [path.name for path in target.parent.iterdir()] == ["plan.json"]
    assert target.stat().st_mode & 0o777 == 0o666 & ~current_umask()


def current_umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


@pytest.mark.parametrize(("number", "said"), [(errno.ENOSPC, "disk is full"), (errno.EACCES, "no permission")])
def test_failure_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, said: str) -> None:
    target = tmp_path / "plan.json"
    target.write_bytes(b"old")

    def fail(*_: object) -> None:
        raise OSError(number, "refused")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(InputError, match=said):
        write_whole(target, b"new")
    assert target.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["plan.json"]


def test_folder_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "plan.json").mkdir()
    (tmp_path / "plan.json" / "x").write_bytes(b"")
    with pytest.raises(InputError, match="cannot be written"):
        write_whole(tmp_path / "plan.json", b"new")
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(InputError, match="cannot be written"):
        write_whole(tmp_path / "file" / "plan.json", b"new")
