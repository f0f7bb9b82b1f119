"""Dates as a plan says them."""

from __future__ import annotations

import datetime as dt
from typing import Any

__all__ = ["read_calendar_date"]


def read_calendar_date(name: str, value: Any) -> dt.date:
    """Date of the calendar; TOML's own dates are taken as well as texts.

    Raises
    ------
    ValueError
        If it is none.

    Examples
    --------
    >>> read_calendar_date("date", "2026-10-24")
    datetime.date(2026, 10, 24)
    """
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value
    try:
        return dt.date.fromisoformat(value)
    except (TypeError, ValueError):
        msg = f'{name} must be a date, got {str(value)[:40]!r}; write it like "2026-10-24"'
        raise ValueError(msg) from None
