"""The page that is printed: through a real browser's printer, without a network."""

import re

import pytest

from expocalc.plan import Plan
from workbook.copies import shipped
from workbook.sheets.card import to_card
from workbook.sheets.page import to_html

pytestmark = pytest.mark.browser

MARKUP = "<script>document.title = 'ran'</script><img src=x onerror=\"document.title = 'ran'\">"


def demo(name="mono-single-lines"):
    return Plan.read(shipped() / "plans" / f"{name}.toml")


def filters(*names):
    return [{"name": name, "passbands": [{"centre": "656.3 nm", "width": "5 nm"}]} for name in names]


def seven():
    return demo().with_values({("filters",): filters("L", "R", "G", "B", "H-alpha", "O III", "S II")})


def crowded():
    """As many and as long names as a plan may hold."""
    return demo().with_values(
        {
            ("title",): "Wide words " * 18,
            ("target", "name"): "M" * 200,
            ("camera", "gain"): "G" * 200,
            ("camera", "gains"): {"G" * 200: demo().values["camera"]["gains"]["high"]},
            ("filters",): filters(*(f"{number} {'W' * 190}" for number in range(100))),
        }
    )


def two_lines():
    """Filters whose width differs from their name, which stands under it."""
    names = {"Dual-band 7 nm": "3 nm", "Ultra narrow dual 12 nm": "4.5 nm", "Dual 6 nm": "5 nm", "H-alpha 5 nm": "3 nm"}
    both = ("656.3 nm", "500.7 nm")
    return demo().with_values(
        {
            ("filters",): [
                {"name": name, "passbands": [{"centre": centre, "width": width} for centre in both]}
                for name, width in names.items()
            ]
        }
    )


def seven_dual(name="mono-single-lines"):
    """Filters that are each for two lights: whose their hours are stands under each."""
    both = [{"centre": centre, "width": "6 nm"} for centre in ("656.3 nm", "500.7 nm")]
    lights = [{"line": "H-alpha", "brightness": "12 R"}, {"line": "O III", "brightness": "8 R"}]
    filters_ = [{"name": f"Dual-band number {number}", "passbands": both} for number in range(7)]
    return demo(name).with_values({("filters",): filters_, ("target", "light"): lights})


PLANS = {
    "seven dual": seven_dual,
    "seven dual, colour": lambda: seven_dual("colour-dual-band"),
    "two lines": two_lines,
    "mono": demo,
    "colour": lambda: demo("colour-dual-band"),
    "seven": seven,
    "crowded": crowded,
}


@pytest.fixture
def printed(browser):
    """Function that opens the page of a plan in a browser without script-blocking, ready to print."""
    context = browser.new_context()
    strays = []
    context.on("request", lambda request: strays.append(request.url))

    def open_page(plan, card=False):
        page = context.new_page()
        found = plan.solve()
        hours = plan.spread(found)
        page.set_content(to_card(plan, found, hours) if card else to_html(plan.case, found, hours))
        return page

    yield open_page
    context.close()
    assert not strays, "the page asked for something outside itself"


@pytest.mark.parametrize("card", [False, True])
@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize("plan", PLANS)
def test_it_prints_on_one_page(printed, plan, size, card, tmp_path):
    pdf = printed(PLANS[plan](), card).pdf(format=size, path=tmp_path / "page.pdf")
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    width, height = (float(number) for number in re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf).groups())
    assert (width, height) == pytest.approx({"A4": (595, 842), "Letter": (612, 792)}[size], abs=1.5)


def test_the_count_of_pages_can_tell_two(printed):
    page = printed(demo())
    page.evaluate("() => document.body.append(Object.assign(document.createElement('p'), {style: 'height: 300mm'}))")
    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4"))) == 2


@pytest.mark.parametrize("card", [False, True])
@pytest.mark.parametrize("plan", PLANS)
def test_nothing_is_cut_at_the_papers_edge(printed, plan, card):
    page = printed(PLANS[plan](), card)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 700, "height": 1000})  # A4 less its margins: 186 mm
    assert page.evaluate("() => document.documentElement.scrollWidth <= document.documentElement.clientWidth")


@pytest.mark.parametrize("card", [False, True])
def test_names_of_two_lines_are_whole(printed, card):
    page = printed(two_lines(), card)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 700, "height": 1000})
    names = page.locator("tbody th").all_inner_texts()
    assert "Ultra narrow dual 12 nm\n(now 4.5 nm)\nfor H-alpha" in names
    cut = "all => all.filter(e => e.scrollWidth > e.clientWidth || e.scrollHeight > e.clientHeight + 1)"
    assert page.locator("tbody th, .short").evaluate_all(f"{cut}.map(e => e.innerText)") == []


def test_names_are_text_and_nothing_runs(printed):
    plan = demo().with_values({("title",): MARKUP, ("filters", 0, "name"): MARKUP})
    page = printed(plan)
    assert page.locator("h1").inner_text() == MARKUP
    assert page.title() == MARKUP
    assert page.locator("script, img").count() == 0


def test_it_stays_black_on_white_in_a_dark_browser(printed):
    page = printed(demo())
    page.emulate_media(color_scheme="dark")
    colours = page.evaluate("""() => [...document.querySelectorAll('body, body *')].flatMap(e => {
        const style = getComputedStyle(e); return [style.color, style.backgroundColor, style.borderTopColor]})""")
    assert set(colours) == {"rgb(0, 0, 0)", "rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}
