"""Speed of the spread and of the leverage: ``python tests/benchmarks/bench_spread.py``.

The draws are compared with the same arithmetic written out in plain numpy, on the same machine in the same run, from
the same normal numbers to the same hours. Both start from known integrals over wavelength, as after the first answer.
"""

import math
import platform
import statistics
import time
from pathlib import Path

import numpy as np

from expocalc.base.curve import Curve, product
from expocalc.base.photometry import standard_band, vega_magnitude
from expocalc.budget.doubt import Doubt
from expocalc.budget.leverage import leverage
from expocalc.budget.rates import rates
from expocalc.budget.spread import SEED, spread
from expocalc.gear.response import response
from expocalc.light.air import transmission
from expocalc.light.airmass import airmass
from expocalc.light.lamps import lamp_spectrum
from expocalc.light.natural import natural_sky, star_field
from expocalc.plan import Plan

PLAN = Path(__file__).resolve().parents[2] / "notebooks/plans/mono-single-lines.toml"
DRAWS = 10_000
MEAN = {("routine", name): "perfect" for name in ("darks", "flats", "background_flatness")} | {
    ("routine", "stacking"): "mean"
}
"""Subs for a goal are then one division."""
WITHOUT = {"narrow_sky": 1, "filter_width": 1, "moonlight": 1, "flatness": 1, "practice": "none"}
"""Doubts that the arithmetic written out here does not hold; the second figure holds all."""


def seconds(work, repeats):
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times), min(times)


def tilted(light, curve, bluer):
    x = np.arange(300, 1105, 5.0)
    return light.through(curve, Curve(x, (x / 550) ** -bluer))


def parabola(low, middle, high, step):
    below, above = math.log(low / middle), math.log(high / middle)
    return (above - below) / (2 * step), (above + below) / (2 * step**2)


