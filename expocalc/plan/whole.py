"""Files written whole or not at all, with a plan's one sentence where that fails."""

from __future__ import annotations

from pathlib import Path

from expocalc.base.wholefile import write_file
from expocalc.plan.error import PlanError

__all__ = ["write_whole"]


def write_whole(path: Path, text: str) -> None:
    """Write a text file whole or not at all; PlanError with one sentence if that fails."""
    try:
        write_file(path, text.encode())
    except (OSError, ValueError) as error:
        msg = f"{path} can't be written: {getattr(error, 'strerror', None) or error}; nothing was changed"
        raise PlanError(msg) from None
