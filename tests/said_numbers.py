"""Every number that an experiment's sentences hold, worked out a second time: from its dials, the plan's formulas, and
the pictures that it shows."""

import math
import re

from expocalc.budget.noise import hours_growth
from workbook.workshop.experiments.colder import at
from workbook.workshop.experiments.dark_site import under
from workbook.workshop.experiments.histogram import sub_of_peak_s, wide_rig
from workbook.workshop.experiments.lamps import NEW, OLD, under_lamps
from workbook.workshop.experiments.moon import with_moon
from workbook.workshop.experiments.rig import H_ALPHA, O_III, demo, rig_of

__all__ = ["NUMBER", "TRUE", "tells_the_truth"]

NUMBER = r"[-−]?\d+(?:\.\d+)?(?:e[+-]?\d+)?"
_UNITS_S = {"s": 1.0, "min": 60.0, "h": 3600.0}


class Time(float):
    """Seconds, said in the unit that suits them."""


def tells_the_truth(name, values, found):
    """Assert that each number of a sentence is the true one, rounded as it stands there, and that none is missing."""
    for part, expected in TRUE[name](values, found).items():
        text = getattr(found, part)
        said = list(re.finditer(NUMBER, text))
        assert len(said) == len(expected), f"{part} of {name}: {text}"
        for one, true in zip(said, expected, strict=True):
            unit = _UNITS_S[re.match(r" (s|min|h)\b", text[one.end() :])[1]] if isinstance(true, Time) else 1.0
            assert rounds_to(one[0], true / unit), f"{one[0]} should be {true / unit:.5g} in: {text}"


def rounds_to(said, true):
    """Whether a number, as it is written, is the true one to half a unit of its last figure, or of two figures."""
    value = float(said.replace("−", "-"))
    decimals = len(said.split(".")[1]) if "." in said else 0
    figures = math.floor(math.log10(abs(value))) if value else 0
    step = 10.0**-decimals if decimals else 10.0 ** max(0, figures - 1)
    return abs(value - true) <= 0.5000001 * step


def rain(values, _found):
    root = math.sqrt(values["photons"])
    return {"takeaway": [values["photons"], root, 100 / root, 50 / root], "take_home": []}


def sky(values, found):
    grain, dark = found.planned
    level = rig_of(sky__zenith_brightness=f"{values['sky_mag']!r} mag/arcsec2").sky_e_s * 300
    shown = float(found.table.rows[0][1])
    assert abs(shown / level - 1) < 0.02
    return {"takeaway": [shown, 24, grain, *([grain / dark] if grain / dark > 1.05 else [])], "basis": [2, 300]}


def length(values, found):
    long_, short, shortest = found.planned
    read, rig = values["read_noise_e"], rig_of().read_by(values["read_noise_e"])
    more = (long_ / short) ** 2 - 1
    costs = [100 * more] if more >= 0.01 else []
    told = [long_] if read < 0.01 else [read, long_, short, shortest, 10, *costs]
    basis = [10, rig.target_e_s * 600, rig.grain_e(600, 1)]
    return {"takeaway": told, "take_home": [5, 10, Time(rig.shortest_sub_s())] if costs else [], "basis": basis}


def histogram(values, found):
    rig = wide_rig()
    early, here = found.planned[1], found.planned[-1]
    won = abs(here / early - 1)
    before, after = (int(tile.full.sum()) for tile in (found.tiles[1], found.tiles[-1]))
    full = [one for one in ((after,) if before == after else (before, after)) if one]
    third, *tried = (rig.snr(s, 10800 / s) for s in (sub_of_peak_s(rig, p) for p in (1 / 3, 0.005, 0.01, 0.02)))
    low = next(p for p, snr in zip((0.5, 1, 2), tried, strict=True) if snr >= 0.99 * third)
    changed = 100 * won if won >= 0.01 else 1
    return {"takeaway": [2, early, values["peak_percent"], here, changed, *full], "take_home": [low, 1]}


def gain(values, found):
    low, high = (demo().case.camera.gains[name] for name in ("low", "high"))
    sky_e = rig_of().sky_e_s * values["sub_s"]
    won = found.planned[1] / found.planned[0] - 1
    reads = [float(one.read_noise.value) for one in (low, high)]
    steps = low.electrons_per_adu / high.electrons_per_adu
    wells = [float(one.full_well.value) for one in (high, low)]
    counts = [100 * won] if won >= 0.05 else []
    # the same light, read with the same noise: the gain's own share is that of its steps alone
    alike = found.planned[0]
    return {
        "takeaway": [steps, sky_e, *found.planned, *reads, Time(values["sub_s"]), *counts, alike],
        "take_home": [sky_e, *wells],
    }


def five(values, found):
    growth = values["growth_percent"] / 100
    sub_s, more = rig_of().shortest_sub_s(growth), float(hours_growth(growth))
    subs = round(36000 / sub_s)
    times = [Time(round(subs * (1 + more)) * sub_s), Time(subs * sub_s)]
    return {
        "takeaway": [100 * growth, 100 * more, *found.planned[:2], *times],
        "take_home": [100 * growth, 100 * more, more / growth],
        "basis": [Time(sub_s), 100 * growth],
    }


def binning(values, found):
    rig = rig_of()
    once = (rig.sky_e_s + rig.dark_e_s) * values["sub_s"] / rig.read_e2
    return {"takeaway": [once, once, 4 * once], "take_home": [*found.planned[:2]]}


