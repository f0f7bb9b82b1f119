"""Papers and copies for a workshop: ``python -m workbook.workshop students FOLDER``, ``... handout FILE.html``."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from workbook.copies import write_whole
from workbook.workshop.handout import PAPERS, handout
from workbook.workshop.students import build

__all__ = ["main"]


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
            write_whole(asked.file.expanduser(), handout(asked.paper).encode())
            print(f"The handout is in {asked.file}. Open it in a browser and print it without scaling.")
    except (OSError, ValueError) as error:
        print(
            f"workshop: {getattr(error, 'strerror', None) or error}; name a place that you may write in",
            file=sys.stderr,
        )
        return 2
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m workbook.workshop", description="Papers and copies for a workshop."
    )
    wanted = parser.add_subparsers(dest="wanted", required=True)
    students = wanted.add_parser("students", help="the workbook with the answers taken out, for the visitors' laptops")
    students.add_argument("folder", type=Path, help="where to put it; its workshop notebooks are written anew")
    paper = wanted.add_parser("handout", help="one page to print")
    paper.add_argument("file", type=Path, help="HTML file to write")
    paper.add_argument("--paper", choices=PAPERS, default="a4", help="size of the sheet (default: %(default)s)")
    return parser


if __name__ == "__main__":
    sys.exit(main())
