"""Hours with each doubt and each input that once bent the answer: without it, and with it.

``python tests/benchmarks/what_moved.py [word …]`` prints one table, of the items whose names hold one of the words.
Without it is said in the plan itself: a perfect background, a box for a band, a doubt of 1. Hours are of kept subs;
"best" and "plan" are the ratios of the hours at best and of the middle to plan for.
"""

import itertools
import math
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import brentq

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.photometry import V_NM, standard_band
from expocalc.budget.ranges import Range
from expocalc.budget.rates import rates
from expocalc.gear.response import response
from expocalc.light.halpha_map import halpha_brightness, read_survey
from expocalc.light.library import TARGETS
from expocalc.light.moon import Moon, moon_spectrum
from expocalc.light.moon_colour import DUST_SLOPE, scattered_sunlight
from expocalc.light.moonlight import dust_part, molecule_part
from expocalc.light.natural import natural_sky
from expocalc.light.reading import naked_eye_limit_of_v
from expocalc.plan import Plan, PlanError

ROOT = Path(__file__).resolve().parents[2]
MONO, COLOUR = (Plan.read(ROOT / f"notebooks/plans/{name}.toml") for name in ("mono-single-lines", "colour-dual-band"))
HA, O3 = (one.name for one in MONO.case.filters)
DUAL = COLOUR.case.filters[0].name
STEEP_DUST = -1.3
"""Slope of the extinction by dust itself (Green 1992), which scattered moonlight once had too."""


@dataclass(frozen=True)
class Item:
    """One thing that moved: a plan without it and with it, seen in one filter."""

    name: str
    case: str
    filter_name: str
    plan: Plan
    without: dict
    beside: dict


@dataclass(frozen=True)
class Hours:
    """Sky and hours of a plan's filter, or why it has none."""

    sky_e_s: float = math.nan
    best_h: float = math.nan
    span: Range | None = None
    refused: str = ""

    @property
    def hours(self):
        """At best, and to plan for: the middle, a tenth and nine tenths."""
        span = self.span
        return (math.nan,) * 4 if span is None else (self.best_h, span.p50_h, span.p10_h, span.p90_h)

    def over(self, other):
        """Hours at best, and the middle of those to plan for, over another plan's, as text."""
        ratios = [mine / its for mine, its in zip(self.hours[:2], other.hours[:2], strict=True)]
        return "".join(f"{ratio:6.2f}" if math.isfinite(ratio) else f"{'':6}" for ratio in ratios)

    def __str__(self):
        best, middle, low, high = ("never" if math.isinf(hours) else f"{hours:.3g}" for hours in self.hours)
        return self.refused or f"{self.sky_e_s:8.4f} {best:>6} {middle:>6} ({low} to {high})"


def hours_of(plan, changes, filter_name):
    """What a changed plan says of a filter."""
    try:
        changed = plan.with_values(changes)
        found = changed.solve()
        one = next(one for one in found.filters if one.filter_name == filter_name)
        if one.neediest.light is None:
            return Hours(refused="passes no light of the target")
        span = changed.spread(found).filters[filter_name]
    except PlanError as error:
        return Hours(refused=f"refused: {str(error)[:58]} …")
    best_h = math.inf if one.kept_h is None else one.kept_h
    return Hours(sky_e_s=float(one.rates.sky_e_s.max()), best_h=best_h, span=span)


def one_filter(name, lights, plan=MONO, **passband):
    """A plan with one filter and its own light."""
    return plan.with_values({("filters",): [{"name": name, "passbands": [passband]}], ("target", "light"): lights})


def practice():
    off, on = {("doubt", "practice"): "none"}, {}
    yield from (Item("practice", "mono", name, MONO, off, on) for name in (HA, O3))
    yield Item("practice", "colour", DUAL, COLOUR, off, on)


def doubt_of_target():
    """Without: 25 % whatever the source says of its own value."""
    for name in ("G74.0-8.5, Cygnus Loop, faint outer filaments", "Sh2-240, Simeis 147"):
        yield _doubted(f"grade C, {name.split(',')[0]}", HA, TARGETS[name].light())
    yield _doubted("grade C, G65.3+5.7", O3, TARGETS["G65.3+5.7, filaments"].light())
    yield _doubted("grade A, G82.2+5.3", O3, TARGETS["G82.2+5.3, filaments"].light())
    yield _doubted("survey, at 20h45m38s +30d43m", HA, halpha_brightness("20h45m38s", "+30d43m").light())
    yield Item("target's doubt", "typed, 25 % as before", HA, MONO, {}, {})


def _doubted(case, filter_name, light, name="target's doubt"):
    where, wide = ("target", "light"), MONO.with_values({("target", "patch"): "60 arcsec"})
    return Item(name, f'{case}, 60"', filter_name, wide, {where: [light | {"doubt": 1.25}]}, {where: [light]})


