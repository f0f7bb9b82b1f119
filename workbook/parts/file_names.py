"""Names of files that people type: what they may be, and that they lead nowhere else."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from pathlib import Path

from expocalc.base.wholefile import write_new
from expocalc.plan import PlanError

__all__ = ["checked_stem", "write_free"]

_REFUSED = '<>:"|?*\\'
"""Signs that a name has a meaning with on one system or another."""
_DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{number}" for port in ("com", "lpt") for number in range(1, 10))}
"""Names that are no files on Windows, whatever follows their first dot."""
_MOST_NUMBERED = 1000


def checked_stem(folder: Path, name: str, suffix: str, what: str = "File name") -> str:
    """A typed name without its suffix.

    Parameters
    ----------
    folder : pathlib.Path
        Where it must lie, in a folder of it perhaps.
    name : str
        As a person typed it, with or without the suffix.
    suffix : str
        With its dot.
    what : str, optional
        How the sentence calls it.

    Raises
    ------
    PlanError
        If the name leads out of the folder or can't be a file's.

    Examples
    --------
    >>> checked_stem(Path("/mine"), " plans/tonight.toml ", ".toml")
    'plans/tonight'
    """
    stem = name.strip().removesuffix(suffix)
    wanted = f'write it like "tonight", got {name[:60]!r}'
    last = stem.split("/")[-1]
    odd = not stem or not stem.isprintable() or set(stem) & set(_REFUSED) or Path(stem).name != last
    if odd or last.endswith((".", " ")) or last.split(".")[0].strip().lower() in _DEVICES:
        msg = f"{what} must be letters, digits, spaces, dots or dashes; {wanted}"
        raise PlanError(msg)
    try:
        inside = (folder / stem).resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):  # links in a circle
        inside = False
    if not inside or any(part.startswith(".") for part in Path(stem).parts):
        msg = f"{what} must lie in the notebook's folder and not start with a dot; {wanted}"
        raise PlanError(msg)
    return stem


def write_free(folder: Path, name: str, suffix: str, text: str) -> Path:
    """Write a new file in `folder`; where the name is taken, a number stands behind it: tonight-2.csv.

    Parameters
    ----------
    folder : pathlib.Path
    name : str
        As a person typed it.
    suffix : str
    text : str

    Returns
    -------
    pathlib.Path
        Of the file; none that stood there is replaced, and where it can't be written nothing is left.

    Raises
    ------
    PlanError
        If the name is refused or the file can't be written.
    """
    stem = checked_stem(folder, name, suffix)
    for numbered in _numbered(stem):
        path = folder / f"{numbered}{suffix}"
        try:
            write_new(path, text.encode())
        except FileExistsError:
            continue
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            if getattr(error, "errno", None) == errno.ENAMETOOLONG:
                reason = "its name is too long"
            msg = f"{path.relative_to(folder)} can't be written: {reason}; nothing was changed"
            raise PlanError(msg) from None
        return path
    msg = f"{stem}{suffix} and {_MOST_NUMBERED - 2} names like it are taken; choose another name"
    raise PlanError(msg)


def _numbered(stem: str) -> Iterator[str]:
    yield stem
    for number in range(2, _MOST_NUMBERED):
        yield f"{stem}-{number}"
