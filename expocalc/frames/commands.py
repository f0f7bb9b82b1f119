"""What the words of the command ask for: each gives plain data, and the same in sentences."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from expocalc.base.words import say_number
from expocalc.budget.case import Case
from expocalc.frames.measure.sub import measure_sub
from expocalc.frames.read.fits import read_frame
from expocalc.frames.read.header import FrameError
from expocalc.frames.simulate.files import USUAL_SHAPE, Order, write_frames
from expocalc.frames.simulate.night import Weather
from expocalc.frames.tell.as_json import bench_json, night_json, sky_json
from expocalc.frames.tell.camera import bench
from expocalc.frames.tell.camera_section import camera_toml
from expocalc.frames.tell.known_star import KnownStar
from expocalc.frames.tell.ledger import append, read_ledger
from expocalc.frames.tell.night import read_folder, tell_night
from expocalc.frames.tell.plan_side import as_camera, behind_of
from expocalc.frames.tell.sky import tell_sky
from expocalc.plan import Plan, one_sentence

__all__ = ["DO"]

Done = tuple[dict[str, Any], str]


def _case(path: str | None) -> Case | None:
    return None if path is None else Plan.read(path).case


def _above_header(given: Any) -> dict[str, Any]:
    return {"exposure_s": given.exposure, "trim": given.trim, "overscan": given.overscan}


def _sub(given: Any) -> Done:
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


def _bench(given: Any) -> Done:
    found = bench(given.bias, given.flat, given.dark, _above_header(given))
    return bench_json(found), camera_toml(found) + "".join(f"# ! {warning}.\n" for warning in found.warnings)


def _simulate(given: Any) -> Done:
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
        by_night=True,
    )  # fmt: skip
    with one_sentence():
        written = write_frames(Plan.read(given.plan).case, given.out, order, given.seed)
    return {"files": [str(path) for path in written]}, f"{len(written)} frames written to {given.out}"


def _folder(given: Any) -> Done:
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


DO: Mapping[str, Callable[[Any], Done]] = MappingProxyType(
    {"sub": _sub, "bench": _bench, "folder": _folder, "simulate": _simulate}
)
"""By the word that stands first."""
