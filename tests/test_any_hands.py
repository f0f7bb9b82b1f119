"""Hands that press anything in any order: a panel answers, or says a sentence, and never falls over."""

import random
from types import SimpleNamespace

import ipywidgets as w
import pytest

from expocalc.plan import Plan
from workbook.compare import ComparePanel
from workbook.hours import HoursPanel
from workbook.night import NightPanel
from workbook.parts.units import Units, use_units
from workbook.sub_length import SubLengthPanel

PANELS = {"sub length": SubLengthPanel, "hours": HoursPanel, "compare": ComparePanel, "night": NightPanel}
SEEDS = {"sub length": 1, "hours": 1, "compare": 6, "night": 1}
ACTS = {"sub length": 15, "hours": 15, "compare": 60, "night": 12}
"""As many as a minute has room for; more were tried by hand."""
SKIPPED = ("Field sheet", "Page", "Card", "CSV", "ECSV", "JSON", "Calendar")
"""Buttons that write files, which have tests of their own."""
TYPED = ("", "none", "5", "0,5", "1e9", "-3", "x", "60 s", "3 nm", "20 mag/arcsec2", "20:00", "no limit", "perfect")


@pytest.fixture
def folder(demo_folder):
    """Plans whose filters and lights have other names."""
    mono = Plan.read(demo_folder / "plans/mono-single-lines.toml")
    both = [{"centre": centre, "width": "6 nm"} for centre in ("656.3 nm", "500.7 nm")]
    lights = [{"continuum": "24 mag/arcsec2"}, {"line": "O III", "brightness": "9 R"}]
    filters = [
        {"name": "broad", "passbands": [{"centre": "550 nm", "width": "280 nm"}]},
        {"name": "dual", "passbands": both, "wanted": ["O III"]},
        {"name": "red end", "passbands": [{"centre": "800 nm", "width": "60 nm"}]},
    ]
    mono.with_values({("filters",): filters, ("target", "light"): lights}).save(demo_folder / "plans/other.toml")
    yield demo_folder
    use_units(Units())


def parts(root):
    """Everything of a panel that a hand can reach."""
    found, waiting = [], [root]
    while waiting:
        one = waiting.pop()
        if isinstance(one, w.Box):
            waiting += one.children
        elif isinstance(
            one, w.Text | w.Combobox | w.Dropdown | w.FloatSlider | w.Button | w.ToggleButton | w.ToggleButtons
        ):
            found.append(one)
    return found


def touch(one, dice, names):
    """Do something with a part, as a hand would."""
    if isinstance(one, w.Dropdown | w.ToggleButtons):
        one.index = dice.randrange(len(one.options))
    elif isinstance(one, w.FloatSlider):
        one.value = dice.uniform(one.min, one.max)
    elif isinstance(one, w.ToggleButton):
        one.value = not one.value
    elif isinstance(one, w.Button):
        one.click()
    else:
        one.value = dice.choice(names if "plan file" in one.tooltip.lower() else TYPED)


@pytest.mark.parametrize(("name", "seed"), [(name, seed) for name, count in SEEDS.items() for seed in range(count)])
def test_a_panel_stands_whatever_is_pressed(name, seed, folder, monkeypatch):
    fallen = []
    # a button's own dispatcher swallows what its callback raises
    monkeypatch.setattr(w.CallbackDispatcher, "log", SimpleNamespace(warning=lambda *said, **_: fallen.append(said)))
    dice = random.Random(f"{name} {seed}")
    names = [f"plans/{path.name}" for path in sorted((folder / "plans").glob("*.toml"))]
    panel = PANELS[name](names[seed % len(names)], folder)
    for _ in range(ACTS[name]):
        if dice.random() < 0.15:
            row = dice.choice([row for key, row in vars(panel).items() if key.endswith("_row")])
            row.name.value = dice.choice(names)
            row.load.click()
            assert fallen == []
            continue
        reached = [one for one in parts(panel.widget) if getattr(one, "description", "") not in SKIPPED]
        swaps = [one for one in reached if getattr(one, "description", "") == "Swap sides"]
        touch(dice.choice(swaps if swaps and dice.random() < 0.1 else reached), dice, names)
        assert fallen == []
        said = panel.verdict.widget.value
        assert "expo-headline" in said
        assert "nan" not in said.split()
