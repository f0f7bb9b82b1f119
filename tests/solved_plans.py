"""300 invented plans of every kind and their solved numbers, kept so that no number changes unseen.

A plan is made from its number alone, so that the file beside holds numbers only. Half of the plans state the length of
their subs, half leave it to the advice; the two halves lie in two tables, so that one can be made anew alone:

    python tests/solved_plans.py stated
    python tests/solved_plans.py automatic
"""

import math
import random
import sys
from pathlib import Path

import numpy as np
import tomlkit

from expocalc.budget.spread import spread
from expocalc.plan import Plan, PlanError

HERE = Path(__file__).resolve().parent
HALVES = ("stated", "automatic")
PLANS = 150
"""Plans of each half."""
SPREAD_EVERY, DRAWS = 3, 200
"""Every third stated plan has its ranges too, of so many draws."""
NUMBERS = (
    "target_e_s", "sky_e_s", "dark_e_s", "sky_mag_ab", "scale_arcsec_px", "sub_longest_s", "sub_s", "shot", "kept",
    "exposed_h", "kept_h", "clock_h", "snr_one_sub", "snr_patch", "snr_ceiling", "median_adu", "median_adu_above_bias",
    "storage_gb",
)  # fmt: skip
ADVICE = ("sub_shortest_s", "sub_best_s", "sub_low_s", "sub_high_s")
"""Numbers of a row that advise a length: only of plans that leave it to the advice."""
LAMPS = (
    "led-2700K",
    "led-4000K",
    "led-6600K",
    "sodium-high-pressure",
    "sodium-low-pressure",
    "mercury",
    "metal-halide",
)
BANDS = ("bessell-B", "bessell-V", "bessell-R", "sdss-g", "sdss-r", "sdss-i")
LINES = {"H-alpha": 656.28, "O III": 500.68, "S II": 672.0, "H-beta": 486.13, "N II": 658.35}


def _sky(r, filters, mosaic):
    kind = r.choice(("zenith_brightness", "zenith_brightness", "bortle", "luminance", "naked_eye_limit"))
    sky = {
        "zenith_brightness": {"zenith_brightness": f"{r.uniform(17, 21.9):.3f} mag/arcsec2"},
        "bortle": {"bortle": r.randint(1, 9)},
        "luminance": {"luminance": f"{r.uniform(0.3, 8):.3f} mcd/m2"},
        "naked_eye_limit": {"naked_eye_limit": round(r.uniform(3.5, 6.5), 2)},
    }[kind]
    if kind == "zenith_brightness":
        sky["reading_band"] = r.choice(("bessell-V", "cie-V", "meter"))
    if r.random() < 0.7:
        one, other = r.sample(LAMPS, 2)
        share = round(r.random(), 2)
        sky["lamps"] = {one: share, other: round(1 - share, 2)}
    if r.random() < 0.5:
        sky["gradient"] = f"{r.uniform(0, 1):.2f} mag"
    sky["extinction"] = r.choice(("town", "country", round(r.uniform(0.1, 0.6), 3), [[400.0, 0.5], [700.0, 0.12]]))
    if r.random() < 0.2:
        name = r.choice(filters)["name"]
        rate = (
            {c: f"{r.uniform(0.05, 2):.4f} electron/s" for c in "RGB"}
            if mosaic
            else f"{r.uniform(0.05, 2):.4f} electron/s"
        )
        sky["measured"] = {name: r.choice((f"{r.uniform(18, 22):.3f} mag/arcsec2", rate))}
    return sky


def _filter(r, number):
    kind = r.choice(("narrow", "narrow", "gaussian", "dual", "wide", "standard", "standard"))
    if kind == "standard":
        return {"name": f"filter {number}", "passbands": [{"standard": r.choice(BANDS)}]}

    def narrow(line):
        band = {"centre": f"{LINES[line] + r.uniform(-0.5, 0.5):.2f} nm", "width": f"{r.uniform(2.5, 12):.2f} nm"}
        if r.random() < 0.3:
            band["designed_for"] = f"f/{r.choice((2, 4, 6))}"
        return {**band, "peak": round(r.uniform(0.7, 0.97), 3), "index": round(r.uniform(1.6, 2.4), 2)}

    bands = {
        "narrow": lambda: [narrow(r.choice(list(LINES)))],
        "gaussian": lambda: [{**narrow(r.choice(list(LINES))), "shape": "gaussian"}],
        "dual": lambda: [narrow("O III"), narrow("H-alpha")],
        "wide": lambda: [{"centre": f"{r.uniform(480, 620):.1f} nm", "width": f"{r.uniform(60, 250):.1f} nm"}],
    }[kind]()
    made = {"name": f"filter {number}", "passbands": bands}
    if r.random() < 0.15:
        made["blocking"] = r.choice((2.0, 3.0, 4.0))
    return made


