"""The command: ``python -m expocalc.frames sub|bench|folder|simulate`` measures frames, or makes them."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence

from expocalc.base.command import Parser, run_command

__all__ = ["main"]


def _positive(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = -1.0
    if not 0 < value < 1e9:
        msg = f"must be a number above 0, got {text!r}"
        raise argparse.ArgumentTypeError(msg)
    return value


def _level(text: str) -> float:
    return 0.0 if text.strip() in {"0", "0.0"} else _positive(text)


def _count(text: str) -> int:
    if not (text.isdecimal() and int(text) < 10**9):
        msg = f"must be a whole number, 0 or more, got {text!r}"
        raise argparse.ArgumentTypeError(msg)
    return int(text)


def _parser() -> Parser:
    parser = Parser(prog="expocalc.frames", description=__doc__)
    parts = parser.add_subparsers(dest="what", required=True)
    sub = parts.add_parser("sub", help="the sky from one test sub or two")
    sub.add_argument("frames", nargs="+", metavar="FRAME", help="one FITS file, or two of the same or different length")
    sub.add_argument("--plan", help="the plan to hold it against, a TOML file")
    sub.add_argument("--filter", help="one of the plan's filters")
    below = sub.add_mutually_exclusive_group()
    below.add_argument("--dark", metavar="F", help="a dark of the same length and temperature")
    below.add_argument("--bias", metavar="F", help="a bias")
    below.add_argument("--bias-level", type=_level, metavar="N", help="mean of a bias, in stored ADU")
    sub.add_argument("--electrons-per-adu", type=_positive, metavar="X", help="stands above header and plan")
    sub.add_argument(
        "--star", type=float, nargs=3, metavar=("ROW", "COLUMN", "V"),
        help="a star of known V magnitude: tells haze from added light",
    )  # fmt: skip
    camera = parts.add_parser("bench", help="the camera from biases, pairs of flats, and darks")
    camera.add_argument("--bias", nargs=2, required=True, metavar="F", help="two biases")
    camera.add_argument("--flat", nargs=2, action="append", required=True, metavar="F", help="a pair; say it per level")
    camera.add_argument("--dark", nargs="+", action="extend", default=[], metavar="F", help="darks of any length")
    many = parts.add_parser("folder", help="a night's subs, and how far the goal is")
    many.add_argument("folder", metavar="FOLDER")
    many.add_argument("--plan", required=True, help="the plan that the subs are for, a TOML file")
    many.add_argument("--ledger", metavar="L", help="ECSV file that the subs are added to, with nights before")
    many.add_argument("--keep", nargs="+", default=[], metavar="FILE", help="subs to keep though they stand out")
    many.add_argument("--drop", nargs="+", default=[], metavar="FILE", help="subs to leave out")
    many.add_argument("--electrons-per-adu", type=_positive, metavar="X", help="stands above header and plan")
    many.add_argument("--bias-level", type=_level, metavar="N", help="mean of a bias, in stored ADU")
    made = parts.add_parser("simulate", help="frames of a plan as FITS files")
    made.add_argument("plan", metavar="PLAN", help="a TOML file")
    made.add_argument("out", metavar="OUT", help="folder that they are written to")
    made.add_argument("--seed", type=_count, required=True, metavar="N", help="the same seed makes the same frames")
    made.add_argument("--subs", type=_count, default=0, metavar="N")
    made.add_argument("--biases", type=_count, default=0, metavar="N")
    made.add_argument("--flats", type=_count, default=0, metavar="N", help="pairs, each at a level of its own")
    made.add_argument("--darks", type=_count, default=0, metavar="N", help="at each temperature")
    made.add_argument("--warmer", type=float, nargs="+", default=[0.0], metavar="K", help="of the darks")
    made.add_argument("--stack", type=_count, default=0, metavar="N", help="a stack of N subs")
    made.add_argument("--filter", help="one of the plan's filters")
    made.add_argument("--sub", type=_positive, metavar="S", help="seconds of a sub; the plan's by default")
    made.add_argument("--size", type=_count, nargs=2, metavar=("COLUMNS", "ROWS"), help="1200 800 by default")
    made.add_argument("--cloud", type=float, default=0.0, metavar="SHARE", help="most that cloud takes, 0 to 1")
    made.add_argument("--moon", type=_positive, default=1.0, metavar="TIMES", help="the sky at the end over the begin")
    made.add_argument("--trailed", type=float, default=0.0, metavar="SHARE", help="of subs with slipped guiding")
    made.add_argument("--satellites", type=float, default=0.0, metavar="SHARE", help="of subs with a line across")
    made.add_argument("--json", action="store_true", help="print one JSON object instead of sentences")
    for one in (sub, camera, many):
        one.add_argument(
            "--trim", metavar="SECTION", help='part of the picture that is used, such as "[17:528, 1:520]"'
        )
        one.add_argument("--overscan", metavar="SECTION", help="part that saw no light, likewise")
        one.add_argument("--exposure", type=_positive, metavar="S", help="seconds, above the header's")
        one.add_argument("--json", action="store_true", help="print one JSON object instead of sentences")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; its exit code is :func:`expocalc.base.command.run_command`'s."""
    return run_command("expocalc.frames", lambda: _run(arguments))


def _run(arguments: Sequence[str] | None) -> str:
    given = _parser().parse_args(arguments)
    from expocalc.frames.commands import DO

    data, text = DO[given.what](given)
    return json.dumps(data, allow_nan=False, indent=2) if given.json else text


if __name__ == "__main__":
    sys.exit(main())
