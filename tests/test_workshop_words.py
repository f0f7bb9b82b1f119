"""No word is used before it is said, one meaning a word, and the same words for the same numbers everywhere."""

import json
import re
from pathlib import Path

import pytest

from workbook.hours.verdict import LOOKS, say_snr
from workbook.workshop.experiments import EXPERIMENTS
from workbook.workshop.experiments.exercises import EXERCISES
from workbook.workshop.experiments.outcome import HINT_SNR, PLAIN_SNR
from workbook.workshop.experiments.rig import demo
from workbook.workshop.glossary_terms import TERMS
from workbook.workshop.handout import handout
from workbook.workshop.handout_numbers import MOON_AWAY_DEG, MOONS, SKIES, moon_rows
from workbook.workshop.own_plan_model import page

LESSONS = sorted((Path(__file__).resolve().parent.parent / "notebooks" / "workshop").glob("[1-5]-*.ipynb"))
WORDS = {
    "plan": r"\bplans?\b",
    "frame": r"\bframes?\b",
    "sub": r"\bsubs?\b",
    "stack": r"\bstacks?\b",
    "SNR": r"\bSNR\b",
    "grain": r"\bgrain\b",
    "patch": r"\bpatch\b",
    "pixel": r"\bpixels?\b",
    "photon": r"\bphotons?\b",
    "electron": r"\belectrons?\b",
    "shell": r"\bshell\b",
    "H-alpha": r"\bH-alpha\b",
    "O III": r"\bO III\b",
    "Rayleigh": r"\b\d+ R\b|\bRayleigh\b",
    "mag/arcsec²": r"\bmag/arcsec",
    "arcsecond": r"″|\barcsec\b",
    "nm": r"\bnm\b",
    "stretch": r"\bstretch\b",
    "read noise": r"\bread noise\b",
    "dither": r"\bdither",
    "dark current": r"\bdark current\b",
    "pattern": r"\bpattern\b",
    "gain": r"\b(?:low|high|more) gain\b",
    "ADU": r"\bADU\b",
    "full well": r"\bfull well\b",
    "noise squared": r"\bnoise squared\b|\bnoise²",
    "V": r"\bV\b",
    "drowns": r"\bdrowns?\b",
    "correlation": r"\bcorrelat",
    "median": r"\bmedian\b",
    "f-ratio": r"\bf-ratio\b|\bf/\d",
    "reducer": r"\breducer\b",
    "lit": r"\bMoon lit\b",
    "sodium": r"\bsodium\b",
}
"""Words that a newcomer may not know, and how they look in a sentence."""


def sentences(experiment):
    """All that an experiment says, as it stands first."""
    found = experiment.run(**experiment.start)
    yield from (experiment.belief, experiment.does, experiment.ask.question, *experiment.ask.choices)
    yield from (found.takeaway, found.take_home, found.basis)
    yield from (words for tile in found.tiles for words in (tile.words, tile.describes))
    yield from (found.table.caption, *found.table.head, *(row[0] for row in found.table.rows))
    yield from (dial.label for dial in experiment.dials.values())
    yield from (dial.say(dial.start) for dial in experiment.dials.values())
    if found.chart is not None:
        yield from (found.chart.title, found.chart.x_label, found.chart.y_label, *found.chart.curves)


def said_in(markdown, word):
    """Whether a text sets the word, or its plural, apart: that is where it is told what it means."""
    return re.search(rf"\*{{1,2}}[^*\n]*{re.escape(word)}[^*\n]*\*", markdown, re.I) is not None


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_no_word_is_used_before_it_is_said(path):
    told, early = "", []
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        source = spoken = "".join(cell["source"])
        if cell["cell_type"] == "markdown":
            told += source
        elif trial := re.search(r'Trial\("([^"]+)"\)', source):
            spoken = " ".join(sentences(EXPERIMENTS[trial[1]]))
        elif task := re.search(r"^exercise\((\d)\)", source, re.M):
            one = EXERCISES[int(task[1])]
            spoken = " ".join((one.question, one.why, *one.hints))
        elif "OwnPlan()" in source:
            found = page(demo(), "H-alpha 5 nm", "H-alpha", 4.0)
            spoken = " ".join((found.headline, found.planned, *found.rest, *map(" ".join, found.table.rows)))
        else:
            spoken = " ".join("".join(one.get("text", "")) for one in cell["outputs"])
        early += [
            f"{spoken[:60]}: {word}"
            for word, look in WORDS.items()
            if re.search(look, spoken) and not said_in(told, word)
        ]
    assert not early


