"""Both pages printed by a real browser on A4 and Letter, and held at the width of a phone."""

import re
import shutil

import pytest
from pypdf import PdfReader

from drivekit.show.page import pages

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
SHEET_PX = (297 - 24) * 96 / 25.4
"""What the margins leave of a sheet, in the pixels of a style sheet."""

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no chromium here: the page was not printed"),
]


@pytest.fixture(scope="module")
def browser():
    """A browser without a window."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        started = player.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


SHEETS = {"findings": 4, "evidence": 12}


@pytest.fixture(scope="module", params=SHEETS)
def kept(demo, request, tmp_path_factory):
    """A page of the demo season, in a file."""
    place = tmp_path_factory.mktemp("page") / f"{request.param}.html"
    place.write_text(pages(demo)[place.name], encoding="utf-8")
    return place


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_page_takes_few_sheets_and_leaves_no_heading_at_a_foot_and_no_sheet_half_empty(browser, kept, paper):
    shown = browser.new_page()
    shown.goto(kept.as_uri())
    shown.pdf(path=kept.with_suffix(".pdf"), format=paper, prefer_css_page_size=True)
    sheets = PdfReader(kept.with_suffix(".pdf")).pages
    assert len(sheets) <= SHEETS[kept.stem]
    headings = {" ".join(text.split()) for text in re.findall(r"<h[23]>(.*?)</h[23]>", kept.read_text("utf-8"))}
    for sheet in sheets:
        lines = [" ".join(line.split()) for line in sheet.extract_text().splitlines() if line.strip()]
        assert lines[-1] not in headings
    assert max(lowest(sheet) for sheet in sheets[:-1]) < sheets[0].mediabox.height / 2


def lowest(sheet):
    """Find how far down a sheet its words reach, in points above its lower edge."""
    found = []

    def visit(text, user, of_text, *_):
        if text.strip():
            found.append(of_text[4] * user[1] + of_text[5] * user[3] + user[5])

    sheet.extract_text(visitor_text=visit)
    return min(found)


def test_what_must_not_be_torn_may_not_be_and_is_no_taller_than_a_sheet(browser, kept):
    shown = browser.new_page(viewport={"width": 688, "height": 1000})
    shown.emulate_media(media="print")
    shown.goto(kept.as_uri())
    whole = "each => each.map(one => [getComputedStyle(one).breakInside, one.getBoundingClientRect().height])"
    found = shown.eval_on_selector_all("figure, table, tr, article, .part, .care, .method", whole)
    assert {rule for rule, _ in found} == {"avoid"}
    assert max(height for _, height in found) < SHEET_PX


def test_at_the_width_of_a_phone_nothing_is_cut_and_no_heading_lacks_its_picture(browser, kept):
    shown = browser.new_page(viewport={"width": 360, "height": 700})
    shown.goto(kept.as_uri())
    assert shown.evaluate("document.documentElement.scrollWidth") == 360
    high = "each => each.map(one => Math.max(0, ...[...one.querySelectorAll('svg')].map(s => s.clientHeight)))"
    assert min(shown.eval_on_selector_all("figure", high)) > 100