def _light(r):
    kind = r.choice(("line", "line", "line", "continuum", "star"))
    if kind == "line":
        line = r.choice(list(LINES))
        light = {"line": line, "brightness": f"{10 ** r.uniform(0, 2.3):.3f} R"}
        if line == "H-alpha" and r.random() < 0.5:
            light["companions"] = {"N II": round(r.uniform(0.1, 0.6), 2)}
        return light
    if kind == "continuum":
        shape = r.choice(({}, {"shape": "sun"}, {"system": "Vega", "band": "bessell-R"}))
        return {"continuum": f"{r.uniform(21, 25.5):.2f} mag/arcsec2", **shape}
    return {"star": f"{r.uniform(11, 17):.2f} mag"}


def _routine(r):
    routine = {"longest_sub": f"{r.uniform(60, 900):.0f} s"} if r.random() < 0.5 else {}
    for chance, values in (
        (0.5, {"lost_per_hour": round(r.uniform(0.05, 1), 3)}),
        (0.5, {"dither_every": r.randint(1, 6), "dither_time": f"{r.uniform(5, 30):.1f} s"}),
        (0.3, {"dither_size": f"{r.uniform(3, 40):.1f} pixel"}),
        (0.3, {"lost_per_dither": round(r.uniform(0, 0.3), 3)}),
        (0.5, {"dead_time": f"{r.uniform(0.5, 6):.1f} s"}),
        (0.5, {"darks": r.randint(10, 60), "flats": r.randint(10, 60)}),
        (0.3, {"flat_level": round(r.uniform(0.2, 0.7), 2)}),
        (0.3, {"background_patch": f"{r.uniform(40, 300):.0f} arcsec"}),
        (0.3, {"background_flatness": round(r.uniform(1e-4, 2e-3), 5)}),
        (0.5, {"guiding": f"{r.uniform(0.3, 2):.2f} arcsec"}),
    ):
        if r.random() < chance:
            routine.update(values)
    routine["stacking"] = r.choice(("mean", "median", "clipped mean"))
    if routine["stacking"] == "clipped mean" and r.random() < 0.5:
        routine["clip"] = round(r.uniform(2, 4), 2)
    return routine


def _camera(r, mosaic):
    gain = {
        "read_noise": f"{r.uniform(0.8, 9):.2f} electron",
        "electrons_per_adu": round(r.uniform(0.06, 1.2), 3),
        "full_well": f"{r.uniform(9e3, 9e4):.0f} electron",
        "read_noise_kind": r.choice(("bias", "emva")),
    }
    if r.random() < 0.6:
        gain["bias_level"] = r.randint(50, 900)
    camera = {
        "pixel": f"{r.uniform(2.4, 9):.2f} um",
        "columns": 4144,
        "rows": 2822,
        "quantum_efficiency": r.choice(("back-lit mono", round(r.uniform(0.4, 0.95), 3))),
        "temperature": f"{r.uniform(-25, 25):.1f} deg_C",
        "dark_current": {
            "rate": f"{10 ** r.uniform(-4, -1.5):.6f} electron/s",
            "at": "-10 deg_C",
            "doubles_every": f"{r.uniform(5, 7):.2f} K",
        },
        "gains": {"only": gain},
    }
    if mosaic:
        camera["mosaic"] = "RGGB"
    if r.random() < 0.3:
        camera["pattern"] = {"fixed": f"{r.uniform(0, 0.5):.3f} electron", "flat": round(r.uniform(0, 2e-3), 5)}
    if r.random() < 0.2:
        camera["glow"] = f"{r.uniform(0, 0.01):.5f} electron/s"
    return camera