def spoilt_beam():
    survey = read_survey()
    at = min(np.flatnonzero(survey.error_r == 0), key=lambda beam: abs(survey.rayleigh[beam] - 12))
    x, y, z = survey.direction[at]
    value = survey.at(math.degrees(math.atan2(y, x)) % 360, math.degrees(math.asin(z)))
    yield _doubted("12 R, beam spoilt by a star", HA, value.light(), "survey")


def flatness():
    where = ("routine", "background_flatness")
    for case, on in (("left out, 0.03 %", {}), ("0.1 %", {where: 0.001}), ("0.2 %", {where: 0.002})):
        for name in (HA, O3):
            yield Item("flatness", case, name, MONO, {where: "perfect"}, on)


def narrow_sky():
    for name in (HA, O3):
        yield Item("narrow sky", "from a reading", name, MONO, {("doubt", "narrow_sky"): 1}, {})
    rate = {("sky", "measured"): {HA: "0.11 electron/s"}}
    yield Item("narrow sky", "measured, 5 % for ever", HA, MONO, {**rate, ("doubt", "measured_sky"): 1.05}, rate)


def filter_edges():
    """Without: a box; the ratio that counts is that of one centre to the next, down the table."""
    sodium = MONO.with_values({("sky", "lamps"): {"sodium-high-pressure": 1.0}})
    for at, name, nm, plan, town in (
        (1, O3, 500.7, MONO, "usual lamps"),
        (1, O3, 500.7, sodium, "sodium alone"),
        (0, HA, 656.3, MONO, "N II beside"),
    ):
        for shift in (-0.5, 0.0, 0.5):
            band = ("filters", at, "passbands", 0)
            on = {(*band, "centre"): f"{nm + shift} nm"}
            yield Item("filter edges", f"at {nm + shift:g} nm, {town}", name, plan, on | {(*band, "shape"): "box"}, on)
    sure = {("doubt", "filter_centre"): "0 nm", ("doubt", "filter_width"): 1}
    for name in (HA, O3):
        yield Item("filter edges", "doubt of centre and width", name, MONO, sure, {})


def naked_eye():
    """Without extinction and slope: V from the formula as it is, off by half a magnitude whatever the sky."""
    for limit in (3.5, 4.2, 5.0):
        # the formula has a step at 18.4 mag/arcsec2: a limit inside it has the sky of the step
        v = brentq(lambda v, limit=limit: naked_eye_limit_of_v(v) - limit, 10, 22.5)
        old = {"zenith_brightness": f"{v} mag/arcsec2", "reading_band": None, "brightness_error": "0.5 mag/arcsec2"}
        new = {"zenith_brightness": None, "reading_band": None, "brightness_error": None, "naked_eye_limit": limit}
        off, on = ({("sky", key): value for key, value in keys.items()} for keys in (old, new))
        yield Item("naked-eye limit", f"{limit:g}", HA, MONO, off, on)


FULL_MOON = {("moon", "illuminated"): 1.0, ("moon", "altitude"): "40 deg", ("moon", "separation"): "60 deg"}


def moonlight():
    grey = [{"continuum": "24 mag/arcsec2"}]
    broad = [(name, one_filter(name, grey, standard=name)) for name in ("bessell-R", "bessell-I")]
    for name, plan in [(HA, MONO), *broad]:
        lit = plan.with_values(FULL_MOON)
        yield Item("moonlight, colour", "full Moon", name, lit, _sky_by(lit, STEEP_DUST), _sky_by(lit, DUST_SLOPE))
        yield Item("moonlight, doubt", "full Moon", name, lit, {("doubt", "moonlight"): 1}, {})


def _sky_by(plan, slope):
    """The plan's own sky stated as measured under its own Moon, whose light has dust of that slope."""
    case, filter_ = plan.case, plan.case.filters[0]
    rate = rates(case, filter_)
    by_slope = _moonlight_by(response(case.telescope, filter_, case.camera), case.moon, slope)
    sky = float(rate.sky_e_s[0]) + float(rate.moon_e_s[0]) * (by_slope - 1)
    return {("sky", "measured"): {filter_.name: f"{sky} electron/s"}, **_under(plan)}


def _under(plan):
    """The plan's own conditions as those of the test sub."""
    there = {("measured_under", "altitude"): plan.values["target"]["altitude"]}
    return there | {("measured_under", "moon"): plan.values["moon"]} if "moon" in plan.values else there


def _moonlight_by(curve, moon, slope):
    """Moonlight through a response with dust of that slope, over the model's; both as bright in V."""
    molecules, dust = scattered_sunlight()
    x, light = dust.continuum.wavelength_nm, dust.continuum.value
    apart = float(moon.separation.value)

    def colour(power):
        tilted = Spectrum(Curve(x, light * (x / V_NM) ** power))
        whole = molecules * float(molecule_part(apart)) + tilted * float(dust_part(apart))
        return whole.through(curve) / whole.through(standard_band("bessell-V"))

    return colour(slope - DUST_SLOPE) / colour(0.0)


