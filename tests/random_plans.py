"""Random plans, and all that must hold of each: through the command, JSON, exports and the panels' models.

A plan is made from its kind and number alone. "tame" plans are what people have, "wide" ones reach to the ends of what
each field allows, "mutated" ones are tame but for a few values that are extreme, missing or nonsense.
"""

import contextlib
import copy
import io
import json
import math
import random
import re
import runpy
import tempfile
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import tomlkit

from expocalc.__main__ import main
from expocalc.base.words import say_duration
from expocalc.budget.clock import kept_share
from expocalc.budget.limits import sub_limits
from expocalc.budget.split import split
from expocalc.budget.spread import spread
from expocalc.budget.stack import parts_of
from expocalc.budget.stacked import habits_of, patch_of
from expocalc.plan import Plan, PlanError, as_json, one_sentence
from expocalc.report import report
from workbook.compare.model import compare
from workbook.compare.sides import Side
from workbook.hours.model import picture
from workbook.hours.shares import shares
from workbook.sheets.formats import FORMATS
from workbook.sub_length.model import Picture
from workbook.sub_length.tables import hours_table, noise_table
from workbook.workshop.own_plan_boxes import DIALS, lights_of, turned, values_of
from workbook.workshop.own_plan_model import page

PANELS = SimpleNamespace(**runpy.run_path(str(Path(__file__).with_name("random_panels.py"))))
check_words, refusal = PANELS.check_words, PANELS.refusal

KINDS = ("tame", "wide", "mutated")
TOO_LARGE = "too large or too small to compute with"
LINES = {"H-alpha": 656.28, "O III": 500.68, "S II": 672.0, "H-beta": 486.13, "N II": 658.35}
BANDS = ("bessell-B", "bessell-V", "bessell-R", "sdss-g", "sdss-r")
DAY_S = 86400.0
COMMANDED_EVERY = 20
BEATEN = 1.03
"""No length may take less than the advised one's hours over this."""


