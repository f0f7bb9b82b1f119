"""What a visitor typed, kept in one small file beside the notebook: no names, no times.

The file is read before each change and written whole, by one at a time, so that open lessons don't wipe each other out.
A damaged file is laid aside under another name, never overwritten.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from expocalc.base.lock import locked
from workbook.copies import write_whole

__all__ = ["FILE", "Kept"]

FILE = "my-answers.json"
"""Its name, plain to see in the folder."""
LONGEST = 400
"""A guess is a line, not an essay; what is longer is cut."""


class Kept:
    """The file in one folder.

    Parameters
    ----------
    folder : str or pathlib.Path
        The notebook's.
    name : str, optional
        Of the file.
    """

    def __init__(self, folder: str | Path, name: str = FILE) -> None:
        self.path = Path(folder) / name

    def read(self, group: str) -> dict[str, Any]:
        """What is kept in a group ("guesses", "slips"), by key; nothing where the file is missing or damaged."""
        try:
            found = json.loads(self.path.read_bytes())
        except (OSError, ValueError, RecursionError):
            return {}
        kept = found.get(group, {}) if isinstance(found, dict) else {}
        return kept if isinstance(kept, dict) else {}

    def write(self, group: str, key: str, value: Any) -> str:
        """Keep a value; the rest of the file stays as it is.

        Parameters
        ----------
        group, key : str
        value
            What JSON can hold.

        Returns
        -------
        str
            One sentence where the file could not be written, else nothing.
        """
        try:
            with locked(self.path.parent):
                everything = self._sound()
                kept = everything.setdefault(group, {})
                if not isinstance(kept, dict):
                    everything[group] = kept = {}
                kept[key] = _sendable(value)
                write_whole(self.path, json.dumps(everything, indent=1, ensure_ascii=False).encode())
        except OSError as error:
            reason = (error.strerror or "no reason given").lower()
            return f"I can't write into this folder ({reason}), so jot your answer on paper; the lesson goes on."
        return ""

    def _sound(self) -> dict[str, Any]:
        """The whole file; a damaged one is moved aside first."""
        try:
            found = json.loads(self.path.read_bytes())
        except FileNotFoundError:
            return {}
        except (ValueError, RecursionError):
            found = None
        if isinstance(found, dict):
            return found
        number = 1
        while (aside := self.path.with_name(f"{self.path.stem}.damaged-{number}.json")).exists():
            number += 1
        os.replace(self.path, aside)
        return {}


def _sendable(value: Any) -> Any:
    """The value with its texts cut, and half a sign, which no file can hold, as a question mark."""
    if isinstance(value, str):
        return value[:LONGEST].encode("utf-8", "replace").decode()
    return value
