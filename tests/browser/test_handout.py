"""The handout fills one page of either paper, and prints without colour."""

import re

import pytest

from workbook.workshop.handout import PAPERS, handout

pytestmark = pytest.mark.browser

POINTS = {"a4": (595, 842), "letter": (612, 792)}  # ISO 216 and ANSI/ASME Y14.1, in PostScript points
COLOURS = """() => [...document.querySelectorAll('*')].flatMap(e => {
  const s = getComputedStyle(e);
  return [s.color, s.backgroundColor, s.borderTopColor, s.borderBottomColor];
})"""


@pytest.mark.parametrize("paper", PAPERS)
def test_one_page(browser, paper):
    page = browser.new_page()
    page.set_content(handout(paper))
    pdf = page.pdf(prefer_css_page_size=True)
    black_and_white = {"rgb(0, 0, 0)", "rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}
    assert set(page.evaluate(COLOURS)) <= black_and_white
    page.close()
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    box = [float(number) for number in re.search(rb"/MediaBox\s*\[([^\]]*)\]", pdf)[1].split()]
    assert box[2:] == pytest.approx(POINTS[paper], abs=1)


def test_two_pages_are_seen(browser):
    page = browser.new_page()
    page.set_content(handout().replace("</body>", f"{'<p>more</p>' * 30}</body>"))
    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True))) > 1
    page.close()
