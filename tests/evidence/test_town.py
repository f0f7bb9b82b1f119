"""The town's lamps from measured rates: intervals that hold, on simulated towns with lamps the model does not know.

The lamps of the towns are published (CIE 015:2018); beside them each town has a lamp of its own that is not in the
list, up to three tenths of its light, and every filter a throughput that is off by a tenth. The strange lamps are
Planck radiators, white LEDs of other kinds, fluorescent lamps (CIE 015:2018, other tables than the list's) and
discharge lamps of other makes (tables of the package colour-science). Nothing in the model was fitted to any of them.
"""

import importlib

import numpy as np
import pytest

from expocalc.base.curve import Curve, Spectrum, product
from expocalc.base.photometry import luminance_cd_m2, standard_band
from expocalc.gear.curves import named_efficiency, typical_mosaic
from expocalc.gear.passband import Passband
from expocalc.light import town_draws, unlisted
from expocalc.light.lamps import LAMPS, lamp_spectrum
from expocalc.light.mix import lamp_bend, lamp_through, natural_through
from expocalc.light.sky import Sky
from expocalc.light.town import MeasuredRate, town_from_rates
from expocalc.light.town_worth import worth

pytestmark = pytest.mark.filterwarnings("ignore")  # of the package that the strange lamps come from

THROUGHPUT = 0.1
TOWNS = 1000
WEIGHTS = np.array([0.4, 0.6, 1.2, 0.6, 0.3, 1.2, 0.1, 0.3, 0.5])
COLOURS = [standard_band(f"sdss-{name}") for name in "gri"]
NARROW = [Passband(centre=f"{nm} nm", width="6 nm").curve for nm in (656.3, 500.7)]
NEW = Passband(centre="672 nm", width="6 nm").curve
CUT = product(named_efficiency("back-lit mono"), Curve.boxes([(390, 690)], [1.0]))
KINDS = {  # filters that one does not own
    "narrow": {
        "S II": NEW,
        "H-beta": Passband(centre="486.1 nm", width="6 nm").curve,
        "green": Passband(centre="540 nm", width="10 nm").curve,
        "N II": Passband(centre="658.4 nm", width="3 nm").curve,
    },
    "broad": {
        "B": standard_band("bessell-B"),
        "V": standard_band("bessell-V"),
        "R": standard_band("bessell-R"),
        "blue": Curve.boxes([(400, 500)], [1.0]),
        "middle": Curve.boxes([(500, 580)], [1.0]),
        "red": Curve.boxes([(590, 690)], [1.0]),
        "all": Curve.boxes([(400, 690)], [1.0]),
    },
    "mosaic": {f"mosaic {colour}": product(dye, CUT) for colour, dye in typical_mosaic().items()},
    "meter": {"meter": standard_band("meter")},
}
NEWS = {name: curve for kind in KINDS.values() for name, curve in kind.items()}
ALL_NEW = tuple(NEWS.values())


def lamp_of(wavelength_nm, photons):
    """A lamp's skyglow of the usual colour, at a luminance of 1 cd/m2."""
    lamp = Spectrum(Curve(wavelength_nm, photons * (wavelength_nm / 550) ** -1.7))
    return lamp * (1 / luminance_cd_m2(lamp))


def planck(kelvin):
    x = np.arange(300.0, 1101.0, 5.0)
    return lamp_of(x, x**-4 / np.expm1(1.4388e7 / (x * kelvin)))  # photons, unscaled (CODATA's second constant)


def tabled(table):
    """A lamp of a table, which ends where the sky of the list's lamps does: nothing below, level above."""
    fine = np.arange(300.0, 1101.0, 1.0)
    power = np.interp(fine, [table.wavelengths[0] - 1, *table.wavelengths], [0.0, *np.maximum(table.values, 0)])
    return lamp_of(fine, power * fine)


def strange_lamps():
    with np.printoptions():  # the import changes how numpy prints, which must not reach the doctests
        colour = importlib.import_module("colour")
    cie, other = colour.SDS_ILLUMINANTS, colour.SDS_LIGHT_SOURCES
    leds = ("PHOS-1", "PHOS-2", "PHOS-3", "PHOS-4", "Luxeon WW 2880", "Phosphor LED YAG")
    discharge = ("Super HPS", "C100S54C (HPS)", "MHC100/U/MP/3K", "MHC100/U/MP/4K", "H38JA-100/DX (Mercury DX)")
    return {
        "Planck": [planck(kelvin) for kelvin in (2400, 2800, 3200)],
        "LED": [tabled(cie[f"LED-{name}"]) for name in ("BH1", "RGB1", "V1", "V2")] + [tabled(other[n]) for n in leds],
        "fluorescent": [tabled(cie[f"FL{number}"]) for number in range(1, 10)],
        "discharge": [tabled(cie[name]) for name in ("HP3", "HP5")] + [tabled(other[name]) for name in discharge],
    }