def test_a_word_said_later_is_seen():
    assert not said_in("A dither moves the aim.", "dither")
    assert said_in("To *dither* is to move the aim.", "dither")


def test_a_stack_is_a_mean_everywhere():
    spoken = [words for one in EXPERIMENTS.values() for words in sentences(one)]
    markdown = [path.read_text(encoding="utf-8") for path in (*LESSONS, *LESSONS[0].parent.parent.glob("*.ipynb"))]
    for words in (*spoken, *markdown, *TERMS.values(), handout()):
        assert "added up" not in words
        assert not re.search(r"adds up the subs|(?:subs|exposure)[^.]*you add up", words)


@pytest.mark.parametrize("experiment", EXPERIMENTS.values(), ids=EXPERIMENTS)
def test_a_grain_is_told_with_what_it_counts(experiment):
    """As a share of the light, or in electrons: the two go opposite ways when there is more light."""
    found = experiment.run(**experiment.start)
    rows = [f"{found.table.head[-2]} {row[-2]}" for row in found.table.rows]
    shown = [words for tile in found.tiles for words in (tile.words, tile.describes)]
    texts = (experiment.ask.question, found.takeaway, found.take_home, found.basis, *shown, *rows)
    for sentence in (one for text in texts for one in re.split(r"(?<=[.?:]) ", text)):
        if re.search(r"\bgrain\b", sentence, re.I) and re.search(r"\d", sentence):
            assert re.search(r"electron|%|share|of its brightness|how many times", sentence), sentence


def test_two_is_a_hint_five_is_plain_ten_is_good_everywhere():
    words = {2: "hint", 5: "plain", 10: "good"}
    assert (HINT_SNR, PLAIN_SNR) == (2, 5)
    lesson = LESSONS[-1].read_text(encoding="utf-8")
    for snr, word in words.items():
        assert word in say_snr(snr)
        assert word in LOOKS[snr]
        assert re.search(rf"\b{snr} (?:is |it is )?(?:a )?{word}", handout())
        assert re.search(rf"\b{snr} is (?:a )?{word}", lesson)
        assert re.search(rf"\b{snr} (?:it is )?(?:a )?{word}", TERMS["SNR"])


def test_faint_gas_is_some_ten_rayleigh_everywhere():
    lines = [light["brightness"] for light in demo().values["target"]["light"]]
    assert all(5 <= float(one.split()[0]) <= 20 for one in lines)
    for words in (TERMS["Rayleigh"], *(LESSONS[at].read_text(encoding="utf-8") for at in (2, 4))):
        assert re.search(r"[Ff]aint gas (?:has )?some 10", words)


@pytest.mark.parametrize("lit", MOONS.values())
def test_the_moon_costs_on_the_sheet_what_it_costs_in_the_lesson(lit):
    row = moon_rows()[list(MOONS.values()).index(lit)]
    for at, reading in enumerate(SKIES.values()):
        dials = {"sky_mag": float(reading.split()[0]), "lit_percent": 100 * lit, "separation_deg": MOON_AWAY_DEG}
        said = EXPERIMENTS["Moon"].run(**dials).takeaway
        lesson = re.search(r"asks for (\S+) and (\S+) times the hours", said).groups()
        assert row[1 + 2 * at : 3 + 2 * at] == lesson