def hours(_values, found):
    one, two, *_, forty = found.planned
    already = one >= 5
    return {
        "takeaway": [one, 1, two, 2, two / one, 2, forty, forty / one],
        "take_home": [1] if already else [1, 40],
    }


def patch(values, found):
    taken = round(values["hours"] * 12) / 12
    return {"takeaway": [taken, found.planned[0], found.planned[-1], 8, 8]}


def smoothing(values, found):
    sigma_px = max(values["width_px"] / math.sqrt(8 * math.log(2)), 1 / math.sqrt(4 * math.pi))
    chance = 3 / math.sqrt(128**2 / (8 * math.pi * sigma_px**2))
    return {"takeaway": [max(found.measured[0], 0), 0, 1, chance], "basis": [2, values["width_px"]]}


def darks(values, found):
    bare = rig_of(camera__temperature="15 deg_C").grain_e(300, 30)
    left = found.planned[2] / bare - 1
    routine = demo().case.routine
    every = routine.dither_every
    price = [every, 100 * routine.lost_per_dither / every]
    price.append(100 * float(routine.dither_time.value) / every / (300 + float(routine.dead_time.value)))
    above = [100 * left] if left >= 0.01 else []
    count = max(1, round(values["darks"]))
    several = [found.planned[2], count] if count > 1 else []
    # each dark brings the dark current's own grain, the read noise and the pattern's none: their mean stays in all subs
    rig = rig_of(camera__temperature="15 deg_C")
    stays = math.sqrt((rig.dark_e_s * 300 + rig.read_e2) / count)
    return {
        "takeaway": [*found.planned[:2], *several, *above, bare, found.planned[3]],
        "take_home": [stays, *price, 100 * (1 - (found.planned[3] / found.planned[2]) ** 2)],
    }


def moon(values, _found):
    dark = [rig_of(one, sky__zenith_brightness=f"{values['sky_mag']!r} mag/arcsec2") for one in (H_ALPHA, O_III)]
    place = values["lit_percent"] / 100, values["separation_deg"]
    lit = [with_moon(rig, one, *place) for rig, one in zip(dark, (H_ALPHA, O_III), strict=True)]
    brighter = [one.sky_e_s / other.sky_e_s for one, other in zip(lit, dark, strict=True)]
    cost = [one.hours(300, 10) / other.hours(300, 10) for one, other in zip(lit, dark, strict=True)]
    worth = [Time(3600 / one) for one in cost]
    return {"takeaway": [*brighter, *cost], "take_home": [values["separation_deg"], *worth]}


def lamps(values, _found):
    times = [
        under_lamps(light, NEW, values["sky_mag"]).sky_e_s / under_lamps(light, OLD, values["sky_mag"]).sky_e_s
        for light in (H_ALPHA, O_III)
    ]
    return {"takeaway": [values["sky_mag"], *(one for one in times if abs(one - 1) >= 0.05)]}


def dark_place(values, _found):
    town, dark = under(19.1), under(values["dark_mag"])
    subs_s = [town.shortest_sub_s(), dark.shortest_sub_s()]
    takes = [rig.hours(sub_s, 10) for rig, sub_s in zip((town, dark), subs_s, strict=True)]
    return {
        "takeaway": [town.sky_e_s / dark.sky_e_s, 5, *map(Time, subs_s), *takes],
        "take_home": [subs_s[1] / subs_s[0], takes[0] / takes[1]],
    }


def f_ratio(values, found):
    pixels = round(64 * values["reducer"]) * 2
    if pixels == 128:
        return {"takeaway": []}
    focal_mm, aperture_mm = (float(getattr(demo().case.telescope, one).value) for one in ("focal_length", "aperture"))
    both_mm = [focal_mm, focal_mm * pixels / 128]
    rigs = [rig_of(telescope__focal_length=f"{mm!r} mm") for mm in both_mm]
    more = (found.planned[0] / found.planned[1]) ** 2
    left = (rigs[1].target_e_s / rigs[0].target_e_s) * (rigs[0].scale_arcsec / rigs[1].scale_arcsec) ** 2
    pixel = [rig.snr(300, 72, 1.0) for rig in rigs]
    times = [more] if abs(more - 1) >= 0.05 else []
    return {
        "takeaway": [*(mm / aperture_mm for mm in both_mm), *pixel, *found.planned, *times],
        "take_home": [100 * left, more] if abs(more - 1) >= 0.05 else [],
    }


def cold(values, _found):
    degrees = [15.0, values["temperature_deg_c"], -30.0]
    rigs = [at(one, values["sky_mag"]) for one in degrees]
    takes = [rig.hours(300, 10) for rig in rigs]
    said = []
    for number in (0, 1):
        saved = 1 - takes[number + 1] / takes[number]
        ends = degrees[number : number + 2]
        same = len({round(one, 1) for one in ends}) == 1
        said += ends[:1] if same else [*ends, *([100 * saved] if saved >= 0.001 else [])]
    return {"takeaway": [*said, degrees[1], rigs[1].sky_e_s, rigs[1].dark_e_s]}


TRUE = {
    "photon rain": rain,
    "subtracted sky": sky,
    "short or long": length,
    "histogram": histogram,
    "gain": gain,
    "five per cent": five,
    "binning": binning,
    "hours": hours,
    "per patch": patch,
    "noise reduction": smoothing,
    "darks": darks,
    "Moon": moon,
    "lamps": lamps,
    "dark place": dark_place,
    "f-ratio": f_ratio,
    "colder": cold,
}
