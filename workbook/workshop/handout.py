"""The handout: one sheet in black and white, that survives the photocopier. Its numbers come from the model."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from workbook.workshop.experiments.moon import LIGHTS, MOON_ALTITUDE_DEG
from workbook.workshop.experiments.rig import demo
from workbook.workshop.handout_numbers import (
    GRADIENT,
    MOON_AWAY_DEG,
    SKIES,
    altitude_rows,
    ladder_rows,
    moon_rows,
    noise_rows,
)

__all__ = ["MARK", "PAPERS", "handout"]

MARK = '<meta name="generator" content="expocalc workshop handout">'
"""By which a handout is told from a file that somebody else wrote."""

PAPERS = {"a4": "A4", "letter": "letter"}
"""Paper's name, and what the style rule calls it."""
_STYLE = """
:root { color-scheme: light; }
@page { size: %s portrait; margin: 11mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 190mm; background: #fff; color: #000; font: 9pt/1.25 sans-serif; }
h1 { font-size: 15pt; margin: 0 0 1mm; }
h2 { font-size: 10.5pt; margin: 1.8mm 0 .8mm; border-bottom: 1pt solid #000; }
p, ol, ul { margin: .8mm 0; }
ol, ul { padding-left: 5mm; }
.two { display: grid; grid-template-columns: 1fr 1fr; gap: 0 7mm; }
table { border-collapse: collapse; width: 100%%; }
caption { text-align: left; padding-bottom: .5mm; }
th, td { border: .75pt solid #000; padding: .5mm 1.5mm; text-align: left; }
.formula { border: 1.5pt solid #000; padding: 1mm 3mm; display: flex; align-items: center; gap: 3mm; }
.formula .over { display: block; border-bottom: 1pt solid #000; text-align: center; }
.measure { list-style: none; padding-left: 0; }
.blank td, .blank th { height: 6.5mm; }
.line { display: inline-block; border-bottom: .75pt solid #000; min-width: 22mm; }
"""
_MEASURE = (
    ("Middle value (median) of a dark as long as your sub", "ADU"),
    ("Middle value of a test sub, between the stars", "ADU"),
    ("Electrons for each ADU, at your gain setting", "e-/ADU"),
    ("Read noise, at your gain setting", "e-"),
    ("Length of the test sub", "s"),
)
_CAUTIONS = (
    "Never aim an open telescope or finder near the Sun. Cap it before dawn.",
    "Outdoors, use leads and sockets made for outdoors, with a cut-out. Keep joints off wet ground.",
    "No fuel heater or generator in a tent, car or closed hut.",
    "No laser near aircraft, cars, people or animals.",
    "Mark cables and tripod legs. Keep hands and cables clear of a mount that moves by itself.",
    "Dress for more cold than forecast. Too tired to drive? Sleep first.",
)
_PLAN_HEADS = ("Filter", "Sub length", "Subs to shoot", "Subs kept", "Hours so far", "Hours to go")


