"""Write a new file in one step: it is there whole, or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from brewfuncs.errors import WorkbookError
from brewfuncs.workbook.package import lock_owner

__all__ = ["write_new"]


def write_new(path: Path, content: bytes) -> None:
    """Write `content` to `path`, in place of a file that may be there (the caller has asked).

    Raises WorkbookError where the folder can't be written to or the file is open in a spreadsheet program.
    """
    target = Path(os.path.realpath(path))  # a link stays a link
    owner = lock_owner(target)
    if owner:
        raise WorkbookError(f"{path} is open in {owner}; close it there first")
    temporary = ""
    try:
        handle, temporary = tempfile.mkstemp(
            prefix=f".{target.name[:100]}.", suffix=".brewfuncs-tmp", dir=target.parent
        )
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        os.chmod(temporary, target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask())
        os.replace(temporary, target)
    except OSError as error:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise WorkbookError(f"{path} can't be written: {(error.strerror or str(error)).lower()}") from None


def _umask() -> int:
    """The permissions new files don't get; there is no way to ask but to set it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