def bare_spread(plan, doubt):
    """The draws of the plan above, a mono camera and one line per filter, as a function without arguments."""
    case, found = plan.case, plan.solve()
    sky, scope, camera, goal = case.sky, case.telescope, case.camera, case.goal
    band = standard_band("meter")
    stars, typical = star_field(50.0).through(band), natural_sky().through(band)
    read, error = sky.through(band) + stars, 0.4 * math.log(10) * float(sky.brightness_error.value)
    darkest = 10 ** (-0.4 * (22.3 - vega_magnitude(natural_sky(), "bessell-V")))
    lamps = {lamp: (lamp_spectrum(lamp), share) for lamp, share in sky.lamps.items()}
    tilt = 1.6
    in_band = {
        lamp: (light.through(band), *parabola(*(tilted(light, band, b) for b in (-tilt, 0, tilt)), tilt))
        for lamp, (light, _) in lamps.items()
    }
    shifts = np.linspace(-4, 4, 17)
    altitude = float(case.target.altitude.value)
    extinction, mass = sky.extinction_curve(float(case.site.elevation.value)), float(airmass(altitude))
    log = {
        name: math.log(getattr(doubt, name))
        for name in ("lamp_mix", "natural_sky", "target", "efficiency", "extinction", "dark_current", "read_noise")
    }
    filters = []
    for filter_, one in zip(case.filters, found.filters, strict=True):
        rate = rates(case, filter_)
        curve = response(scope, filter_, camera, "mono")
        (line,) = rate.extended
        light = dict(case.target.named_lights)[line]
        passed = filter_.curve_in(scope)
        moved = [
            product(
                Curve(passed.wavelength_nm + by * float(doubt.filter_centre.value), passed.value),
                scope.throughput_curve,
                camera.quantum_efficiency,
            )
            for by in shifts
        ]

        def moving(spectrum, moved=moved):
            through = np.array([spectrum.through(one) for one in moved])
            return through / through[8]

        usual = transmission(extinction, mass)
        thin = [light.spectrum.through(curve, Curve(usual.wavelength_nm, usual.value**by)) for by in (0.5, 1, 1.5)]
        filters.append(
            dict(
                name=filter_.name,
                line=line,
                signal=float(rate.extended[line][0]),
                thin=parabola(*thin, 0.5),
                natural=natural_sky().through(curve),
                natural_moved=moving(natural_sky()),
                lamps={
                    lamp: (
                        spectrum.through(curve),
                        *parabola(*(tilted(spectrum, curve, b) for b in (-tilt, 0, tilt)), tilt),
                        moving(spectrum),
                    )
                    for lamp, (spectrum, _) in lamps.items()
                },
                light_moved=moving(light.spectrum),
                sub_s=one.sub_s,
                per_pixel=scope.area_cm2 * rate.scale_arcsec**2 * sky.factor_at(altitude),
                dark=rate.dark_e_s,
                pixels=(float(case.target.patch.value) / rate.scale_arcsec) ** 2,
            )
        )
    read_noise = float(camera.setting.read_noise.value)

    def normal(name):
        return np.random.default_rng([SEED, *name.encode()]).standard_normal(DRAWS)

    def run():
        z = {
            name: normal(name)
            for name in (
                "sky_reading",
                "natural_sky",
                "lamp_colour",
                "efficiency",
                "extinction",
                "dark_current",
                "read_noise",
            )
        }
        mix = {lamp: normal(f"lamp_mix {lamp}") for lamp in lamps}
        seen = read * np.exp(-error * z["sky_reading"]) - stars
        natural = np.maximum(np.minimum(np.exp(log["natural_sky"] * z["natural_sky"]), seen / typical), darkest)
        bluer = doubt.lamp_colour * z["lamp_colour"]
        weight = {lamp: share * np.exp(log["lamp_mix"] * mix[lamp]) for lamp, (_, share) in lamps.items()}
        per_luminance = sum(
            weight[lamp] * middle * np.exp(bluer * (slope + bend * bluer))
            for lamp, (middle, slope, bend) in in_band.items()
        )
        left = np.maximum(seen - natural * typical, 0) / per_luminance
        efficiency = np.exp(log["efficiency"] * z["efficiency"])
        thicker = np.exp(log["extinction"] * z["extinction"]) - 1
        dark_times = np.exp(log["dark_current"] * z["dark_current"])
        read_e2 = read_noise**2 * np.exp(2 * log["read_noise"] * z["read_noise"])
        ranges = []
        for f in filters:
            by, bright = normal(f"filter_centre {f['name']}"), normal(f"target {f['line']}")
            passed = natural * f["natural"] * np.interp(by, shifts, f["natural_moved"])
            for lamp, (middle, slope, bend, moved) in f["lamps"].items():
                passed = passed + (
                    left * weight[lamp] * middle * np.exp(bluer * (slope + bend * bluer)) * np.interp(by, shifts, moved)
                )
            sky_e_s = f["per_pixel"] * efficiency * passed
            slope, bend = f["thin"]
            signal = (
                f["signal"]
                * np.exp(thicker * (slope + bend * thicker))
                * np.interp(by, shifts, f["light_moved"])
                * np.exp(log["target"] * bright)
                * efficiency
            )
            variance = (signal + sky_e_s + f["dark"] * dark_times) * f["sub_s"] + read_e2
            subs = goal.snr**2 * variance / (f["pixels"] * (signal * f["sub_s"]) ** 2)
            hours = subs * f["sub_s"] / 3600
            y = np.log(hours)
            y = y - y.mean()
            shares = []
            for x in (*z.values(), *mix.values(), by, bright):
                x2 = x * x
                shares.append(
                    sum((h @ y / DRAWS) ** 2 for h in (x, (x2 - 1) / 2**0.5, (x2 - 3) * x / 6**0.5)) / (y @ y / DRAWS)
                )
            ranges.append((hours, np.quantile(hours, (0.1, 0.5, 0.9), method="inverted_cdf"), shares))
        return ranges

    return run


def draws(plan):
    doubt, mean = Doubt(**WITHOUT), plan.with_values(MEAN)
    found = mean.solve()
    bare = bare_spread(mean, doubt)

    def ours():
        return spread(mean.case, doubt, DRAWS, found=found)

    for row, (hours, _, _) in zip(ours().rows, bare(), strict=True):
        np.testing.assert_allclose(row.kept_h, hours, rtol=1e-6)
    (ours_s, _), (bare_s, _) = seconds(ours, 40), seconds(bare, 40)
    print(
        f"{DRAWS:,} draws of two filters, mean stack: {1e3 * ours_s:.1f} ms, {ours_s / bare_s:.2f} x bare numpy "
        "(bar 1.5, 300 ms)"
    )
    found = plan.solve()
    whole_s, whole_best = seconds(lambda: spread(plan.case, Doubt(), DRAWS, found=found), 20)
    print(
        f"{DRAWS:,} draws of the plan as it is, with masters, dither, clipping, all doubts: {1e3 * whole_s:.1f} ms, "
        f"best {1e3 * whole_best:.1f} ms (bar 300)"
    )
    start = time.perf_counter()
    fresh = Plan.read(PLAN)
    spread(fresh.case, Doubt(), DRAWS)
    print(f"the same from the file, nothing at hand: {1e3 * (time.perf_counter() - start):.1f} ms")


if __name__ == "__main__":
    print(f"Python {platform.python_version()}, numpy {np.__version__}, {platform.machine()}")
    plan = Plan.read(PLAN)
    draws(plan)
    middle, best = seconds(lambda: leverage(plan.case), 30)
    print(f"leverage of two filters: {1e3 * middle:.1f} ms, best {1e3 * best:.1f} ms (bar 50)")