class Maker:
    """Values of one plan, within what people have or within what is allowed."""

    def __init__(self, kind, number):
        self.r, self.wide = random.Random(f"{kind} {number}"), kind == "wide"

    def some(self, low, high, lowest, highest, unit="", log=True):
        """A number: usually from low to high, in a wide plan now and then from lowest to highest."""
        if self.wide and self.r.random() < 0.4:
            low, high = lowest, highest
        if self.wide and self.r.random() < 0.05:
            number = self.r.choice((lowest, highest))
        elif log and low > 0:
            number = math.exp(self.r.uniform(math.log(low), math.log(high)))
        else:
            number = self.r.uniform(low, high)
        text = f"{number:.6g}"
        return f"{text} {unit}" if unit else float(text)

    def whole(self, low, high, lowest, highest):
        return min(max(round(self.some(low, high, lowest, highest)), lowest), highest)

    def maybe(self, chance, **values):
        return values if self.r.random() < chance else {}

    def sky(self, names, mosaic):
        some, r = self.some, self.r
        sky = r.choice(
            (
                {"zenith_brightness": some(17, 21.9, 5, 22.3, "mag/arcsec2", log=False)},
                {"bortle": r.randint(1, 9)},
                {"luminance": some(0.3, 8, 0.17, 1e6, "mcd/m2")},
                {"naked_eye_limit": some(3.5, 6.5, -2, 7.5, log=False)},
            )
        )
        if "zenith_brightness" in sky:
            sky["reading_band"] = r.choice(("bessell-V", "cie-V", "meter"))
        share = round(r.random(), 2)
        lamps = dict(
            zip(
                r.sample(("led-2700K", "led-4000K", "sodium-high-pressure", "mercury"), 2),
                (share, round(1 - share, 2)),
                strict=True,
            )
        )
        sky |= self.maybe(0.5, lamps=lamps) | self.maybe(0.3, gradient=some(0.1, 1, 0, 3, "mag", log=False))
        sky["extinction"] = r.choice(("town", "country", some(0.1, 0.6, 0, 3)))
        if r.random() < 0.2:
            rate = some(0.01, 3, 1e-9, 1e6, "electron/s")
            every = {c: some(0.01, 3, 1e-9, 1e6, "electron/s") for c in "RGB"} if mosaic else rate
            sky["measured"] = {r.choice(names): r.choice((some(18, 22, 5, 30, "mag/arcsec2", log=False), every))}
        return sky

    def band(self):
        r, some = self.r, self.some
        if r.random() < 0.2:
            return {"standard": r.choice(BANDS)}
        centre = some(480, 680, 350, 1050, log=False) if r.random() < 0.2 else r.choice(list(LINES.values()))
        return {
            "centre": f"{centre + r.uniform(-1, 1):.3f} nm",
            "width": some(2.5, 12, 0.05, 300, "nm"),
            **self.maybe(0.5, peak=some(0.6, 0.98, 1e-3, 1)),
            **self.maybe(0.3, shape=r.choice(("box", "gaussian"))),
            **self.maybe(0.3, designed_for=f"f/{r.choice((2, 4, 8))}"),
            **self.maybe(0.2, index=some(1.6, 2.4, 1.2, 4)),
        }

    def bands(self):
        first = self.band()
        if "standard" in first or self.r.random() < 0.7:
            return [first]
        below = {"centre": "420 nm", "width": self.some(2, 20, 0.05, 50, "nm")}
        return [below, first]

    def light(self):
        r, some = self.r, self.some
        kind = r.random()
        if kind < 0.6:
            return {"line": r.choice(list(LINES)), "brightness": some(1, 200, 1e-6, 1e6, "R")}
        if kind < 0.85:
            return {"continuum": some(20, 26, 0, 40, "mag/arcsec2", log=False), **self.maybe(0.3, shape="sun")}
        return {"star": some(10, 18, -5, 40, "mag", log=False)}

    def camera(self, mosaic):
        some, r = self.some, self.r
        gain = {
            "read_noise": r.choice((some(0.8, 9, 1e-3, 1000, "electron"), "0 electron" if self.wide else "2 electron")),
            "electrons_per_adu": some(0.05, 2, 1e-3, 1000),
            "full_well": some(9e3, 9e4, 1, 1e8, "electron"),
            "bits": r.choice((12, 14, 16, 16)),
            "read_noise_kind": r.choice(("bias", "emva")),
            **self.maybe(0.6, bias_level=self.whole(50, 900, 0, 4000)),
            **self.maybe(0.3, native_step=r.choice((1, 4, 16))),
        }
        return {
            "pixel": some(2.4, 9, 0.3, 1000, "um"),
            "columns": 4144,
            "rows": 2822,
            "quantum_efficiency": r.choice(("back-lit mono", some(0.4, 0.95, 1e-4, 1))),
            "temperature": some(-25, 25, -150, 60, "deg_C", log=False),
            "dark_current": {
                "rate": some(1e-4, 0.03, 1e-12, 1e5, "electron/s"),
                "at": "-10 deg_C",
                "doubles_every": some(5, 7, 1, 30, "K"),
            },
            "gains": {"only": gain},
            **({"mosaic": "RGGB"} if mosaic else {}),
            **self.maybe(0.3, pattern={"fixed": some(0.1, 1, 0, 1000, "electron"), "flat": some(1e-4, 2e-3, 0, 0.9)}),
            **self.maybe(0.2, glow=some(1e-4, 0.01, 0, 1e5, "electron/s")),
        }

    def routine(self):
        some, whole = self.some, self.whole
        return {
            **self.maybe(0.3, sub_length=some(10, 900, 1e-4, DAY_S, "s")),
            **self.maybe(0.4, longest_sub=some(60, 900, 1e-4, DAY_S, "s")),
            **self.maybe(0.6, lost_per_hour=some(0.05, 10, 0, 1000)),
            **self.maybe(0.5, dither_every=whole(1, 6, 1, 10_000), dither_time=some(5, 30, 0, 3600, "s")),
            **self.maybe(0.3, dither_size=some(3, 40, 0, 2000, "pixel")),
            **self.maybe(0.3, lost_per_dither=some(0.01, 0.3, 0, 0.999)),
            **self.maybe(0.5, dead_time=some(0.5, 6, 0, 3600, "s")),
            **self.maybe(0.5, darks=whole(10, 60, 1, 100_000), flats=whole(10, 60, 1, 100_000)),
            **self.maybe(0.3, flat_level=some(0.2, 0.7, 1e-6, 1)),
            **self.maybe(0.3, background_patch=some(40, 300, 0.01, 360_000, "arcsec")),
            **self.maybe(0.3, background_flatness=some(1e-4, 3e-3, 1e-12, 0.99)),
            **self.maybe(0.4, guiding=some(0.3, 2, 0, 60, "arcsec")),
            "stacking": self.r.choice(("mean", "median", "clipped mean")),
            **self.maybe(0.3, clip=some(2, 4, 1.5, 10)),
        }

    def values(self):
        some, r = self.some, self.r
        mosaic = r.random() < 0.4
        names = [f"filter {at}" for at in range(r.randint(1, 3))]
        aperture = some(50, 250, 0.1, 1e5)
        altitude, moon_up = some(15, 90, 0.01, 90, "deg", log=False), r.uniform(-10, 80)
        up = float(altitude.split()[0])
        apart = r.uniform(max(abs(moon_up - up), 8) + 0.01, 180 - abs(moon_up + up))
        moon = {"illuminated": r.random(), "altitude": f"{moon_up:.4f} deg", "separation": f"{apart:.4f} deg"}
        return {
            "sky": self.sky(names, mosaic),
            "telescope": {
                "aperture": f"{aperture} mm",
                "focal_length": f"{aperture * some(2.2, 9, 0.6, 100):.6g} mm",
                "obstruction": f"{aperture * r.choice((0, 0, 0.4)):.6g} mm",
                "throughput": some(0.7, 0.95, 1e-4, 1),
                "blur": some(0.1, 3, 0, 60, "arcsec"),
            },
            "camera": self.camera(mosaic),
            "filters": [
                {
                    "name": name,
                    "passbands": self.bands(),
                    **self.maybe(0.1, blocking=4.0),
                }
                for name in names
            ],
            "target": {
                "altitude": altitude,
                "patch": some(3, 60, 1e-3, 36000, "arcsec"),
                "light": [self.light() for _ in range(r.randint(1, 3))],
            },
            "routine": self.routine(),
            "goal": {
                "snr": some(3, 30, 1e-6, 1e6),
                "noise_growth": some(0.01, 0.15, 1e-6, 10),
                **self.maybe(0.4, unsaturated_star=some(4, 12, -30, 40, "mag", log=False)),
                **self.maybe(0.3, sky_share_of_well=some(0.05, 0.5, 1e-9, 1)),
            },
            "site": {
                "elevation": some(1, 2500, -500, 9000, "m", log=False),
                "seeing": some(1.5, 4, 1e-3, 30, "arcsec"),
            },
            **self.maybe(0.2, moon=moon),
            **self.maybe(0.2, doubt={"target": some(1.05, 2, 1, 1000), "filter_centre": some(0.1, 1, 0, 50, "nm")}),
        }


