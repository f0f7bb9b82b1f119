"""The schedule as it leaves the workbook: field sheet, tables, calendar."""

from __future__ import annotations

import csv
import datetime as dt
import io
import textwrap

import numpy as np

from expocalc.base.words import say_duration, say_number
from expocalc.night.as_json import night_json
from expocalc.night.blocks import Block
from expocalc.night.dark_words import sky_sentences
from expocalc.night.evening import iso_z
from expocalc.night.fields import field_numbers
from expocalc.night.night import Tonight
from expocalc.night.words import focus_words, schedule_sentences, second_best, supply_words
from workbook.sheets.field import WIDTH, plain
from workbook.sheets.formats import Format

__all__ = ["CAUTIONS", "FORMATS", "field_text", "to_calendar", "to_csv", "to_ecsv"]

CAUTIONS = (
    "Reminders; local codes, makers' instructions and licensed practice come first.",
    "This tool does not decide whether a mount may run unattended, near sunrise least of all: cap the telescope "
    "before dawn and never point it near the Sun.",
    "Mains outdoors: outdoor-rated leads, a residual-current device, joints off the wet ground. Dress for far below "
    "the forecast; stop when you shiver. Tired: nap or stay over rather than drive.",
)


def field_text(night: Tonight, cloudy_until_s: float | None = None) -> str:
    """The night on one sheet of 60 plain characters a line, with what to do if it is cloudy until a moment."""
    lines = [
        plain(night.case.title)[:WIDTH],
        plain(f"Night of {night.evening.date}, times of {night.evening.zone}")[:WIDTH],
        *_wrapped(" ".join(sky_sentences(night))),
        "-" * WIDTH,
    ]
    for block in night.blocks:
        lines += _block_lines(night, block)
    if night.blocks:
        lines += [plain(f"Stop at {night.evening.clock(night.blocks[-1].end_s)}."), *_wrapped(supply_words(night))]
        lines += _wrapped(second_best(night, cloudy_until_s))
        focus = focus_words(night.case)
        lines += _wrapped(f"{focus[0].upper()}{focus[1:]}.")
    lines += ["-" * WIDTH, *[line for caution in CAUTIONS for line in _wrapped(caution)]]
    return "\n".join(lines) + "\n"


def _block_lines(night: Tonight, block: Block) -> list[str]:
    """When, what, how many, what the median should read, and when to change."""
    clock, numbers = night.evening.clock, field_numbers(night, block)
    bias = night.case.camera.setting.bias_level or 0.0
    above = "" if numbers.median_adu is not None else " above the bias"
    dither = "no dither" if block.dither_every is None else f"dither every {block.dither_every}"
    utc = (iso_z(block.begin_s) or "")[11:16]
    low, middle, high = (
        say_number(adu + bias, 3) for adu in (numbers.low_adu, numbers.above_bias_adu, numbers.high_adu)
    )
    lines = [
        plain(f"{clock(block.begin_s)} to {clock(block.end_s)} ({utc} UTC)  {block.filter_shown}")[:WIDTH],
        *_wrapped(
            f"{block.subs} x {say_duration(block.sub_s)}, {dither}; median {middle} ADU{above} ({low} to {high})", "   "
        ),
    ]
    if numbers.change_adu is not None:
        change = say_number(numbers.change_adu, 3)
        lines += _wrapped(f"if it reads above {change} ADU{above}, change to {numbers.change_to}", "   ")
    return lines


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(plain(text), WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False)


_COLUMNS = ("filter", "begin_utc", "end_utc", "sub_s", "subs", "dither_every", "median_adu", "equivalent_dark_h")
_UNITS = {"sub_s": "s", "median_adu": "adu", "equivalent_dark_h": "h"}


def to_csv(night: Tonight) -> str:
    """The blocks as a table for a spreadsheet; text that a spreadsheet could take for a formula is quoted by a '."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for block in night_json(night)["blocks"]:
        row = [block[name] for name in _COLUMNS]
        row[0] = f"'{row[0]}" if str(row[0])[:1] in "=+-@\t" else row[0]
        writer.writerow(["" if cell is None else cell for cell in row])
    return out.getvalue()


def to_ecsv(night: Tonight) -> str:
    """The blocks as a table with units, for astropy."""
    from astropy.table import Table  # heavy, and most nights are looked at without an export

    found = night_json(night)
    blocks = found["blocks"]
    numbers = {"sub_s", "median_adu", "equivalent_dark_h"}
    columns = {
        name: [np.nan if name in numbers and block[name] is None else block[name] for block in blocks]
        for name in _COLUMNS
    }
    columns["dither_every"] = [0 if every is None else every for every in columns["dither_every"]]
    kinds = {"filter": str, "begin_utc": str, "end_utc": str, "subs": int, "dither_every": int}
    table = Table(columns, dtype=[kinds.get(name, float) for name in _COLUMNS])
    for name, unit in _UNITS.items():
        table[name].unit = unit
    table.meta = {key: found[key] for key in ("title", "date", "time_zone", "verdict")} | {"cautions": list(CAUTIONS)}
    out = io.StringIO()
    table.write(out, format="ascii.ecsv")
    return out.getvalue()


def to_calendar(night: Tonight) -> str:
    """The blocks as events of a calendar, RFC 5545."""
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//expocalc//night//EN")
    calendar.add("version", "2.0")
    stamp = dt.datetime.fromtimestamp(night.evening.begin_s, dt.UTC)
    for at, block in enumerate(night.blocks, start=1):
        event = Event()
        event.add("uid", f"{night.evening.date}-{at}@expocalc")
        event.add("dtstamp", stamp)
        event.add("dtstart", dt.datetime.fromtimestamp(round(block.begin_s), dt.UTC))
        event.add("dtend", dt.datetime.fromtimestamp(round(block.end_s), dt.UTC))
        event.add("summary", f"{block.filter_shown}: {block.subs} × {say_duration(block.sub_s)}")
        event.add("description", " ".join((*schedule_sentences(night), *CAUTIONS)))
        calendar.add_component(event)
    return calendar.to_ical().decode()


FORMATS = (
    Format("Field sheet", ".txt", "plain text for the night", field_text),
    Format("CSV", ".csv", "table for a spreadsheet", lambda night, _: to_csv(night)),
    Format("ECSV", ".ecsv", "table with its units, for astropy", lambda night, _: to_ecsv(night)),
    Format("Calendar", ".ics", "events for a calendar", lambda night, _: to_calendar(night)),
)
"""In the order of their buttons; each is written of a night, and of the moment until which it may be cloudy."""