def towns(responses, count, seed, strangers, weights=WEIGHTS):
    """Skies through responses, shape (count, responses); V is 18 to 20.5."""
    rng = np.random.default_rng(seed)
    of_strangers = np.array([[lamp.through(curve) for curve in responses] for lamp in strangers])
    shares = rng.dirichlet(weights, count)
    bluer, natural = 0.8 * rng.standard_normal(count), np.exp(0.3 * rng.standard_normal(count))
    lamps = np.zeros((count, len(responses)))
    for at, curve in enumerate(responses):
        for share, name in zip(shares.T, LAMPS, strict=True):
            slope, bend = lamp_bend(name, curve)
            lamps[:, at] += share * lamp_through(name, curve) * np.exp(bluer * (slope + bend * bluer))
    strange = rng.uniform(0, 0.3, count)[:, None]
    lamps = (1 - strange) * lamps + strange * of_strangers[rng.integers(0, len(strangers), count)]
    level = 1e-3 * 10 ** rng.uniform(-0.4, 0.6, count)[:, None]  # cd/m2
    return natural[:, None] * [natural_through(curve) for curve in responses] + level * lamps


def foretold(responses, strangers, count, seed=2, draws=6000, new=ALL_NEW, weights=WEIGHTS):
    """Intervals of new filters' skies, shape (3, new, towns), and the truth, shape (new, towns)."""
    skies = towns([*responses, *new], count, seed, strangers, weights)
    off = np.exp(THROUGHPUT * np.random.default_rng([seed, 9]).standard_normal((count, len(responses))))
    found = []
    for sky, by in zip(skies, off, strict=True):
        measured = [
            MeasuredRate(name=str(at), response=curve, photons=float(sky[at] * by[at]), log_sd=THROUGHPUT)
            for at, curve in enumerate(responses)
        ]
        town = town_from_rates(measured, draws)
        found.append([town.sky_through(curve) for curve in new])
    return np.transpose(found, (2, 1, 0)), skies[:, len(responses) :].T