def print_rises():
    """Magnitudes by which the Moon ten days past new brightens the natural sky: Patat 2003 has 3 in B and 1.2 in I."""
    moon, natural = Moon(phase_angle="58 deg", altitude="60 deg", separation="20 deg"), natural_sky()
    for name in "BI":
        curve = standard_band(f"bessell-{name}")
        ratio = moon_spectrum(moon, 60.0, 0.12).through(curve) / natural.through(curve)
        before, now = (
            2.5 * math.log10(1 + ratio * _moonlight_by(curve, moon, slope)) for slope in (STEEP_DUST, DUST_SLOPE)
        )
        print(f"moonlight at ten days in {name}: {before:.2f} mag, dust as steep as its extinction; {now:.2f} mag now")


def corner():
    for case, key, value in (("vignetting 0.3", "vignetting", 0.3), ("field angle 8 deg", "field_angle", "8 deg")):
        yield Item("corner of the field", case, HA, MONO, {}, {("telescope", key): value})


def ahead_of_the_lens():
    fast = MONO.with_values({("telescope", "focal_length"): "204 mm"})
    yield Item("filter ahead of the lens", "f/2", HA, fast, {}, {("filters", 0, "place"): "ahead of the lens"})


def faint_stars():
    for limit in (20, 19, 18, 17):
        yield Item("faint stars", f"out to {limit} mag", HA, MONO, {}, {("target", "stars_removed_to"): f"{limit} mag"})


def companions():
    where = ("target", "light", 0, "companions")
    for ratio in (0.3, 1.0):
        yield Item("companions", f"N II {ratio:g} of H-alpha", HA, MONO, {where: {}}, {where: {"N II": ratio}})
    for line, beside, ratio, centre in (("H-alpha", "S II", 1.4, 672.0), ("O III", "H-beta", 0.3, 494.0)):
        light = {"line": line, "brightness": "12 R"}
        plan = one_filter("one", [light], centre=f"{centre} nm", width="24 nm" if line == "O III" else "6 nm")
        lights = {("target", "light"): [light | {"companions": {beside: ratio}}]}
        yield Item("companions", f"{beside} {ratio:g} of {line}", "one", plan, {}, lights)


def measured_sky():
    """Without: the rate is taken for one of the plan's own conditions."""
    rate = float(rates(MONO.case, MONO.case.filters[0]).sky_e_s[0])
    seen = {("sky", "measured"): {HA: f"{rate} electron/s"}}
    then = seen | {("measured_under", "altitude"): "60 deg"}
    low = MONO.with_values({("target", "altitude"): "35 deg"})
    for case, plan in (("full Moon", MONO.with_values(FULL_MOON)), ("from 60 to 35 deg", low)):
        yield Item("measured sky", case, HA, plan, seen | _under(plan), then)


def lamps_from_rates():
    """A town that is not the usual one, its O III sky foretold by the reading and by rates in other filters."""
    broad = [
        {"name": name, "passbands": [{"centre": f"{nm} nm", "width": "90 nm"}]}
        for name, nm in (("blue", 450), ("green", 540), ("red", 640))
    ]
    own = MONO.with_values({("filters",): [*MONO.values["filters"], *broad], ("sky", "lamps"): None})
    for case, lamps in (("sodium", {"sodium-high-pressure": 1.0}), ("LED of 3000 K", {"led-3000K": 1.0})):
        town = own.with_values({("sky", "lamps"): lamps})
        skies = {one.name: f"{float(rates(town.case, one).sky_e_s[0])} electron/s" for one in town.case.filters}
        del skies[O3]
        told = {("sky", "measured"): skies, ("sky", "lamps"): "from rates"}
        yield Item("lamps from rates", f"town of {case}", O3, own, {}, told)
        yield Item("lamps from rates", f"town of {case}, the truth", O3, own, {}, {("sky", "lamps"): lamps})


ITEMS = (
    practice, doubt_of_target, spoilt_beam, flatness, narrow_sky, filter_edges, naked_eye, moonlight, corner,
    ahead_of_the_lens, faint_stars, companions, measured_sky, lamps_from_rates,
)  # fmt: skip


def moved(words=()):
    """Each item whose name holds one of the words, with what the plan says without it and with it."""
    for one in itertools.chain.from_iterable(items() for items in ITEMS):
        if not words or any(word in one.name for word in words):
            yield one, *(hours_of(one.plan, changes, one.filter_name) for changes in (one.without, one.beside))


def main(words=()):
    heads = "sky e-/s, at best h, plan for h"
    print(f"{'item':25}{'case':39}{'filter':14}{f'without: {heads}':44}{f'with: {heads}':44}  best  plan")
    for one, without, beside in moved(words):
        ratios = beside.over(without)
        print(f"{one.name:25}{one.case:39}{one.filter_name:14}{without!s:44}{beside!s:44}{ratios}".rstrip())
    if not words or any(word in "moonlight" for word in words):
        print_rises()


if __name__ == "__main__":
    main(sys.argv[1:])
