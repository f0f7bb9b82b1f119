"""The reader's own copies of the notebooks and plans, and how an upgrade treats them.

Autosave writes into what is open, so people work on copies. A small record in their folder says which
versions were laid there; a file that still equals one of them was changed by nobody and may be renewed. A
changed one is kept, and the new version is laid beside it, once. Notebooks compare by their cells, because
running and saving alone rewrites the rest of the file.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import os
import stat
from pathlib import Path

from expocalc.base.textfile import read_text
from expocalc.base.wholefile import write_file

__all__ = ["fingerprint", "laid_names", "lay", "read_record", "shipped", "shipped_files"]

RECORD = ".expocalc-workbook.json"
_LARGEST_RECORD_BYTES = 5_000_000
_LARGEST_BYTES = 100_000_000
_PACKAGE = Path(__file__).resolve().parent


def shipped() -> Path:
    """Folder of the notebooks that came with this package: in it (wheel), else beside it (checkout).

    Raises
    ------
    FileNotFoundError
        If the installation holds no notebooks.
    """
    for folder in (_PACKAGE / "notebooks", _PACKAGE.parent / "notebooks"):
        if (folder / "start.ipynb").is_file():
            return folder
    msg = f"this installation of the workbook holds no notebooks (looked beside {_PACKAGE}); install it again"
    raise FileNotFoundError(msg)


def shipped_files(source: Path) -> list[Path]:
    """List what is laid for the reader, relative to `source`: the notebooks, the workshop's too, and the plans."""
    found = [*source.glob("*.ipynb"), *source.glob("workshop/*.ipynb"), *(source / "plans").glob("[!.]*")]
    return sorted(path.relative_to(source) for path in found if path.is_file())


def fingerprint(name: str, content: bytes) -> str:
    """Hash of what a person can change: of a notebook the cells' kind, text and tags, else every byte.

    Parameters
    ----------
    name : str
        The file's name; it tells a notebook.
    content : bytes
        What the file holds.

    Returns
    -------
    str

    Examples
    --------
    Running a cell and saving changes nothing that counts:

    >>> fresh = b'{"cells": [{"cell_type": "code", "source": ["1 + 1"], "outputs": []}]}'
    >>> saved = b'{"cells": [{"cell_type": "code", "source": "1 + 1", "outputs": [{}]}], "nbformat": 4}'
    >>> fingerprint("a.ipynb", fresh) == fingerprint("a.ipynb", saved)
    True
    """
    if name.endswith(".ipynb"):
        try:
            cells = [
                (cell["cell_type"], "".join(cell["source"]), cell.get("metadata", {}).get("tags", []))
                for cell in json.loads(content)["cells"]
            ]
        except (ValueError, KeyError, TypeError, AttributeError):
            pass  # not a notebook any more: then every byte counts
        else:
            content = json.dumps(cells).encode()
    return hashlib.sha256(content).hexdigest()


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all, and make its folder."""
    path.parent.mkdir(parents=True, exist_ok=True)
    write_file(path, content)


def lay(source: Path, folder: Path) -> list[str]:
    """Lay copies of the shipped notebooks and plans in `folder`, sparing what its owner changed.

    Parameters
    ----------
    source : Path
        Where the shipped files lie.
    folder : Path
        The reader's folder; made if it isn't there.

    Returns
    -------
    list of str
        One sentence for each changed file beside which a new version was laid.

    Raises
    ------
    OSError
        If something can't be read or written.
    """
    before = read_record(folder)
    laid = {name: list(versions) for name, versions in before.items()}
    news = []
    for relative in shipped_files(source):
        content = (source / relative).read_bytes()
        ours = fingerprint(relative.name, content)
        known = laid.setdefault(relative.as_posix(), [])
        if _is_changed(folder / relative, {ours, *known}):
            if ours in known:
                continue  # no new version since the last start
            beside = _beside(folder, relative, laid, ours)
            news.append(f"You changed {relative}, so it stays; the new version is {beside} beside it.")
            _put(folder / beside, content, ours)
            _remember(laid.setdefault(beside.as_posix(), []), ours)
        else:
            _put(folder / relative, content, ours)
        _remember(known, ours)
    if laid != before:
        write_whole(folder / RECORD, json.dumps(laid, indent=1).encode())
    return news


def laid_names(folder: Path) -> list[str]:
    """Names of the files that were ever laid in a reader's folder."""
    return list(read_record(folder))


def _is_changed(path: Path, versions: set[str]) -> bool:
    """Whether something else stands there; what is no file, or a huge one, nobody laid."""
    try:
        found = os.stat(path)
    except OSError:  # nothing, or a link that leads nowhere
        return os.path.lexists(path)
    if not stat.S_ISREG(found.st_mode) or found.st_size > _LARGEST_BYTES:
        return True
    return fingerprint(path.name, path.read_bytes()) not in versions


def _put(path: Path, content: bytes, ours: str) -> None:
    """Write, unless the file already says the same: a notebook's saved outputs then stay."""
    if _is_changed(path, {ours}) or not os.path.lexists(path):
        write_whole(path, content)


def _remember(known: list[str], version: str) -> None:
    if version not in known:
        known.append(version)


def _beside(folder: Path, relative: Path, laid: dict[str, list[str]], ours: str) -> Path:
    """First name beside `relative` that is free, or whose file nobody changed."""
    for number in itertools.count(1):
        mark = "new" if number == 1 else f"new-{number}"
        name = relative.with_name(f"{relative.stem}.{mark}{relative.suffix}")
        if not _is_changed(folder / name, {ours, *laid.get(name.as_posix(), [])}):
            return name
    raise AssertionError  # the count never ends


def read_record(folder: Path, name: str = RECORD) -> dict[str, list[str]]:
    """Versions laid so far, by file; without a readable record every file counts as changed, and is kept."""
    try:
        record = json.loads(read_text(folder / name, _LARGEST_RECORD_BYTES))
        return {str(name): [str(version) for version in versions] for name, versions in record.items()}
    except (ValueError, AttributeError, TypeError, RecursionError):
        return {}