NONSENSE = (
    0,
    -1,
    1e300,
    1e-300,
    10**15,
    "",
    "auto",
    "0 s",
    "1e300 mm",
    "-1 mm",
    "5 parsec",
    [],
    {},
    [[400, 0.5]],
    True,
)


def _leaves(values, where=()):
    for key, value in values.items() if isinstance(values, dict) else enumerate(values):
        if isinstance(value, dict | list) and value:
            yield from _leaves(value, (*where, key))
        yield (*where, key)


def text_of(kind, number):
    """The text of a plan."""
    maker = Maker(kind, number)
    values = maker.values()
    for _ in range(maker.r.randint(1, 3) if kind == "mutated" else 0):
        *path, last = maker.r.choice(list(_leaves(values)))
        inner = values
        for step in path:
            inner = inner[step]
        if maker.r.random() < 0.2:
            del inner[last]
        elif isinstance(inner[last], str) and maker.r.random() < 0.5:
            number_, _, unit = inner[last].partition(" ")
            inner[last] = f"{maker.r.choice((0, -1, 1e-30, 1e30, 1e5, 1e-5))} {unit}" if unit else number_ + "x"
        else:
            inner[last] = copy.deepcopy(maker.r.choice(NONSENSE))  # its lists grow in the next round
    return tomlkit.dumps(values)


