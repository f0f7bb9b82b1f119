"""The town's lamps from measured rates: intervals that hold, on simulated towns with lamps the model does not know.

The lamps of the towns are published (CIE 015:2018); beside them each town has a lamp of its own that is not in the
list, a Planck radiator of 2400 to 3200 K, and every filter a throughput that is off by a tenth.
"""

import numpy as np
import pytest
from scipy.optimize import nnls

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.photometry import luminance_cd_m2, standard_band
from expocalc.gear.passband import Passband
from expocalc.light.lamps import LAMPS
from expocalc.light.mix import lamp_bend, lamp_through, natural_through
from expocalc.light.sky import Sky
from expocalc.light.town import MeasuredRate, town_from_rates
from expocalc.light.town_draws import LEFT_OUT
from expocalc.light.town_worth import worth

THROUGHPUT = 0.1
TOWNS = 1000
WEIGHTS = np.array([0.4, 0.6, 1.2, 0.6, 0.3, 1.2, 0.1, 0.3, 0.5])
COLOURS = [standard_band(f"sdss-{name}") for name in "gri"]
NARROW = [Passband(centre=f"{nm} nm", width="6 nm").curve for nm in (656.3, 500.7)]
NEW = Passband(centre="672 nm", width="6 nm").curve
NEWS = {  # filters that one does not own: narrow ones, and two broad bands
    "S II": NEW,
    "H-beta": Passband(centre="486.1 nm", width="6 nm").curve,
    "green": Passband(centre="540 nm", width="10 nm").curve,
    "N II": Passband(centre="658.4 nm", width="3 nm").curve,
    "V": standard_band("bessell-V"),
    "meter": standard_band("meter"),
}
BROAD = ("V", "meter")


def planck(kelvin):
    x = np.arange(300.0, 1101.0, 5.0)
    photons = x**-4 / np.expm1(1.4388e7 / (x * kelvin))  # photons of a radiator, unscaled (CODATA's second constant)
    lamp = Spectrum(Curve(x, photons * (x / 550) ** -1.7))
    return lamp * (1 / luminance_cd_m2(lamp))


def towns(responses, count, seed):
    """Skies through responses, shape (count, responses); V is 18 to 20.5."""
    rng = np.random.default_rng(seed)
    strangers = [planck(kelvin) for kelvin in (2400, 2800, 3200)]
    of_strangers = np.array([[lamp.through(curve) for curve in responses] for lamp in strangers])
    shares = rng.dirichlet(WEIGHTS, count)
    bluer, natural = 0.8 * rng.standard_normal(count), np.exp(0.3 * rng.standard_normal(count))
    lamps = np.zeros((count, len(responses)))
    for at, curve in enumerate(responses):
        for share, name in zip(shares.T, LAMPS, strict=True):
            slope, bend = lamp_bend(name, curve)
            lamps[:, at] += share * lamp_through(name, curve) * np.exp(bluer * (slope + bend * bluer))
    strange = rng.uniform(0, 0.3, count)[:, None]
    lamps = (1 - strange) * lamps + strange * of_strangers[rng.integers(0, 3, count)]
    level = 1e-3 * 10 ** rng.uniform(-0.4, 0.6, count)[:, None]  # cd/m2
    return natural[:, None] * [natural_through(curve) for curve in responses] + level * lamps


def foretold(responses, count=TOWNS, seed=2, draws=12_000, new=(NEW,)):
    """Intervals of new filters' skies, shape (new, 3, towns), and the truth, shape (new, towns)."""
    skies = towns([*responses, *new], count, seed)
    off = np.exp(THROUGHPUT * np.random.default_rng([seed, 9]).standard_normal((count, len(responses))))
    found = []
    for sky, by in zip(skies, off, strict=True):
        measured = [
            MeasuredRate(name=str(at), response=curve, photons=float(sky[at] * by[at]), log_sd=THROUGHPUT)
            for at, curve in enumerate(responses)
        ]
        town = town_from_rates(measured, draws)
        found.append([town.sky_through(curve) for curve in new])
    return np.moveaxis(found, 0, -1), skies[:, len(responses) :].T


@pytest.fixture(scope="module")
def five():
    return foretold([*COLOURS, *NARROW], new=tuple(NEWS.values()))


def held(found):
    """Share of the towns whose sky lies in its interval, for each new filter."""
    (low, _, high), truth = np.moveaxis(found[0], 1, 0), found[1]
    return np.mean((low < truth) & (truth < high), axis=-1)


def test_68_percent_intervals_hold_68_percent(five):
    """Of the narrow filters together; six runs of 1000 towns held 66 to 70 %, 68 on average.

    Each by itself, in those runs: S II 71 to 77 %, the others 63 to 70 %. The strange lamp pulls broad bands to one
    side: V and the meter's band hold 58 to 63 %.
    """
    shares = dict(zip(NEWS, held(five), strict=True))
    narrow = [share for name, share in shares.items() if name not in BROAD]
    assert np.mean(narrow) == pytest.approx(0.68, abs=0.05)
    assert all(0.6 < share < 0.78 for share in narrow)
    assert all(0.56 < shares[name] < 0.65 for name in BROAD)


def test_what_a_lamp_outside_the_list_may_hide_is_a_third_of_an_led_by_the_others():
    """Where the constant of the module comes from: no town of the checks above."""
    known, new = [*COLOURS, *NARROW], [Passband(centre=f"{nm} nm", width="6 nm").curve for nm in (672, 486.1)]
    seen, unseen = (
        np.array([[lamp_through(lamp, curve) for lamp in LAMPS] for curve in part]) for part in (known, new)
    )
    off = []
    for place, lamp in enumerate(LAMPS):
        if lamp in ("led-2700K", "led-3000K", "led-4000K", "led-5000K"):
            rest = np.arange(len(LAMPS)) != place
            shares, _ = nnls(seen[:, rest] / seen[:, [place]], np.ones(len(known)))
            off += list(np.log(unseen[:, rest] @ shares / unseen[:, place]))
    assert np.sqrt(np.mean(np.square(off))) / 3 == pytest.approx(LEFT_OUT, abs=0.005)


def test_colours_and_narrow_filters_foretell_another_filter(five):
    """Against the default lamps at one reading in g: the error must fall well below that."""
    (_, middle, _), truth = five[0][0], five[1][0]
    error = np.std(np.log(middle / truth))
    usual = Sky(zenith_brightness="19 mag/arcsec2")
    skies = towns([COLOURS[0], NEW], TOWNS, 2)
    default = np.std(np.log(skies[:, 1] / skies[:, 0] * usual.through(COLOURS[0]) / usual.through(NEW)))
    assert error < 0.16
    assert error < 0.6 * default


def test_fewer_rates_foretell_less_and_say_so(five):
    """The opposite case: three broad colours alone leave a wider interval, which still holds."""
    found = foretold(COLOURS, 300)
    (low, _, high), (low5, _, high5) = found[0][0], five[0][0, :, :300]
    assert np.median(np.log(high / low)) > 1.2 * np.median(np.log(high5 / low5))
    assert held(found) > 0.6


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
