"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from pathlib import Path

from expocalc.plan.error import PlanError

__all__ = ["write_whole"]


def write_whole(path: Path, text: str) -> None:
    """Write a text file whole or not at all; PlanError with one sentence if that fails."""
    path = Path(os.path.realpath(path))  # a link stays a link
    temporary = None
    try:
        if path.exists() and not os.access(path, os.W_OK):
            raise PermissionError(errno.EACCES, "it is read-only")
        with tempfile.NamedTemporaryFile("wb", dir=path.parent, prefix=".plan-", delete=False) as file:
            temporary = file.name
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, path.stat().st_mode if path.exists() else 0o666 & ~_umask())
        os.replace(temporary, path)
        temporary = None
    except (OSError, ValueError) as error:
        msg = f"{path} can't be written: {getattr(error, 'strerror', None) or error}; nothing was changed"
        raise PlanError(msg) from None
    finally:
        if temporary:
            with contextlib.suppress(OSError):
                os.unlink(temporary)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
