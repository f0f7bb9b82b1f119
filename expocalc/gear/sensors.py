"""Types of sensor whose values were published: a start for who has no data sheet at hand.

The values stand in `data/sensors.ecsv`, each with its source. What was not seen published is left out: a plan then
still needs it from the camera's own data sheet.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from expocalc.base.table import DATA

__all__ = ["DOUBLING", "SENSORS", "Sensor"]

DOUBLING = "6 K"
"""Warming that doubles a dark current, from memory: the papers give one temperature."""


@dataclass(frozen=True, kw_only=True)
class Sensor:
    """One type of sensor.

    Parameters
    ----------
    name : str
    source : str
        Author, year and journal, and which values are from there.
    memory : str
        Which values are from memory.
    published : mapping of str to str
        Columns of the table, those that were published, as they stand there.
    """

    name: str
    source: str
    memory: str
    published: Mapping[str, str]

    def camera(self) -> dict[str, Any]:
        """Values of a plan's section [camera], as far as they are known.

        Examples
        --------
        >>> camera = SENSORS["IMX411 (54 x 40 mm)"].camera()
        >>> camera["pixel"], camera["dark_current"]["rate"], camera["gains"]["published"]
        ('3.76 um', '0.007 electron/s', {'bits': 16})
        """
        known = self.published
        camera: dict[str, Any] = {
            "pixel": f"{known['pixel']} um",
            "columns": int(known["columns"]),
            "rows": int(known["rows"]),
            "quantum_efficiency": "back-lit mono",
        }
        if "dark" in known:
            dark = {"rate": f"{known['dark']} electron/s", "at": f"{known['dark_at']} deg_C"}
            camera["dark_current"] = {**dark, "doubles_every": DOUBLING}
        gain: dict[str, Any] = {"bits": int(known["bits"])}
        if "read_noise" in known:
            gain["read_noise"] = f"{known['read_noise']} electron"
        if "electrons_per_adu" in known:
            gain["electrons_per_adu"] = float(known["electrons_per_adu"])
            # the converter ends before the well does
            gain["full_well"] = f"{float(known['electrons_per_adu']) * (2 ** gain['bits'] - 1):.0f} electron"
        camera["gains"] = {"published": gain}
        return camera

    @property
    def about(self) -> str:
        """Where the values come from, in a sentence or two."""
        well = " Full well: where the converter ends." if "electrons_per_adu" in self.published else ""
        return (
            f"{self.source}. From memory: {self.memory}, and a dark current that doubles every {DOUBLING}.{well} "
            "Cameras of one type differ; your own data sheet comes first."
        )


def _read(path: Path) -> Mapping[str, Sensor]:
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    found = {}
    for row in rows:
        words = {key: row.pop(key) for key in ("name", "source", "memory")}
        found[words["name"]] = Sensor(**words, published=MappingProxyType({k: v for k, v in row.items() if v}))
    return MappingProxyType(found)


SENSORS = _read(DATA / "sensors.ecsv")
"""All types by name."""