def hours_at(case, rate, sub_s):
    """Hours on the clock of a filter at some sub lengths, in whole subs: the most that one of its lights needs."""
    habits, routine, t = habits_of(case, rate.scale_arcsec), case.routine, np.asarray(sub_s)
    survive = kept_share(t, routine.lost_per_hour, routine.lost_at_dither)
    parts = [(parts_of(patch_of(case, rate, name, t), habits), case.goal_of(name)) for name in rate.lights]
    most = np.max([of_light.whole_subs_for(np.square(goal)) for of_light, goal in parts], axis=0)
    shot = np.ceil(np.where(most <= 1e9, most, np.inf) / survive * (1 - 1e-12))
    return np.where(shot <= 1e9, shot, np.inf) * (t + routine.dead_s) / 3600  # more subs are no plan


def no_length_is_better(case, one):
    """No length that is allowed takes 3 % less time on the clock than the advised one."""
    rate, longest = one.rates, min(sub_limits(case, one.rates).least[0], DAY_S)
    if case.routine.sub_length is not None or one.neediest.light is None:
        return
    assert one.sub_s <= longest * (1 + 1e-9)
    tried = np.append(np.geomspace(min(1.0, longest), longest, 300), one.sub_s)
    with np.errstate(over="ignore", divide="ignore"):
        hours = hours_at(case, rate, tried)
    best = hours.argmin()
    assert hours[-1] <= BEATEN * hours[best], ("BEATEN", one.sub_s, hours[-1], hours[best], tried[best])


def check_answer(case, found):
    """What must hold of every answer."""
    top = (2**case.camera.setting.bits - 1) * case.camera.setting.native_step
    for one in found.filters:
        for row in (row for row in found.rows if row.filter_name == one.filter_name):
            for key in ("shot", "clock_h", "kept_h", "exposed_h", "storage_gb"):
                asked, given = getattr(row, key), getattr(one, key)
                assert given is None or (asked is not None and asked <= given), ("FILTERLESS", key, asked, given)
            if row.median_adu is not None:
                assert row.median_adu <= top * (1 + 1e-9), ("MEDIAN", row.median_adu, top)
            assert sum(row.noise_share.values()) < 1 + 1e-9, ("SHARES", row.noise_share)
            assert row.sub_low_s <= row.sub_high_s, ("RANGE", row)
        no_length_is_better(case, one)