def plan_of(half, number):
    """The plan of a number, from the number alone."""
    r = random.Random(f"{half} {number}")
    mosaic = r.random() < 0.4
    filters = [_filter(r, at) for at in range(1, r.randint(1, 2) + 1)]
    aperture = r.uniform(50, 250)
    values = {
        "title": f"{half} {number}",
        "site": {"elevation": f"{r.uniform(0, 2500):.0f} m", "seeing": f"{r.uniform(1.5, 4):.2f} arcsec"},
        "sky": _sky(r, filters, mosaic),
        "telescope": {
            "aperture": f"{aperture:.1f} mm",
            "focal_length": f"{aperture * r.uniform(2.2, 9):.1f} mm",
            "obstruction": f"{aperture * r.choice((0, 0, 0.3, 0.45)):.1f} mm",
            "throughput": r.choice((round(r.uniform(0.7, 0.95), 3), [[300.0, 0.5], [500.0, 0.9], [1100.0, 0.8]])),
            "blur": f"{r.uniform(0, 3):.2f} arcsec",
        },
        "camera": _camera(r, mosaic),
        "filters": filters,
        "target": {
            "altitude": f"{r.uniform(15, 90):.1f} deg",
            "patch": f"{r.uniform(3, 60):.1f} arcsec",
            "light": [_light(r) for _ in range(r.randint(1, 3))],
        },
        "routine": _routine(r),
        "goal": {"snr": round(r.uniform(3, 30), 1), "noise_growth": round(r.uniform(0.02, 0.15), 3)},
    }
    if half == "stated":
        values["routine"]["sub_length"] = f"{10 ** r.uniform(1, 2.9):.1f} s"
    if r.random() < 0.5:
        values["goal"]["unsaturated_star"] = f"{r.uniform(4, 12):.1f} mag"
    if r.random() < 0.35:
        altitude, target = r.uniform(-10, 85), float(values["target"]["altitude"].split()[0])
        least, most = abs(altitude - target), 180 - abs(altitude + target)
        values["moon"] = {
            "illuminated": round(r.uniform(0.05, 1), 3),
            "altitude": f"{altitude:.2f} deg",
            "separation": f"{max(1.0, least + r.random() * (most - least)):.2f} deg",
        }
    return Plan.parse(tomlkit.dumps(values))


def _number(value):
    return math.nan if value is None else float(value)


def numbers_of(plan, half):
    """All numbers of a solved plan, one after the other; an even background where it says nothing of one."""
    if plan.case.routine.background_flatness is None:
        plan = plan.with_values({("routine", "background_flatness"): "perfect"})
    found = plan.solve()
    names = NUMBERS + (ADVICE if half == "automatic" else ())
    of_rows = [[*(_number(getattr(row, name)) for name in names), *row.noise_share.values()] for row in found.rows]
    of_rates = [
        np.concatenate(
            [
                rate.sky_e_s, rate.model_sky_e_s, rate.moon_e_s, rate.ab_zero_e_s, rate.bright_star_e_s,
                *rate.extended.values(), *rate.stars.values(), [rate.dark_e_s, rate.fwhm_px],
            ]
        )
        for rate in (one.rates for one in found.filters)
    ]  # fmt: skip
    return np.concatenate([*of_rows, *of_rates])


def ranges_of(plan):
    """Tenth, half and nine tenths of the hours of each row, and the half once more without rounding to whole subs."""
    rows = spread(plan.case, plan.case.doubt, DRAWS).rows
    return np.array(
        [v for row in rows for v in (row.range.p10_h, row.range.p50_h, row.range.p90_h, np.median(row.kept_h))]
    )


def path_of(half):
    return HERE / f"solved_plans_{half}.npz"


def kept(half):
    """Numbers of a half by its plans' numbers, and the ranges of some."""
    with np.load(path_of(half)) as table:
        which, ends, ranged, range_ends = (table[name] for name in ("which", "ends", "ranged", "range_ends"))
        rows = np.split(table["numbers"], ends[:-1])
        ranges = np.split(table["ranges"], range_ends[:-1]) if ranged.size else []
    return dict(zip(which.tolist(), rows, strict=True)), dict(zip(ranged.tolist(), ranges, strict=True))


def make(half):
    which, numbers, ranged, ranges = [], [], [], []
    number = 0
    while len(which) < PLANS:
        number += 1
        try:
            plan = plan_of(half, number)
            found = numbers_of(plan, half)
        except PlanError:
            continue
        which.append(number)
        numbers.append(found)
        if half == "stated" and len(which) % SPREAD_EVERY == 0:
            ranged.append(number)
            ranges.append(ranges_of(plan))
    np.savez_compressed(
        path_of(half),
        which=np.array(which),
        ends=np.cumsum([one.size for one in numbers]),
        numbers=np.concatenate(numbers),
        ranged=np.array(ranged, dtype=int),
        range_ends=np.cumsum([one.size for one in ranges]),
        ranges=np.concatenate(ranges or [np.zeros(0)]),
    )
    print(f"{half}: {len(which)} of {number} plans solved, {path_of(half).stat().st_size / 1e3:.0f} kB")


if __name__ == "__main__":
    for half in sys.argv[1:] or HALVES:
        if half not in HALVES:
            sys.exit(f"say {' or '.join(HALVES)}, got {half!r}")
        make(half)
