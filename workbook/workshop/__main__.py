"""Papers and copies for a workshop: ``python -m workbook.workshop students FOLDER``, ``... handout FILE.html``."""

from __future__ import annotations

import argparse
import errno
import os
import sys
from pathlib import Path

from expocalc.base.textfile import read_text
from expocalc.base.wholefile import write_file, write_new
from workbook.workshop.handout import MARK, PAPERS, handout
from workbook.workshop.students import build

__all__ = ["main", "write_handout"]

_LARGEST_BYTES = 1_000_000


def main(argv: list[str] | None = None) -> int:
    """Build what was asked for.

    Parameters
    ----------
    argv : list of str, optional
        The command line's words; its own by default.

    Returns
    -------
    int
        Exit code: 0, or 2 if the place can't be written.
    """
    asked = _parser().parse_args(argv)
    try:
        if asked.wanted == "students":
            made = build(asked.folder.expanduser())
            print(
                f"{len(made)} student copies lie in {asked.folder}. Start them with: python -m workbook {asked.folder}"
            )
        else:
            write_handout(asked.file.expanduser(), handout(asked.paper))
            print(f"The handout is in {asked.file}. Open it in a browser and print it without scaling.")
    except FileExistsError as error:
        print(f"workshop: {error.filename} is a file of yours and stays; name another place", file=sys.stderr)
        return 2
    except (OSError, RuntimeError, ValueError) as error:  # RuntimeError: a home that is not known
        print(
            f"workshop: {getattr(error, 'strerror', None) or error}; name a place that you may write in",
            file=sys.stderr,
        )
        return 2
    return 0


def write_handout(path: Path, page: str) -> None:
    """Write the handout; an older one makes way, any other file stays.

    Parameters
    ----------
    path : pathlib.Path
    page : str

    Raises
    ------
    FileExistsError
        If a file stands there that is no handout.
    OSError
        If it can't be written.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        write_new(path, page.encode())
    except FileExistsError:
        if not _is_handout(path):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from None
        write_file(path, page.encode())


def _is_handout(path: Path) -> bool:
    try:
        return MARK in read_text(path, _LARGEST_BYTES)
    except ValueError:
        return False


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m workbook.workshop", description="Papers and copies for a workshop."
    )
    wanted = parser.add_subparsers(dest="wanted", required=True)
    students = wanted.add_parser("students", help="the workbook with the answers taken out, for the visitors' laptops")
    students.add_argument("folder", type=Path, help="where to put it; notebooks that somebody changed in it stay")
    paper = wanted.add_parser("handout", help="one page to print")
    paper.add_argument("file", type=Path, help="HTML file to write")
    paper.add_argument("--paper", choices=PAPERS, default="a4", help="size of the sheet (default: %(default)s)")
    return parser


if __name__ == "__main__":
    sys.exit(main())
