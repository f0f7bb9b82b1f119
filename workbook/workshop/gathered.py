"""Files that visitors filled in, known by what is in them and not by their names: who collects them renames them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

__all__ = ["gather"]

_LARGEST = 100_000
"""A slip or test has a few hundred bytes; a larger file is none. [byte]"""
_KINDS: Mapping[str, tuple[frozenset[str], str]] = MappingProxyType(
    {
        "slip": (frozenset({"before", "after"}), "slip"),
        "test": (frozenset({"seed", "picks"}), "blind-test"),
        "answers": (frozenset({"guesses"}), "answers"),
    }
)
"""What a file of each kind holds, and the word that its name holds as long as nobody renames it."""


def gather(folder: Path, kind: str, *, renamed: bool = True) -> tuple[list[dict[str, Any]], tuple[str, ...]]:
    """Read all files of one kind in a folder and below it.

    Parameters
    ----------
    folder : pathlib.Path
    kind : str
        "slip", "test" or "answers".
    renamed : bool, optional
        Whether people may have named the files anew; else only those are looked at that have their kind's name.

    Returns
    -------
    list of dict
        What they hold.
    tuple of str
        Names of the files that can't be read or are of no kind known, so that none is left out in silence.
    """
    found, strange = [], []
    for path in sorted(folder.rglob("*.json")):
        named = next((one for one, (_, word) in _KINDS.items() if word in path.name), None)
        if path.name.startswith(".") or ".damaged" in path.name or not path.is_file() or named not in (kind, None):
            continue
        if named is None and not renamed:
            continue
        content = _read(path)
        holds = next((one for one, (keys, _) in _KINDS.items() if keys & content.keys()), None)
        if holds == kind:
            found.append(content)
        elif holds is None or named == kind:
            strange.append(path.relative_to(folder).as_posix())
    return found, tuple(strange)


def _read(path: Path) -> dict[str, Any]:
    try:
        content = json.loads(path.read_bytes()) if path.stat().st_size <= _LARGEST else None
    except (OSError, ValueError, RecursionError):
        content = None
    return content if isinstance(content, dict) else {}
