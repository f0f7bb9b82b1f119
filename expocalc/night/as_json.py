"""A night as plain data; its keys are what others script against."""

from __future__ import annotations

from typing import Any

from expocalc.night.clear import Count
from expocalc.night.evening import iso_z
from expocalc.night.events import Passage
from expocalc.night.fields import field_numbers
from expocalc.night.night import ALL, Tonight
from expocalc.night.words import verdict

__all__ = ["night_json"]


def night_json(night: Tonight) -> dict[str, Any]:
    """A night ready for ``json.dumps(..., allow_nan=False)``: times in UTC, units in the keys."""
    filters = night.case.filters
    campaign = night.campaign
    counts, planned = (campaign.counts, campaign.planned) if campaign else ({}, {})
    return {
        "title": night.case.title,
        "date": night.evening.date.isoformat(),
        "time_zone": night.evening.zone,
        "sun": {
            **_passage(night.sun),
            "dark_begin_utc": iso_z(night.dark_begin_s),
            "dark_end_utc": iso_z(night.dark_end_s),
        },
        "moon": {
            **_passage(night.moon),
            "illuminated": night.illuminated,
            "phase_angle_deg": night.phase_angle_deg,
        },
        "target": {**_passage(night.target), "highest_deg": night.highest_deg},
        "windows": [
            {
                "begin_utc": iso_z(window.begin_s),
                "end_utc": iso_z(window.end_s),
                "opened_by": window.opened_by,
                "closed_by": window.closed_by,
            }
            for window in night.windows
        ],
        "hours": [
            {
                "filter": filters[place].name,
                "dark_h": hours.dark_h,
                "moonlit_h": hours.moonlit_h,
                "equivalent_dark_h": hours.equivalent_dark_h,
            }
            for place, hours in enumerate(night.hours)
        ],
        "blocks": [
            {
                "filter": block.filter_name,
                "begin_utc": iso_z(block.begin_s),
                "end_utc": iso_z(block.end_s),
                "sub_s": block.sub_s,
                "subs": block.subs,
                "dither_every": block.dither_every,
                "median_adu": field_numbers(night, block).median_adu,
                "equivalent_dark_h": block.equivalent_dark_h,
            }
            for block in night.blocks
        ],
        "nights": [
            {"filter": name, **_count("nights", counts[name]), **_count("plan_for", planned[name])}
            for name in (*(f.name for f in filters), ALL)
            if name in counts
        ],
        "verdict": verdict(night),
    }


def _count(key: str, count: Count) -> dict[str, int | None]:
    return {f"{key}_p10": count.p10, f"{key}_p50": count.p50, f"{key}_p90": count.p90}


def _passage(found: Passage) -> dict[str, str | None]:
    return {
        "rise_utc": iso_z(found.rise_s),
        "set_utc": iso_z(found.set_s),
        "transit_utc": iso_z(found.transit_s),
    }
