"""One's own plan on one page: a few numbers laid over the demo plan, and what the plan then says."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from expocalc.base.words import say_duration, say_number
from expocalc.budget.planned import plan_for
from expocalc.plan import Plan, Where
from workbook.parts.table import Table
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.rig import H_ALPHA, demo

__all__ = ["DIALS", "Page", "own_plan", "page", "start"]

DIALS: Mapping[str, Dial] = MappingProxyType(
    {
        "sky": Dial(
            label="Sky straight up",
            unit="mag/arcsec2",
            low=17,
            high=21.9,
            step=0.1,
            example="19,1",
            start=19.1,
        ),
        "aperture": Dial(label="Aperture", unit="mm", low=30, high=400, step=0.01, log=True, example="102", start=102),
        "focal length": Dial(
            label="Focal length", unit="mm", low=100, high=3000, step=0.01, log=True, example="510", start=510
        ),
        "pixel": Dial(label="Camera's pixel", unit="um", low=1.5, high=12, step=0.1, example="3,8", start=3.8),
        "read noise": Dial(label="Read noise", unit="electron", low=0.5, high=12, step=0.1, example="1,4", start=1.4),
        "width": Dial(label="Filter's width", unit="nm", low=2, high=20, step=0.5, example="5", start=5),
        "brightness": Dial(
            label="Glow of the target", unit="R", low=1, high=300, step=0.02, log=True, example="12", start=12
        ),
        "longest sub": Dial(
            label="Mount holds for",
            unit="s",
            low=10,
            high=1200,
            step=0.02,
            log=True,
            example="300",
            start=300,
        ),
        "snr": Dial(label="SNR you want", unit="", low=3, high=50, step=1, example="10", start=10),
        "night": Dial(label="Hours in a night", unit="h", low=1, high=12, step=0.5, example="4", start=4),
    }
)
"""What a person fills in, by name."""

_PLACES: Mapping[str, Where] = MappingProxyType(
    {
        "sky": ("sky", "zenith_brightness"),
        "aperture": ("telescope", "aperture"),
        "focal length": ("telescope", "focal_length"),
        "pixel": ("camera", "pixel"),
        "read noise": ("camera", "gains", "high", "read_noise"),
        "longest sub": ("routine", "longest_sub"),
    }
)


@dataclass(frozen=True, kw_only=True)
class Page:
    """What stands on the page: one sentence, what it rests on, and a table to take along."""

    headline: str
    rest: str
    basis: str
    table: Table


def start() -> dict[str, float]:
    """Where the boxes stand first: the demo plan."""
    return {name: dial.start for name, dial in DIALS.items()}


def own_plan(values: Mapping[str, float]) -> Plan:
    """The demo plan for one line, with these numbers in it.

    Parameters
    ----------
    values : mapping of str to float
        By the names of :data:`DIALS`, in their units.

    Raises
    ------
    PlanError
        If the numbers do not fit together.

    Examples
    --------
    >>> own_plan(start() | {"width": 3.0}).case.filters[0].name
    'H-alpha 3 nm'
    """
    plan = demo()
    changes: dict[Where, Any] = {place: f"{values[name]:.6g} {DIALS[name].unit}" for name, place in _PLACES.items()}
    filters, lights = list(plan.values["filters"]), list(plan.values["target"]["light"])
    band = {**filters[0]["passbands"][0], "width": f"{values['width']:.4g} nm"}
    light = {**lights[0], "brightness": f"{values['brightness']:.4g} R"}
    return plan.with_values(
        changes
        | {
            ("title",): "My plan",
            ("filters",): [{"name": f"{H_ALPHA} {values['width']:.4g} nm", "passbands": [band]}],
            ("target", "light"): [light],
            ("goal", "snr"): float(f"{values['snr']:.6g}"),
        }
    )


def page(values: Mapping[str, float]) -> Page:
    """The page for these numbers.

    Parameters
    ----------
    values : mapping of str to float
        As in :func:`own_plan`.

    Examples
    --------
    >>> page(start() | {"aperture": 150.0}).headline
    'Take 35 subs of 5 min: 2.9 h of light. That is 1 night of 4 h.'
    """
    plan = own_plan(values)
    found = plan.solve()
    row, verdict = found.rows[0], found.filters[0].verdict
    if row.clock_h is None or row.shot is None:
        return Page(
            headline="This is out of reach.",
            rest=verdict,
            basis=_basis(plan),
            table=_table(plan, values, None),
        )
    nights = math.ceil(row.clock_h / values["night"])
    hours = plan.spread(found).rows[0].range
    planned = plan_for(row.kept_h, hours)
    said = f" {planned[0].upper()}{planned[1:]}."
    return Page(
        headline=(
            f"Take {row.shot:.0f} subs of {say_duration(row.sub_s)}: "
            f"{say_duration(3600 * row.exposed_h)} of light. That is "
            f"{nights} night{'s' if nights > 1 else ''} of {values['night']:g} h."
        ),
        rest=verdict + said,
        basis=_basis(plan),
        table=_table(plan, values, nights),
    )


def _basis(plan: Plan) -> str:
    patch = plan.case.target.patch
    return (
        f"The rest is the demo plan's: H-alpha, target {plan.case.target.altitude.value:g}° high, a patch of "
        f"{patch.value:g}″, dark current, pauses and lost subs. Measured numbers beat these: put yours in."
    )


def _table(plan: Plan, values: Mapping[str, float], nights: int | None) -> Table:
    row = plan.solve().rows[0]
    rows = [(dial.label, dial.say(values[name])) for name, dial in DIALS.items()]
    if nights is not None:
        rows += [
            ("Length of a sub", say_duration(row.sub_s)),
            ("Subs to shoot", f"{row.shot:.0f}"),
            ("Hours on the clock", say_duration(3600 * row.clock_h)),
            ("Nights", str(nights)),
        ]
    rows += [
        ("A sub is long enough from", say_duration(row.sub_shortest_s)),
        ("Sky in one sub, electrons", say_number(row.sky_e_s * row.sub_s, 3)),
        ("Middle of a test sub, ADU", f"{row.median_adu:.0f}" if row.median_adu is not None else "unknown"),
    ]
    return Table(caption="My plan", head=("What", "How much"), rows=tuple(rows))
