"""Writing a file whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from pathlib import Path

from travel.errors import Fault, InputError

_SAID = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the quota on this disk is used up",
    errno.EACCES: "no permission to write here",
    errno.EPERM: "no permission to write here",
    errno.EROFS: "this disk can only be read",
    errno.ENOTDIR: "part of the path is a file, not a folder",
    errno.EISDIR: "a folder of this name is in the way",
    errno.ENAMETOOLONG: "the name is too long",
}


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that readers see the old one or the new one, never half of it.

    The folder is made where missing. Full disks, missing permission and the like become an InputError; the
    file that stood there before is then untouched.
    """
    temporary: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:40]}.", suffix=".part")
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, 0o666 & ~_umask())
        os.replace(temporary, path)
        temporary = None
        _sync_folder(path.parent)
    except OSError as error:
        said = _SAID.get(error.errno or 0, error.strerror or str(error))
        raise InputError([Fault(file=str(path), message=f"cannot be written: {said}")]) from error
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                os.unlink(temporary)


def _umask() -> int:
    """Give the process's umask; the only way to read it is to set it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def _sync_folder(folder: Path) -> None:
    """Make the new name last over a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
