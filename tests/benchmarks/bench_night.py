"""What a night costs, in milliseconds and ratios, printed: ``python tests/benchmarks/bench_night.py``."""

import datetime as dt
import platform
import time
import warnings

import astropy.units as u
import numpy as np
from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_body
from astropy.time import Time
from astropy.utils import iers

from expocalc.budget.clock import kept_share
from expocalc.budget.counts import Count
from expocalc.light.library import TARGETS
from expocalc.night import almanac, night, windows
from expocalc.night.losses import learn_losses
from expocalc.night.nights import nights_from
from expocalc.night.ranking import candidates_of, in_order, rank
from expocalc.night.running import Slots, by_filter, greedy
from expocalc.night.schedule import schedule
from expocalc.night.windows import almanac_of
from expocalc.night.worth import reference_of
from expocalc.plan import Plan

FIRST = dt.date(2026, 1, 1)
THIRD = {"name": "S II 5 nm", "passbands": [{"centre": "672.4 nm", "width": "5 nm", "peak": 0.88}]}


def demo():
    plan = Plan.read("notebooks/plans/mono-single-lines.toml")
    filters = [dict(f) for f in plan.values["filters"]]
    return plan.with_values(
        {
            ("target", "right_ascension"): "20h 45m 38s",
            ("target", "declination"): "+30d 43m",
            ("night", "date"): "2026-10-10",
            ("night", "clear_share"): 0.4,
            ("night", "filter_change_time"): "4 min",
            ("filters",): [*filters, THIRD],
        }
    )


def clocked(work, times=5):
    """Least seconds of a few runs."""
    found = []
    for _ in range(times):
        begin = time.perf_counter()
        work()
        found.append(time.perf_counter() - begin)
    return min(found)


def forget():
    """Empty what the night keeps of the sky."""
    windows._heights.cache_clear()
    almanac._chunk.cache_clear()


def bare_astropy(case, moments_s):
    """Sun, Moon and target by astropy's own transformations, interpolated as it offers."""
    from astropy.coordinates.erfa_astrom import ErfaAstromInterpolator, erfa_astrom

    site = EarthLocation(lat=case.site.latitude, lon=case.site.longitude, height=case.site.elevation)
    with (
        iers.conf.set_temp("auto_download", False),
        iers.conf.set_temp("auto_max_age", None),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("ignore")
        times = Time(moments_s, format="unix")
        frame = AltAz(obstime=times, location=site)
        with erfa_astrom.set(ErfaAstromInterpolator(600 * u.s)):
            get_body("sun", times, site).transform_to(frame)
            get_body("moon", times, site).transform_to(frame)
            SkyCoord(311.4 * u.deg, 30.7 * u.deg).transform_to(frame)


def year():
    case = demo().case
    place = almanac_of(case)
    references = [reference_of(case, f) for f in case.filters]

    def nights(count):
        forget()
        nights_from(case, place, references, FIRST, count)

    whole = clocked(lambda: nights(365))
    print(f"a year of nights, 3 filters, 5-minute steps, cold: {1000 * whole:.0f} ms")
    print(f"  a year over a third of it: {whole / clocked(lambda: nights(122)):.2f} (linear: 3)")
    moments = nights_from(case, place, references, FIRST, 36)._moments
    part = np.concatenate(moments)
    slow = clocked(lambda: bare_astropy(case, part), 1) * 365 / 36
    print(f"  bare astropy of the same times: {slow:.1f} s, {slow / whole:.0f} times as long")


def tonight():
    plan = demo()

    def cold():
        forget()
        night.tonight_of(plan.case)

    print(f"tonight with its schedule, cold: {1000 * clocked(cold):.0f} ms")

    def moved():
        moved.snr += 0.01
        night.tonight_of(plan.with_values({("goal", "snr"): moved.snr}).case)

    moved.snr = 10.0
    print(f"  when only the goal moves: {1000 * clocked(moved):.0f} ms")

    def only_night():
        only_night.snr += 0.01
        case = plan.with_values({("goal", "snr"): only_night.snr}).case
        nights_from(case, almanac_of(case), [reference_of(case, f) for f in case.filters], case.night.date, 1).hours(0)

    only_night.snr = 20.0
    print(f"  that night alone, its hours in 3 filters: {1000 * clocked(only_night):.1f} ms")


def schedules():
    s, n = np.arange(20)[None, :, None], np.arange(60)[:, None, None]
    clock = np.full((60, 20), 0.5)
    moon = np.abs(np.sin(n / 60 * 4 * np.pi)) * np.array([0.1, 0.3, 0.6, 0.8])
    gain = np.clip(1 - 0.03 * np.abs(s - 8) * np.array([0.5, 1, 1.5, 2]) - moon, 0.02, 1) * 0.5
    slots = Slots(gain, clock, 4 / 60)
    for need in (np.array([20.0, 40, 60, 30]), np.full(4, 60.0), np.full(4, 100.0)):
        took = clocked(lambda need=need: schedule(slots, need), 3)
        ours, others = schedule(slots, need).nights, (greedy(slots, need).nights, by_filter(slots, need).nights)
        print(
            f"60 nights, 4 filters: {1000 * took:.0f} ms; nights {ours:.1f}, simpler {others[0]:.1f}, {others[1]:.1f}"
        )
    rng, worse, better = np.random.default_rng(12), 0, 0
    for _ in range(1000):
        shape = rng.integers(2, 12), rng.integers(2, 10), rng.integers(1, 5)
        clock = rng.uniform(0.2, 1, shape[:2])
        slots = Slots(rng.uniform(0, 1, shape) * clock[..., None], clock, float(rng.choice([0, 0.1])))
        need = rng.uniform(0.1, 0.5, shape[2]) * clock.sum() / shape[2]
        ours, simple = schedule(slots, need).nights, greedy(slots, need).nights
        worse, better = worse + (ours > simple + 1e-9), better + (ours < simple - 1e-9)
    print(f"1000 random cases against greedy: worse {worse}, better {better}")


def ranking():
    case = demo().case
    regions = list(candidates_of(TARGETS.values()))
    sixty = (regions * 2)[:60]

    def cold():
        forget()
        in_order(rank(case, sixty, FIRST))

    print(f"60 regions over a year: {clocked(cold, 3):.2f} s")


def coverage():
    """How often intervals of losses hold the truth, by how many subs are counted; 10,000 simulated sessions each."""
    rng, design = np.random.default_rng(6), ((300, 1, 0.39), (300, 6, 0.39), (900, 3, 0.22))
    for size in (60, 120, 400, 2300):
        held = np.zeros(2)
        for _ in range(10_000):
            q, per_hour = rng.uniform(0.01, 0.3), rng.uniform(0.05, 1.0)
            counts = []
            for sub_s, every, part in design:
                taken = round(part * size)
                spoiled = int(rng.binomial(taken, 1 - float(kept_share(sub_s, per_hour, q / every))))
                counts.append(Count(sub_length=f"{sub_s} s", dither_every=every, taken=taken, spoiled=spoiled))
            found = learn_losses(counts)
            held += [
                found.per_dither.low <= q <= found.per_dither.high,
                found.per_hour.low <= per_hour <= found.per_hour.high,
            ]
        print(f"{size} subs counted: {held[0] / 100:.1f} % right per dither, {held[1] / 100:.1f} % per hour")


if __name__ == "__main__":
    print(f"Python {platform.python_version()}, {platform.machine()}, {platform.system()}")
    for part in (year, tonight, schedules, ranking, coverage):
        part()
