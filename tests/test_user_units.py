"""A user who reads the sky as luminance and lengths in inches reads no magnitude of a sky and no millimetre."""

import html
import re
import runpy
from pathlib import Path
from types import SimpleNamespace

import pytest

from expocalc.plan import Plan, PlanError
from workbook.hours import HoursPanel
from workbook.hours.levers import levers_table
from workbook.hours.model import picture
from workbook.night import NightPanel
from workbook.night.verdict import PICTURES as NIGHT_PICTURES
from workbook.parts.reading import luminance_of, say_sky
from workbook.parts.units import METRIC, Units, use_units
from workbook.plan.model import say_table
from workbook.sub_length.view import SubLengthPanel
from workbook.workshop.own_plan_model import page

HERE = Path(__file__).parent
MADE, SAID, SCREEN = (
    SimpleNamespace(**runpy.run_path(str(HERE / name))) for name in ("random_plans.py", "said.py", "on_screen.py")
)
OTHER = Units(length="inch", sky="mcd/m2")
PLANS = range(0, 22, 2)
OF_SKY = re.compile(
    r"\bV \d|\d mag (?:darker|brighter)|sky of [\d.]+ mag|\d\s*mm\b(?! wide)|mag/arcsec² by|^[\d.]+ mag(?:/arcsec²)?$"
)
"""Brightness of a sky, or a telescope's length; target and stars have magnitudes in any unit."""


@pytest.fixture
def units():
    """Turns all boxes and words to some units until the test is over."""
    yield use_units
    use_units(METRIC)


def plans():
    for number in PLANS:
        try:
            plan = Plan.parse(MADE.text_of("tame", number))
            plan.solve()
        except PlanError:
            continue
        yield number, plan


def told(number, plan):
    """All that panels and printed page say of a plan."""
    name = plan.case.filters[0].name
    for part in (SAID._sub_length, SAID._map, SAID._hours):
        yield from _kept(part, plan, name)
    yield from _kept(SAID._compare, plan)
    yield from _kept(SAID._form, plan)
    text = next(form for form in SAID.FORMATS if form.suffix == ".html").write(plan, plan.solve(), plan.spread())
    yield html.unescape(re.sub(r"(?s)<style>.*?</style>|<[^>]+>", "\n", text))
    light = plan.solve().filters[0].neediest.light
    if light:
        yield page(plan, name, light, 5.0).rest[-1]
    if not number % 10:
        yield MADE.PANELS.night_panel(plan, number, wide=False)


def _kept(part, *args):
    try:
        return list(part(*args))
    except PlanError:  # its page shows the sentence
        return []


def test_no_sky_in_magnitudes_and_no_length_in_millimetres(units):
    metric = {}
    for number, plan in plans():
        units(METRIC)
        metric[number] = sum(bool(OF_SKY.search(text)) for text in told(number, plan))
        units(OTHER)
        for text in told(number, plan):
            found = OF_SKY.search(text)
            assert not found, (number, text[max(0, found.start() - 80) : found.end() + 40])
    assert min(metric.values()) > 1, "in metric units there is something to be found"


def test_the_levers_say_the_plans_own_sky(units):
    """The luminance beside "instead of" is the plan's, as every panel says it; the darker one is darker."""
    seen = 0
    for _, plan in plans():
        units(OTHER)
        try:
            rows = levers_table(picture(plan, plan.case.filters[0].name)).rows
        except PlanError:
            continue
        for label in (row[0] for row in rows if "Bortle class" in row[0]):
            after, before = re.search(r"darker, ([\d.]+) mcd/m² instead of ([\d.]+) mcd/m²", label).groups()
            assert f"{before} mcd/m²" == say_sky(plan.case.sky)
            assert float(after) < luminance_of(plan.case.sky)
            seen += 1
    assert seen > 2


@pytest.mark.parametrize("made", [SubLengthPanel, HoursPanel, NightPanel])
def test_panels_on_the_screen(made, units, demo_folder):
    counts = []
    for chosen in (METRIC, OTHER):
        units(chosen)
        (demo_folder / ".expocalc-units.json").write_text(
            f'{{"length": "{chosen.length}", "sky": "{chosen.sky}"}}', encoding="utf-8"
        )
        panel = made("plans/mono-single-lines.toml", demo_folder)
        words = SCREEN.words_of(panel.widget)
        pick = getattr(panel, "pick", None)
        for picture_name in pick.options if made is HoursPanel else NIGHT_PICTURES[:2] if made is NightPanel else ():
            pick.value = picture_name
            words += SCREEN.words_of(panel.widget)
        found = [word for word in words if OF_SKY.search(SCREEN.plain(word))]
        counts.append(len(found))
        if chosen is OTHER:
            assert not found
    assert counts[0] > 0, "in metric units there is something to be found"


def test_a_folded_telescope_says_its_lengths_in_the_users_unit():
    telescope = {"aperture": "101.6 mm", "focal_length": "558.8 mm", "reducer": 0.8}
    assert say_table(telescope, OTHER) == "aperture 4 inch, focal length 22 inch, reducer 0.8"
    assert say_table(telescope, METRIC) == "aperture 101.6 mm, focal length 558.8 mm, reducer 0.8"
