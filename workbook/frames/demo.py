"""Simulated frames of the plan at hand, made when they are first looked at: nothing like them is shipped."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from expocalc.frames.read.fits import SUFFIXES
from expocalc.frames.simulate.files import Order, write_frames
from expocalc.frames.simulate.night import Weather
from expocalc.plan import Plan

__all__ = ["CAMERA", "NIGHT", "TEST", "demo_folder", "make_demo"]

TEST, CAMERA, NIGHT = "test sub", "camera", "night"
SEED = 3
_SHAPE = (640, 960)
_ORDERS: Mapping[str, Order] = MappingProxyType(
    {
        TEST: Order(subs=1, biases=1, shape=_SHAPE),
        CAMERA: Order(biases=2, flats=7, darks=1, warmer_k=(0.0, 6.0, 12.0, 18.0), shape=_SHAPE),
        NIGHT: Order(subs=24, shape=_SHAPE, by_night=True, weather=Weather(cloud=0.6, moon=1.4, trailed=0.12)),
    }
)


def demo_folder(root: Path, plan_name: str, kind: str) -> Path:
    """Where the demo frames of a plan lie: "frames/mono-single-lines demo/night".

    Examples
    --------
    >>> demo_folder(Path("here"), "plans/my shell.toml", NIGHT).as_posix()
    'here/frames/my shell demo/night'
    """
    stem = re.sub(r"[^\w .-]", "_", Path(plan_name).stem) or "plan"
    return root / "frames" / f"{stem} demo" / kind


def make_demo(plan: Plan, folder: Path, kind: str, report: Callable[[float], None]) -> Path:
    """Make the demo frames of one kind where they are not there yet; gives the folder.

    Parameters
    ----------
    plan : Plan
    folder : pathlib.Path
        Of :func:`demo_folder`.
    kind : str
        TEST, CAMERA or NIGHT.
    report : callable
        Called with the share that is done.
    """
    if folder.is_dir() and any(path.name.endswith(SUFFIXES) for path in folder.iterdir()):
        return folder
    order = _ORDERS[kind]
    count = order.subs + order.biases + 2 * order.flats + order.darks * len(order.warmer_k)
    done = [0]

    def tell(_: str) -> None:
        report(done[0] / count)
        done[0] += 1

    write_frames(plan.case, folder, order, SEED, tell)
    return folder