@pytest.fixture(scope="module")
def five():
    """By kind of the strange lamp, a quarter of the towns each."""
    lamps = strange_lamps()
    return {
        kind: foretold([*COLOURS, *NARROW], strangers, TOWNS // len(lamps), seed)
        for seed, (kind, strangers) in enumerate(lamps.items(), start=2)
    }


def held(found):
    """Share of the towns whose sky lies in its interval, for each new filter."""
    (low, _, high), truth = found
    return np.mean((low < truth) & (truth < high), axis=-1)


def of_kind(shares, kind):
    return np.mean([share for name, share in zip(NEWS, shares, strict=True) if name in KINDS[kind]])


@pytest.mark.parametrize("kind", KINDS)
def test_68_percent_intervals_hold_68_percent(five, kind):
    """Of all towns for each kind of new filter; and no filter of it far from that.

    Six runs of 1000 towns held 68 to 70 % in narrow filters, 69 to 71 % in broad bands, 68 to 71 % in mosaic colours
    and 67 to 71 % in a meter; each filter 66 to 76 %, but H-beta 62 to 65 %.
    """
    shares = np.mean([held(found) for found in five.values()], axis=0)
    assert of_kind(shares, kind) == pytest.approx(0.68, abs=0.05)
    assert all(0.6 < share < 0.8 for name, share in zip(NEWS, shares, strict=True) if name in KINDS[kind])


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("strange", ["Planck", "LED", "fluorescent", "discharge"])
def test_no_kind_of_strange_lamp_is_let_down(five, strange, kind):
    assert 0.6 < of_kind(held(five[strange]), kind) < 0.8


LEFT_OUT = {"led": 3.1, "sodium": 1.3, "mercury": 0.3, "metal": 0.5}
"""Kinds of the list's lamps by the beginning of their names, and how common the model takes them to be."""


def without(monkeypatch, kind, count, log_sd):
    """Skies of towns with a kind of lamp that the model is not given, as :func:`foretold`."""
    out = np.array([name.startswith(kind) for name in LAMPS])
    with monkeypatch.context() as patch:
        patch.setattr(unlisted, "UNLISTED_LOG_SD", log_sd)
        patch.setattr(town_draws, "_LIKELY", np.where(out, 1e-4, WEIGHTS))
        for kept in (unlisted._between_nodes, town_draws.towns_before, town_draws.sky_parts):
            kept.cache_clear()
        shares = [(lamp_spectrum(name), int(10 * often)) for name, often in zip(LAMPS, WEIGHTS, strict=True)]
        strangers = [lamp for (lamp, often), here in zip(shares, out, strict=True) if here for _ in range(often)]
        found = foretold(
            [*COLOURS, *NARROW], strangers, count, seed=7, draws=3000, weights=np.where(out, 1e-4, WEIGHTS)
        )
    for kept in (unlisted._between_nodes, town_draws.towns_before, town_draws.sky_parts):
        kept.cache_clear()
    return found


def test_what_unlisted_lamps_hide_is_what_kinds_of_the_list_do_when_left_out(monkeypatch):
    """Where the constant of the module comes from: no strange lamp of the checks above has a part in it.

    With it the intervals hold about 68 %, and the truth is likelier than with a quarter or three times of it. Two runs,
    of 312 and 1040 towns: likeliest at 0.2 to 0.3, where 63 to 68 % are held.
    """
    likely = {}
    for log_sd in (unlisted.UNLISTED_LOG_SD, 0.05, 0.6):
        found = [without(monkeypatch, kind, round(100 * common), log_sd) for kind, common in LEFT_OUT.items()]
        ends, truth = (np.log(np.concatenate([one[part] for one in found], axis=-1)) for part in (0, 1))
        half = (ends[2] - ends[0]) / 2
        score = np.mean(-(((truth - ends[1]) / half) ** 2) / 2 - np.log(half), axis=-1)
        likely[log_sd] = np.mean([of_kind(score, kind) for kind in KINDS])
        if log_sd == unlisted.UNLISTED_LOG_SD:
            shares = held((ends, truth))
            assert all(of_kind(shares, kind) == pytest.approx(0.68, abs=0.06) for kind in KINDS)
    assert max(likely, key=likely.get) == unlisted.UNLISTED_LOG_SD


def test_colours_and_narrow_filters_foretell_another_filter(five):
    """Against the default lamps at one reading in g: the error must fall well below that."""
    usual = Sky(zenith_brightness="19 mag/arcsec2")
    by_rates, by_default = [], []
    for seed, (kind, strangers) in enumerate(strange_lamps().items(), start=2):
        (_, middle, _), truth = five[kind]
        by_rates.append(np.std(np.log(middle[0] / truth[0])))
        skies = towns([COLOURS[0], NEW], TOWNS // len(five), seed, strangers)
        ratio = usual.through(COLOURS[0]) / usual.through(NEW)
        by_default.append(np.std(np.log(skies[:, 1] / skies[:, 0] * ratio)))
    assert max(by_rates) < 0.16
    assert max(by_rates) < 0.6 * min(by_default)


def test_fewer_rates_foretell_less_and_say_so(five):
    """The opposite case: three broad colours alone leave a wider interval of S II, which still holds."""
    found = foretold(COLOURS, strange_lamps()["Planck"], 250, new=(NEW,))
    (low, _, high), (low5, _, high5) = found[0][:, 0], five["Planck"][0][:, 0]
    assert np.median(np.log(high / low)) > 1.2 * np.median(np.log(high5 / low5))
    assert held(found) > 0.6


@pytest.mark.parametrize(("strange", "at_most"), [("Planck", 9), ("LED", 1), ("discharge", 1)])
def test_a_town_with_a_strange_lamp_is_hardly_ever_refused(strange, at_most):
    """Of 100 towns whose rates are off as said; of 200 with a Planck radiator nine were, none of the others."""
    seen = [*COLOURS, *NARROW]
    skies = towns(seen, 100, 5, strange_lamps()[strange])
    skies = skies * np.exp(THROUGHPUT * np.random.default_rng(3).standard_normal(skies.shape))
    refused = 0
    for sky in skies:
        rates = zip(seen, sky, strict=True)
        measured = [MeasuredRate(name="some", response=curve, photons=float(rate)) for curve, rate in rates]
        refused += bool(town_from_rates(measured, 3000).contradiction[0])
    assert refused <= at_most


def test_one_lamp_is_recognised():
    sky = Sky(zenith_brightness="18.5 mag/arcsec2", lamps={"sodium-high-pressure": 1.0})
    rates = [
        MeasuredRate(name=str(i), response=c, photons=sky.through(c), log_sd=0.1)
        for i, c in enumerate([*COLOURS, *NARROW])
    ]
    town = town_from_rates(rates)
    assert max(town.lamps, key=town.lamps.get) == "sodium-high-pressure"
    assert sum(town.lamps.values()) == pytest.approx(1)
    assert max(map(abs, town.residuals.values())) < 0.15


def test_usual_lamps_fit_many_towns():
    sky = Sky(zenith_brightness="19 mag/arcsec2")
    rates = [MeasuredRate(name=str(i), response=c, photons=sky.through(c)) for i, c in enumerate([*COLOURS, *NARROW])]
    assert town_from_rates(rates).alike > 100


def rated(*curves):
    return [MeasuredRate(name=str(at), response=curve, photons=1.0) for at, curve in enumerate(curves)]


def test_rates_of_many_colours_are_worth_it_and_one_band_in_two_colours_is_not():
    """Both compared with the usual lamps at a reading, on the same simulated towns, and said."""
    many = worth(rated(*COLOURS, *NARROW), [NEW])
    assert many.better
    assert "The sky of a filter that you do not own is foretold to" in many.sentence
    band = Passband(centre="500.7 nm", width="7 nm").curve  # in blue and in green pixels
    lone = worth(rated(band, band * 0.4), [Passband(centre="486.1 nm", width="6 nm").curve])
    assert not lone.better
    assert "keep the usual ones" in lone.sentence


def test_what_is_refused():
    one = MeasuredRate(name="g", response=COLOURS[0], photons=1.0)
    with pytest.raises(ValueError, match="two or more"):
        town_from_rates([one])
    with pytest.raises(ValueError, match="must be above 0"):
        town_from_rates([one, MeasuredRate(name="r", response=COLOURS[1], photons=0.0)])