def commanded(text, *options):
    """Exit code of the command for a plan's text, and what it prints and complains of."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "random.toml"
        path.write_text(text)
        said, complaint = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(complaint):
            code = main([str(path), *options])
    return code, said.getvalue(), complaint.getvalue()


def check_command(text, error=None):
    """The command answers, in words and as JSON, or complains in the one sentence of the error."""
    code, said, complaint = commanded(text)
    if error is not None:
        assert (code, said) == (2, ""), ("COMMAND", code, said)
        assert str(error) in complaint, ("COMMAND", complaint)
        return
    assert (code, complaint) == (0, ""), ("COMMAND", code, complaint)
    check_words(said)
    code, said, complaint = commanded(text, "--json")
    assert (code, complaint) == (0, ""), ("COMMAND", code, complaint)
    json.loads(said)


def check_page(plan, number):
    """The workshop's page of one's own plan, three of its boxes filled in at random."""
    r = random.Random(f"page {number}")
    filter_name = plan.case.filters[0].name
    lights = lights_of(plan, filter_name)
    if not lights:
        return
    try:
        boxes = [name for name, value in values_of(plan, filter_name, lights[0]).items() if value is not None]
        for name in r.sample(boxes, 3):
            dial = DIALS[name]
            value = r.choice((dial.low, dial.high, r.uniform(dial.low, dial.high)))
            plan, filter_name = turned(plan, filter_name, lights[0], name, value)
        shown = page(plan, filter_name, lights[0], r.uniform(DIALS["night"].low, DIALS["night"].high))
    except (PlanError, ValueError) as error:  # what a box catches
        refusal(error)
        return
    check_words(
        " ".join([shown.headline, shown.planned, *shown.rest, *(cell for row in shown.table.rows for cell in row)])
    )


def check(kind, number):
    """Take one plan through everything; return the sentence that refused it, or None where it was answered."""
    text = text_of(kind, number)
    try:
        plan = Plan.parse(text)
        found = plan.solve()
    except PlanError as error:
        check_command(text, error)
        return refusal(error)
    if number % COMMANDED_EVERY == 0:  # all draws of the command take long
        try:
            with one_sentence():
                spread(plan.case, plan.case.doubt, draws=60, found=found)
        except PlanError as error:
            check_command(text, error)
        else:
            check_command(text)
        check_page(plan, number)
        PANELS.check_panels(plan, number, kind == "wide")
    case = plan.case
    check_answer(case, found)
    refused = None
    try:
        with one_sentence():
            ranges = spread(case, case.doubt, draws=60, found=found)
        check_words(report(found, ranges))
        json.dumps(as_json(found, ranges), allow_nan=False)
        for one in FORMATS:
            one.write(plan, found, ranges)
    except PlanError as error:
        refused = refusal(error)
    for filter_ in case.filters[:1]:
        for draw in (sub_length_panel, hours_panel):
            try:
                check_words(draw(plan, filter_.name))
            except PlanError as error:
                refused = refusal(error)
    try:
        side = Side.of(plan)
        with one_sentence():
            compare(side, Side.of(plan.with_values({("goal", "snr"): 5})), 4.0)
    except PlanError as error:
        refused = refusal(error)
    return refused


REACH = re.compile(r"anything from ([\d.]+ \w+)(?: \((\d+) subs?\))? (?:to ([\d.]+ \w+)(?: \((\d+) subs?\))?|up) costs")
SAID_S = {"s": 1.0, "min": 60.0, "h": 3600.0}


def said_s(text):
    number, unit = text.split()
    return float(number) * SAID_S[unit]


def check_lengths(plan, shown):
    """A length that is advised lies among those that are called as good, and its subs are counted once."""
    one = next(one for one in shown.found.filters if one.filter_name == shown.filter_name)
    reach = REACH.search(one.sentences[0])
    assert (reach is None) == ("anything from" not in one.sentences[0])
    if plan.case.routine.sub_length is None:
        assert shown.good_s[0] <= one.sub_s <= shown.good_s[1]
    if reach is not None:
        first, fewer, last, more = reach.groups()
        advised = say_duration(one.sub_s)
        assert said_s(first) <= said_s(advised) <= (math.inf if last is None else said_s(last))
        assert {first: fewer, last: more}.get(advised) in (None, str(round(one.shot)))


def sub_length_panel(plan, name):
    """All that the sub-length panel says."""
    shown = Picture(plan, name)
    assert len(shown.ends) == len(plan.case.filters)
    low, high = shown.good_s
    assert low <= high
    check_lengths(plan, shown)
    tables = hours_table(plan), noise_table(plan)
    words = [shown.words.headline, shown.words.rest, shown.words.basis, shown.words.change]
    words += (
        [bound.words for bound in shown.bounds] + [bar.words for bar in shown.bars] + [end.label for end in shown.ends]
    )
    return " ".join(words + [cell for table in tables for row in table.rows for cell in row])


def hours_panel(plan, name):
    """All that the hours panel says, hours shared out included."""
    shown = picture(plan, name)
    with one_sentence():
        sentence, bars = shares(shown, 10.0)
        split(plan.case, 2.0, shown.found)
    words = [line.label for line in shown.lines] + [one.words for one in shown.ceilings] + [bar.words for bar in bars]
    return " ".join([sentence, *words])
