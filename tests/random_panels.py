"""What night, maps, frames and their panels say of random plans, and what must hold of each sentence."""

import json
import random
import re
import tempfile
from pathlib import Path

from expocalc.base.refusal import Refusal
from expocalc.frames.simulate.files import Order, write_frames
from expocalc.frames.tell.as_json import sky_json
from expocalc.night.as_json import night_json
from expocalc.night.night import tonight_of
from expocalc.plan import PlanError, one_sentence
from workbook.explore.hours_map import SKY, WIDTH, map_table
from workbook.explore.model import map_steps, no_map
from workbook.frames.sub_model import Asked, look_at_sub
from workbook.frames.sub_model import numbers as sub_numbers
from workbook.night.season import schedule_table, season, season_table
from workbook.night.sheets import FORMATS
from workbook.night.tonight import bars, blocks_table, evening, evening_table
from workbook.night.verdict import PICTURES, words_for

NO_NUMBER = re.compile(r"\b(nan|inf|infinity)\b|unknown", re.I)
FRAME = (96, 128)
"""Rows and columns of a simulated frame."""


def check_words(text):
    """A sentence of a person's: no number that is none, no talk of arrays."""
    found = NO_NUMBER.search(text)
    assert not found, (found and text[max(0, found.start() - 80) : found.end() + 40], text)
    for words in ("shapes (", "math domain", "Traceback", "object at 0x"):
        assert words not in text, (words, text)


def refusal(error):
    """The one sentence of an error."""
    sentence = str(error)
    check_words(sentence)
    assert "\n" not in sentence, sentence
    return sentence


def cells(*tables):
    """All words of tables."""
    return " ".join(cell for table in tables for row in table.rows for cell in row)


def night_values(number, wide):
    """Place, target and evening of a plan, made from its number alone."""
    r = random.Random(f"night {number}")
    latitude = r.uniform(-90, 90) if wide else r.choice((-1, 1)) * r.uniform(0, 65)
    zone = r.choice(("Europe/Brussels", "America/Denver", "Australia/Lord_Howe", "Pacific/Apia", "UTC"))
    year = r.choice((1951, 2000, 2098)) if wide and r.random() < 0.2 else r.randint(2020, 2040)
    values = {
        ("site", "latitude"): f"{latitude:.3f} deg",
        ("site", "longitude"): f"{r.uniform(-180, 180):.3f} deg",
        ("site", "time_zone"): zone,
        ("site", "horizon"): f"{r.choice((0, 10, 30, 89 if wide else 40))} deg",
        ("target", "right_ascension"): f"{r.uniform(0, 360):.3f} deg",
        ("target", "declination"): f"{r.uniform(-90, 90):.3f} deg",
        ("night", "date"): f"{year}-{r.randint(1, 12):02}-{r.randint(1, 28):02}",
        ("night", "sun_limit"): f"{r.choice((-18, -18, -12, 0))} deg",
    }
    some = {
        ("night", "clear_share"): round(r.uniform(0.05, 1), 3),
        ("night", "focus_every"): f"{r.choice((5, 60, 90))} min",
        ("night", "focus_time"): f"{r.choice((0, 3, 50))} min",
        ("night", "flip_time"): f"{r.choice((0, 5, 110))} min",
        ("night", "filter_change_time"): f"{r.choice((0, 1, 100))} min",
        ("night", "earliest"): "22:15",
        ("night", "latest"): "02:30",
        ("night", "battery"): "500 W h",
        ("night", "power"): "40 W",
        ("night", "storage"): "64 Gbyte",
    }
    return values | {where: value for where, value in some.items() if r.random() < 0.4}


def night_panel(plan, number, wide):
    """All that the panel of a night says, its exports, and now and then its season."""
    plan = plan.with_values(night_values(number, wide))
    name = plan.case.filters[-1].name
    with one_sentence():
        night = tonight_of(plan.case)
        shown = evening(night)
        campaign = night.campaign if number % 5 == 0 else None
        said = [words_for(picture, night, campaign, (), name) for picture in PICTURES]
        words = [cells(blocks_table(night), evening_table(shown)), *(bar.words for bar in bars(night))]
        words += [line for one in said for line in (one.headline, *one.rest)]
        if campaign is not None:
            words.append(cells(season_table(season(campaign)), schedule_table(campaign)))
        json.dumps(night_json(night), allow_nan=False)
        for form in FORMATS:
            form.write(night, None)
    return " ".join(words)


def map_panels(plan, name):
    """All that the maps say."""
    words = []
    for kind in (SKY, WIDTH):
        missing = no_map(plan, name, kind)
        if missing:
            words.append(missing)
            continue
        with one_sentence():
            shown = finished(map_steps(plan, name, kind))
            words += [shown.title, shown.up_label, shown.here, *(edge.words for edge in shown.edges)]
            words += [label.words for label in shown.labels]
            words.append(cells(map_table(shown)))
    return " ".join(words)


def finished(steps):
    """What a work of many steps returns."""
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return end.value


def frames_panel(plan, number):
    """All that the view of a test sub says of a simulated frame of the plan."""
    with tempfile.TemporaryDirectory() as folder, one_sentence():
        write_frames(plan.case, folder, Order(subs=1, biases=1, shape=FRAME), seed=number)
        sub, bias = (next(Path(folder).glob(f"{kind}*")).name for kind in ("sub", "bias"))
        shown = look_at_sub(plan, Path(folder), Asked(frame=sub, below=bias), lambda _: None)
        json.dumps(sky_json(shown.told), allow_nan=False)
        table = cells(sub_numbers(shown)).replace(" unknown", "")  # what a frame does not show
        return " ".join([shown.headline, *shown.others, table])


def check_panels(plan, number, wide):
    """Take a plan that has an answer through the panels of night, maps and frames; those may refuse in a sentence."""
    for draw in (
        lambda: night_panel(plan, number, wide),
        lambda: map_panels(plan, plan.case.filters[0].name),
        lambda: frames_panel(plan, number),
    ):
        try:
            check_words(draw())
        except (PlanError, Refusal) as error:
            refusal(error)
