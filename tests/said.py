"""What is wrong with a sentence whatever it speaks of, and all that the panels, sheets and commands say of a plan."""

import html
import re

from expocalc.plan import PlanError
from expocalc.report import report
from workbook.compare.model import compare
from workbook.compare.sides import Side
from workbook.explore.hours_map import SKY, map_table
from workbook.explore.model import map_steps, no_map
from workbook.hours.levers import levers, levers_table
from workbook.hours.model import picture
from workbook.hours.noise import noise_bars
from workbook.hours.shares import shares, shares_table
from workbook.hours.sure import measure_table, snr_table, sure_steps, sure_table
from workbook.hours.verdict import words as hours_words
from workbook.plan.model import words as plan_words
from workbook.sheets import FORMATS
from workbook.sub_length.model import Picture
from workbook.sub_length.tables import hours_table, noise_table

MANY = "subs|darks|flats|biases|nights|filters|frames|hours|days|stars|pixels|electrons|lights|colours|draws|files"
FLAWS = {
    "one of many": re.compile(rf"(?<![\d.,/])1 (?:good |kept |more )?(?:{MANY})\b"),
    "an exponent": re.compile(r"\d[eE][+-]?\d"),
    "no number": re.compile(r"\b(?:nan|inf|None)\b"),
    "a zero with a sign": re.compile(r"(?<![\w.-])[-−]0(?:\.0+)?(?![\d.:])"),
    "a hole": re.compile(r"\w {2,}\w| [,.;](?=\s|$)|\.\.(?=\s|$)|\(\)|;\s*;"),
}
SPAN = re.compile(r"(?<![\w.,:-])(\d[\d.]*)( ?[^\W\d]+| %|″|°)? to (\d[\d.]*)( ?[^\W\d]+| %|″|°)?")


def flaws(text):
    """What is wrong with a text, with the place of each."""
    found = [
        f"{kind}: {text[max(m.start() - 40, 0) : m.end() + 20]!r}"
        for kind, one in FLAWS.items()
        for m in one.finditer(text)
    ]
    for m in SPAN.finditer(text):
        low, unit, high, other = m.groups()
        if float(low.rstrip(".")) == float(high.rstrip(".")) and unit in (None, other):
            found.append(f"equal ends: {m[0]!r}")
    return found


def _of(*tables):
    for table in tables:
        yield table.caption
        yield from (cell for row in (table.head, *table.rows) for cell in row)


def _drained(steps):
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return end.value


def _sub_length(plan, name):
    shown = Picture(plan, name)
    words = shown.words
    yield from (words.headline, words.rest, words.basis, words.change)
    yield from (one.words for one in (*shown.bounds, *shown.bars))
    yield from (end.label for end in shown.ends)
    yield from _of(hours_table(plan), noise_table(plan))


def _map(plan, name):
    missing = no_map(plan, name, SKY)
    yield missing
    if not missing:
        shown = _drained(map_steps(plan, name, SKY))
        yield from (shown.title, shown.up_label, *(label.words for label in shown.labels))
        yield from _of(map_table(shown))


def _hours(plan, name):
    shown = picture(plan, name)
    sure = _drained(sure_steps(shown))
    for known in (None, sure):
        words = hours_words(shown, known)
        yield from (words.headline, words.rest, words.basis, words.change)
    yield from (word for line in shown.lines for word in (line.label, line.goal_words))
    yield from (one.words for one in (*shown.ceilings, *noise_bars(shown)))
    yield from (word for lever in levers(shown) for word in (lever.label, lever.words))
    sentence, bars = shares(shown, 10.0)
    yield from (sentence, *(bar.words for bar in bars))
    tables = (levers_table(shown), shares_table(shown, 10.0), snr_table(shown, sure), sure_table(shown, sure))
    yield from _of(*tables, measure_table(shown, sure))


def _compare(plan):
    left = Side.of(plan)
    for changes in ({("goal", "snr"): 5}, {("telescope", "aperture"): "200 mm"}):
        try:
            found = compare(left, Side.of(plan.with_values(changes)), 4.0)
        except PlanError:
            continue
        words = found.words
        yield from (words.headline, words.others, words.basis, found.reasons_title)
        yield from (reason.words for reason in found.reasons)
        yield from _of(found.facts)


def _form(plan):
    words = plan_words(plan.values, plan)
    yield from (words.headline, *words.rest)


def _sheets(plan):
    found = plan.solve()
    hours = plan.spread(found)
    yield from (line for line in report(found, hours).splitlines() if not re.search(r"\S {2,}\S", line))
    for form in FORMATS:
        if form.suffix.endswith(("html", "txt")):
            text = form.write(plan, found, hours)
            text = re.sub(r"(?s)<style>.*?</style>|<[^>]+>", "\n", text)
            yield from (re.sub(r"\s+", " ", html.unescape(line)).strip() for line in text.splitlines())


def sentences(plan, name):
    """All that is said of a plan with one of its filters in view, and where."""
    for part in (_sub_length, _map, _hours, _compare, _form, _sheets):
        args = (plan, name) if part in (_sub_length, _map, _hours) else (plan,)
        try:
            said = list(part(*args))
        except PlanError:  # a sentence of its own, that its page shows
            continue
        yield from ((part.__name__.strip("_"), sentence) for sentence in said if sentence)