def handout(paper: str = "a4") -> str:
    """The sheet as a whole HTML document.

    Parameters
    ----------
    paper : str
        One of `PAPERS`.

    Raises
    ------
    ValueError
        If it is another.
    """
    if paper not in PAPERS:
        msg = f"paper must be one of {', '.join(PAPERS)}, got {paper!r}"
        raise ValueError(msg)
    measure = "".join(
        f'<li>{sign} {escape(what)}: <span class="line"></span> {unit}</li>'
        for sign, (what, unit) in zip("①②③④⑤", _MEASURE, strict=True)
    )
    cautions = "".join(f"<li>{escape(one)}</li>" for one in _CAUTIONS)
    blank = "".join(f"<tr>{'<td></td>' * len(_PLAN_HEADS)}</tr>" for _ in range(4))
    plan_heads = "".join(f'<th scope="col">{head}</th>' for head in _PLAN_HEADS)
    sky_heads = [f"{name}, {reading.split()[0]}: {light}" for name, reading in SKIES.items() for light in LIGHTS]
    target = demo().case.target
    altitudes = _table(
        "Times the hours of straight up (town, red light)", ("Altitude", "Hours"), altitude_rows(), across=True
    )
    moons = _table(
        "Times the hours without it, by sky (mag/arcsec², larger is darker) and filter (5 nm). "
        f"Moon {MOON_ALTITUDE_DEG:g}° up and {MOON_AWAY_DEG:g}° from a target {target.altitude.value:g}° up, the demo "
        "plan's telescope and camera, clear air; "
        "haze makes it worse.",
        ("Moon", *sky_heads),
        moon_rows(),
    )
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
{MARK}
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>How long, how many hours?</title>
<style>{_STYLE % PAPERS[paper]}</style>
</head>
<body>
<h1>How long should a sub be, and how many hours does it take?</h1>
<p class="formula"><b>SNR =</b> <span><span class="over">electrons from the target</span>
square root of (target + sky + dark electrons + number of subs × read noise × read noise)</span></p>
<p><b>SNR</b>, signal over noise, tells how far a thing stands out of the grain: 2 is a hint, 5 plain, 10 good. Count
in electrons, over all subs together and over one patch of sky. A square twice as wide has twice the SNR, so say which
patch you mean (the lessons: {target.patch.value:g}″). The top grows with the hours, the bottom with their square
root.</p>
<div class="two">
<div>
<h2>Five numbers to measure</h2>
<ul class="measure">{measure}</ul>
<p><b>ADU</b> are the numbers in the camera's file. A camera of 12 or 14 bits may store multiples of 16 or 4: then ③ and
④ must speak of the same ADU as the file.</p>
<p>③ and ④ from two shortest subs with the cap on (biases) and two of even light (flats): subtract one of each pair from
the other; its spread ÷ 1.41 is the noise in ADU. ③ = (middle of flats − of biases) ÷ (flats' noise² − biases' noise²).
④ = biases' noise × ③.</p>
<p><b>A.</b> Sky electrons a sub = (② − ①) × ③ = <span class="line"></span></p>
<p><b>B.</b> A ÷ (④ × ④) = <span class="line"></span> × read noise squared</p>
<p>Look B up on the right. Is it 10 or more? Then longer subs win next to nothing.
Sub for 10 ×: 10 × (④ × ④) ÷ A × ⑤ = <span class="line"></span> s</p>
</div>
<div>
<h2>Is my sub long enough?</h2>
{_table("What read noise adds", ("Sky in one sub (B)", "more noise", "more hours"), noise_rows())}
<h2>Hours and SNR</h2>
{_table("The square-root ladder", ("Times the hours", "Times the SNR"), ladder_rows(), across=True)}
<h2>How high is the target?</h2>
{altitudes}
</div>
</div>
<h2>What the Moon costs</h2>
{moons}
<h2>My plan</h2>
<p>Target: <span class="line" style="min-width:55mm"></span> Date: <span class="line"></span>
From: <span class="line"></span> To: <span class="line"></span></p>
<table class="blank"><thead><tr>{plan_heads}</tr></thead><tbody>{blank}</tbody></table>
<h2>Take care</h2>
<ul class="two">{cautions}</ul>
<p>Local rules, the makers' instructions and licensed people come first. These are estimates for clear nights, not a
safety device. The table of altitudes holds where the sky makes the grain, with a sky {GRADIENT} brighter at 45° than
straight up. Moonlight: Krisciunas &amp; Schaefer 1991, PASP 103, 1033.</p>
</body>
</html>
"""


def _table(caption: str, heads: Sequence[str], rows: Sequence[Sequence[str]], *, across: bool = False) -> str:
    """A table; `across` lays its rows side by side, for long lists of short pairs."""
    if across:
        columns = list(zip(*rows, strict=True))
        body = "".join(
            f'<tr><th scope="row">{escape(head)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in column)}</tr>'
            for head, column in zip(heads, columns, strict=True)
        )
        return f"<table><caption>{escape(caption)}</caption><tbody>{body}</tbody></table>"
    head = "".join(f'<th scope="col">{escape(word)}</th>' for word in heads)
    body = "".join(
        f'<tr><th scope="row">{escape(first)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in rest)}</tr>'
        for first, *rest in rows
    )
    return f"<table><caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
