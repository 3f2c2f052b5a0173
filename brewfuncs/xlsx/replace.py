"""A file replaced in one step: it is the old one or the new one, whole, at any moment."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import IO

from brewfuncs.errors import WorkbookError

__all__ = ["lock_owner", "make_like", "refuse_unwritable", "replace_file", "saved", "write_new"]

_STALE_SECONDS = 3600.0
_put: list[tuple[str, int]] = []  # the names of the files this process was about to replace, and the new files' numbers


def saved() -> list[str]:
    """The files that this process has replaced, for whoever has to say what was done when it is interrupted.

    The disk is asked: where the interruption comes amid the exchange, nothing else knows whether it was done.
    """
    return list(dict.fromkeys(path for path, number in _put if os.path.exists(path) and os.stat(path).st_ino == number))


def lock_owner(path: str | os.PathLike[str]) -> str | None:
    """Which program has the workbook open, as its lock file tells, or None."""
    folder, base = os.path.split(os.path.abspath(path))
    for program, lock in (("Excel", f"~${base}"), ("LibreOffice", f".~lock.{base}#")):
        # long names: Excel replaces the first two letters instead of adding two
        for candidate in {lock, "~$" + base[2:]} if program == "Excel" and len(base) > 12 else {lock}:
            if os.path.lexists(os.path.join(folder, candidate)):
                return program
    return None


def refuse_unwritable(path: str | os.PathLike[str], name: str) -> None:
    """Raise WorkbookError for a file that a program has open, or that says it is not to be written to.

    name: what the message calls it.
    """
    owner = lock_owner(path)
    if owner:
        raise WorkbookError(f"{name} is open in {owner}; close it there first")
    # both are asked: who may do everything is told by the first that they may write to this one, too
    if os.path.exists(path) and not (os.access(path, os.W_OK) and os.stat(path).st_mode & 0o222):
        raise WorkbookError(f"{name} is read-only")


def replace_file(
    path: str | os.PathLike[str], write: Callable[[IO[bytes]], object], ready: Callable[[str], object]
) -> None:
    """Write a temporary file beside `path`, put it safely on the disk, and let it take the place of `path`.

    write: writes the content.
    ready: called with the temporary file's name just before the exchange: sets its permissions, raises to stop it.

    Whatever goes wrong, `path` is as it was and no temporary file stays. OSErrors are the caller's to put into words.
    """
    folder, base = os.path.split(os.fspath(path))
    _remove_leftovers(folder, base)
    handle, temporary = tempfile.mkstemp(prefix=f".{base[:100]}.", suffix=".brewfuncs-tmp", dir=folder)
    try:
        with os.fdopen(handle, "wb") as out:
            write(out)
            out.flush()
            os.fsync(out.fileno())
        ready(temporary)
        _put.append((os.fspath(path), os.stat(temporary).st_ino))
        os.replace(temporary, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise
    if os.name == "posix":
        with contextlib.suppress(OSError):  # so that the new name survives a power cut; some file systems can't
            descriptor = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(descriptor)
            finally:
                os.close(descriptor)


def make_like(path: str | os.PathLike[str], temporary: str) -> None:
    """Give a new file what is said of the one whose place it will take: who may do what with it, and notes on it."""
    shutil.copymode(path, temporary)
    if hasattr(os, "chown"):
        old = os.stat(path)
        with contextlib.suppress(OSError):
            os.chown(temporary, old.st_uid, old.st_gid)
    if hasattr(os, "listxattr"):  # access lists among them
        with contextlib.suppress(OSError):
            for name in os.listxattr(path):
                with contextlib.suppress(OSError):
                    os.setxattr(temporary, name, os.getxattr(path, name))


def write_new(path: Path, content: bytes) -> None:
    """Write `content` to `path`, in place of a file that may be there (the caller has asked).

    Raises WorkbookError where the folder can't be written to or the file is open in a spreadsheet program.
    """
    target = Path(os.path.realpath(path))  # a link stays a link
    refuse_unwritable(target, os.fspath(path))

    def with_permissions(temporary: str) -> None:
        if target.exists():
            make_like(target, temporary)
        else:
            os.chmod(temporary, 0o666 & ~_umask())

    try:
        replace_file(target, lambda out: out.write(content), with_permissions)
    except OSError as error:
        raise WorkbookError(f"{path} can't be written: {(error.strerror or str(error)).lower()}") from None


def _umask() -> int:
    """The permissions new files don't get; there is no way to ask but to set it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _remove_leftovers(folder: str, base: str) -> None:
    """Remove what a run that was killed left behind, once it can't be running any more."""
    with contextlib.suppress(OSError):
        for path in Path(folder).glob(f".{_glob_escape(base[:100])}.*.brewfuncs-tmp"):
            if time.time() - path.stat().st_mtime > _STALE_SECONDS:
                path.unlink()


def _glob_escape(text: str) -> str:
    return re.sub(r"([*?\[])", r"[\1]", text)
