"""The command: ``python -m expocalc.frames sub|bench|folder|simulate`` measures frames, or makes them."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from expocalc.base.streams import INTERRUPTED, NOT_READ, complain, print_answer
from expocalc.base.words import say_number
from expocalc.budget.case import Case
from expocalc.frames.measure.sub import measure_sub
from expocalc.frames.read.fits import read_frame
from expocalc.frames.read.header import FrameError
from expocalc.frames.simulate.files import USUAL_SHAPE, Order, write_frames
from expocalc.frames.simulate.night import Weather
from expocalc.frames.tell.camera import as_json as bench_json
from expocalc.frames.tell.camera import bench, camera_toml
from expocalc.frames.tell.known_star import KnownStar
from expocalc.frames.tell.ledger import append, read_ledger
from expocalc.frames.tell.night import as_json as night_json
from expocalc.frames.tell.night import read_folder, tell_night
from expocalc.frames.tell.plan_side import as_camera, behind_of
from expocalc.frames.tell.sky import as_json as sky_json
from expocalc.frames.tell.sky import tell_sky
from expocalc.plan import Plan, PlanError, one_sentence

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


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="expocalc.frames", description=__doc__)
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


def _case(path: str | None) -> Case | None:
    return None if path is None else Plan.read(path).case


def _above_header(given: Any) -> dict[str, Any]:
    return {"exposure_s": given.exposure, "trim": given.trim, "overscan": given.overscan}


def _sub(given: Any) -> tuple[dict[str, Any], str]:
    case = _case(given.plan)
    known = {**_above_header(given), "electrons_per_adu": given.electrons_per_adu}
    frames = [as_camera(read_frame(path, known), case) for path in given.frames]
    behind = behind_of(
        case,
        dark=read_frame(given.dark) if given.dark else None,
        bias=read_frame(given.bias) if given.bias else None,
        bias_adu=given.bias_level,
    )
    star = KnownStar(row=given.star[0], column=given.star[1], mag_v=given.star[2]) if given.star else None
    told = tell_sky(measure_sub(frames, behind), case, given.filter, star)
    one = told.found.colours[told.found.main]
    lines = [
        f"{told.found.frame.name}: {told.found.exposure_s:g} s, {told.found.gain.electrons_per_adu:.4g} electrons per "
        f"ADU (from {told.found.gain.origin}), {told.found.method} taken off",
        f"noise {one.noise_e:.3g} electron, {one.noise_predicted_e:.3g} by its level; {told.found.stars.count} stars, "
        f"{say_number(told.found.stars.usual_fwhm_px)} pixels wide",
        told.verdict,
        *(f"! {warning}." for warning in told.warnings),
    ]
    return sky_json(told), "\n".join(lines)


def _bench(given: Any) -> tuple[dict[str, Any], str]:
    found = bench(given.bias, given.flat, given.dark, _above_header(given))
    return bench_json(found), camera_toml(found) + "".join(f"# ! {warning}.\n" for warning in found.warnings)


def _simulate(given: Any) -> tuple[dict[str, Any], str]:
    for name in ("cloud", "trailed", "satellites"):
        if not 0 <= getattr(given, name) <= 1:
            msg = f"--{name} must be a share from 0 to 1, got {getattr(given, name):g}"
            raise FrameError(msg)
    order = Order(
        subs=given.subs, biases=given.biases, flats=given.flats, darks=given.darks, stack_of=given.stack,
        filter_name=given.filter, sub_s=given.sub, warmer_k=tuple(given.warmer),
        shape=tuple(reversed(given.size)) if given.size else USUAL_SHAPE,
        weather=Weather(
            cloud=given.cloud, moon=given.moon, trailed=given.trailed, satellites=given.satellites
        ),
    )  # fmt: skip
    with one_sentence():
        written = write_frames(Plan.read(given.plan).case, given.out, order, given.seed)
    return {"files": [str(path) for path in written]}, f"{len(written)} frames written to {given.out}"


def _folder(given: Any) -> tuple[dict[str, Any], str]:
    case = Plan.read(given.plan).case
    ledger = read_ledger(given.ledger) if given.ledger else None
    behind = behind_of(case, bias_adu=given.bias_level)
    known = {**_above_header(given), "electrons_per_adu": given.electrons_per_adu}
    lines, problems = read_folder(given.folder, case, known, behind)
    names = {line.path.name for line in lines}
    for file in (*given.keep, *given.drop):
        if Path(file).name not in names:
            msg = f"{file} is none of the {len(names)} subs of {given.folder}"
            raise FrameError(msg)
    choices = {Path(f).name: keep for files, keep in ((given.keep, True), (given.drop, False)) for f in files}
    with one_sentence():
        found = tell_night(lines, case, problems, ledger, choices)
    if given.ledger:
        append(given.ledger, found.entries)
    odd = [f"{'kept' if one.kept else 'left out'}: {one.file}: {one.reason}" for one in found.entries if one.reason]
    own = [] if found.own is None else [f"{found.own.words}.", f'[doubt] practice = "{found.own.plan_value}"']
    return night_json(found), "\n".join([found.verdict, *odd, *own, *(f"! {warning}." for warning in found.warnings)])


_DO = {"sub": _sub, "bench": _bench, "folder": _folder, "simulate": _simulate}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Returns
    -------
    int
        Exit code: 0 for an answer, 1 where it can't be printed, 2 for a frame or plan that can't be read, 130 after an
        interrupt, as shells count it.
    """
    try:
        given = _parser().parse_args(arguments)
        data, text = _DO[given.what](given)
    except (FrameError, PlanError) as error:
        complain(str(error), "expocalc.frames")
        return NOT_READ
    except KeyboardInterrupt:
        return INTERRUPTED
    return print_answer(json.dumps(data, allow_nan=False, indent=2) if given.json else text, "expocalc.frames")


if __name__ == "__main__":
    sys.exit(main())
