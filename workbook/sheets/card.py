"""The card of a rig: for each filter the shortest good sub and the hours against the sky, on one page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from html import escape
from typing import Any

import numpy as np

from expocalc import sweep
from expocalc.base.words import say_duration, say_number, say_share
from expocalc.budget.row import Answer
from expocalc.budget.spread import Spread
from expocalc.plan import Plan
from workbook.parts.reading import on_reading, zenith_reading

__all__ = ["SKIES", "to_card"]

SKIES = (17.0, 18.0, 18.5, 19.0, 19.5, 20.0, 20.5, 21.0, 21.5)
"""Readings of the card's columns. [mag arcsec-2]"""
LADDER = (0.5, 1.0, 2.0, 4.0)
"""Rungs of the ladder, as multiples of the goal's SNR."""
_MOST_FILTERS = 7
_STYLE = """
:root { color-scheme: light; }
@page { margin: 12mm; }
body { max-width: 180mm; margin: 0 auto; background: #fff; color: #000; font: 10pt/1.3 sans-serif; }
h1 { font-size: 14pt; margin: 0 0 2mm; max-height: 2.6em; overflow: hidden; overflow-wrap: anywhere; }
h2 { font-size: 11pt; margin: 3mm 0 1mm; border-bottom: 1pt solid #000; }
p { margin: 1mm 0; max-height: 4em; overflow: hidden; overflow-wrap: anywhere; }
table { border-collapse: collapse; width: 100%; }
th, td { border: .5pt solid #000; padding: .8mm 1.2mm; text-align: right; font-size: 9pt; white-space: nowrap; }
th:first-child { text-align: left; max-width: 40mm; overflow: hidden; text-overflow: ellipsis; }
.here { font-weight: bold; border: 1.5pt solid #000; }
"""


def to_card(plan: Plan, found: Answer, hours: Spread) -> str:
    """The rig on one page: what holds for any night with it, whatever the target's hours are.

    Parameters
    ----------
    plan : Plan
    found : Answer
        The plan's own.
    hours : Spread
        Not used: the card holds best guesses.

    Returns
    -------
    str
        A whole HTML document; whatever the plan's names hold is text in it.
    """
    del hours
    case = plan.case
    table = sweep(_by_reading(plan), {"sky.zenith_brightness": [f"{mag} mag/arcsec2" for mag in SKIES]})
    at = ("sky.zenith_brightness", SKIES)
    names = [one.filter_name for one in found.filters][:_MOST_FILTERS]
    here = int(np.abs(np.array(SKIES) - zenith_reading(case.sky)).argmin())
    telescope, setting = case.telescope, case.camera.setting
    band = {"meter": "by meter", "cie-V": "from luminance", "bessell-V": "in V"}[case.sky.reading_band]
    growth = say_share(case.goal.noise_growth)
    title = escape(case.title)
    more = len(found.filters) - len(names)
    left_out = f"<p>And {more} filters more, which have no room here.</p>" if more else ""
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{title}</title>
<style>{_STYLE}</style>
</head>
<body>
<h1>{title}</h1>
<p>{float(telescope.aperture.value):.4g} mm at f/{telescope.focal_ratio:.3g}, gain {escape(str(case.camera.gain))}, read
noise {say_number(float(setting.read_noise.value))} electrons, {float(case.camera.temperature.value):.3g} °C, target
{say_number(float(case.target.altitude.value))}° high. Made on {date.today():%d %b %Y}.</p>
<h2>Shortest good sub</h2>
<p>From this length on read noise adds at most {growth} to the noise. Sky overhead in mag/arcsec² {band}; the framed
column is nearest to the plan's {zenith_reading(case.sky):.2f}.</p>
{_by_sky(names, [_of(table, *at, name, "sub_shortest_s", 1.0) for name in names], here)}
<h2>Hours on the clock to SNR {say_number(case.goal.snr)}</h2>
<p>For the light of the plan that needs most, with the sub that is best there.</p>
{_by_sky(names, [_of(table, *at, name, "clock_h", 3600.0) for name in names], here)}
<h2>Ladder of hours</h2>
<p>Under the plan's sky, in whole subs.</p>
{_ladder(plan, names)}
{left_out}
<p>Best guesses for a clear sky without cloud; no safety device. {_mount(plan)}</p>
</body>
</html>
"""


def _by_reading(plan: Plan) -> Plan:
    """The plan with its sky as one reading that holds in all filters."""
    changes = on_reading(plan)
    return plan.with_values(changes | ({("sky", "measured"): None} if plan.case.sky.measured else {}))


def _of(table: Any, place: str, values: Sequence[float], name: str, column: str, unit_s: float) -> list[str]:
    """A column of a sweep for one filter, in words: of the light that asks for most, at each value of the place."""
    mine = table[(table["filter"] == name) & (np.array(table["light"]) != "")]
    places, numbers = np.array(mine[place], dtype=float), np.array(mine[column], dtype=float)
    said = []
    for value in values:
        own = numbers[np.isclose(places, value)]
        if not own.size:
            said.append("no light")
            continue
        most = float(np.max(np.where(np.isnan(own), np.inf, own)))
        said.append(say_duration(most * unit_s) if math.isfinite(most) else "never")
    return said


def _by_sky(names: Sequence[str], rows: Sequence[Sequence[str]], here: int) -> str:
    head = "".join(f'<th scope="col"{_framed(at == here)}>{mag:.1f}</th>' for at, mag in enumerate(SKIES))
    body = "".join(
        f'<tr><th scope="row">{escape(name)}</th>'
        + "".join(f"<td{_framed(at == here)}>{word}</td>" for at, word in enumerate(row))
        + "</tr>"
        for name, row in zip(names, rows, strict=True)
    )
    return f'<table><thead><tr><th scope="col">Sky</th>{head}</tr></thead><tbody>{body}</tbody></table>'


def _framed(here: bool) -> str:
    return ' class="here"' if here else ""


def _ladder(plan: Plan, names: Sequence[str]) -> str:
    """Hours on the clock to some SNRs, a row for each filter."""
    snrs = [plan.case.goal.snr * times for times in LADDER]
    table = sweep(plan, {"goal.snr": snrs})
    head = "".join(f'<th scope="col">SNR {say_number(snr)}</th>' for snr in snrs)
    body = "".join(
        f'<tr><th scope="row">{escape(name)}</th>'
        + "".join(f"<td>{word}</td>" for word in _of(table, "goal.snr", snrs, name, "clock_h", 3600.0))
        + "</tr>"
        for name in names
    )
    return f'<table><thead><tr><th scope="col">Filter</th>{head}</tr></thead><tbody>{body}</tbody></table>'


def _mount(plan: Plan) -> str:
    longest = plan.case.routine.longest_sub
    return "" if longest is None else f"The mount holds subs of {say_duration(float(longest.value))}."
