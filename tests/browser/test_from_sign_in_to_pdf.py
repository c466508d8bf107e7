"""From sign-in to a signed inspection to its PDF, in a real browser on a phone and on a desk; axe finds nothing."""

import io
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from pypdf import PdfReader

from inspections.models import Inspection
from inventory.models import Item, Line
from readiness import queries
from readiness.demo import PASSWORD, load_demo
from shared import outbox
from shared.models import OutboxRow
from tests.demo_district import DEMO_DAY

pytestmark = pytest.mark.browser

WIDTHS = [pytest.param(390, id="phone"), pytest.param(1280, id="desk")]
HOLD = {
    "p_set_psi": "3.0",
    "rest_min": "60",
    "p1_psi": "3.00",
    "t1_degF": "62",
    "p2_psi": "2.50",
    "t2_degF": "49",
    "hold_min": "60",
}
STATED = {"same_gauge": "yes", "direct_sun": "no", "relief_lifted": "no", "reached_set": "yes", "soap_result": "none"}


@pytest.fixture
def demo(transactional_db):
    return load_demo(today=DEMO_DAY)


def _sign_in(page, name: str = "quinn") -> None:
    page.goto("/sign-in/")
    page.fill("input[name=username]", name)
    page.fill("input[name=password]", PASSWORD)
    page.press("input[name=password]", "Enter")
    page.wait_for_url("**/")


def _fits_and_is_accessible(page) -> None:
    """Nothing runs off the side, and axe has nothing to say."""
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"], page.url
    found = Axe().run(page).response["violations"]
    assert not found, (page.url, [(v["id"], v["nodes"][0]["html"][:200]) for v in found])


def _answer(page, key: str, value: str) -> None:
    page.locator(f'input[name="{key}"][value="{value}"]').check(force=True)


@pytest.mark.parametrize("width", WIDTHS)
def test_an_officer_signs_in_walks_records_signs_and_fetches_the_pdf(demo, browse, width):
    page = browse(width=width)
    _sign_in(page)
    page.get_by_role("link", name="Walk", exact=True).click()
    page.get_by_role("button", name=re.compile("Start a walk of Station 11")).click()
    _fits_and_is_accessible(page)

    page.fill("input[name=tag]", "SH-02")
    page.get_by_role("link", name=re.compile("Inflation hold test")).first.click()
    _fits_and_is_accessible(page)
    for key, value in HOLD.items():
        page.fill(f"input[name={key}]", value)
    for key, value in STATED.items():
        _answer(page, key, value)
    page.get_by_role("button", name="Record", exact=True).click()

    page.wait_for_url("**/walk/records/**")
    assert "0.06 psi" in page.inner_text("main")
    _fits_and_is_accessible(page)
    record = Inspection.objects.get(walk__isnull=False)
    assert (record.verdict, record.by_name, record.item.tag) == ("pass", "Quinn", "SH-02")

    page.get_by_role("button", name="Make the PDF").click()
    page.wait_for_url("**/reports/**")
    row = OutboxRow.objects.latest("pk")
    assert outbox.run(row_id=row.pk) == "done"
    page.reload()
    _fits_and_is_accessible(page)
    with page.expect_download() as download:
        page.locator('a[href$="/file"]').click()
    paper = PdfReader(io.BytesIO(download.value.path().read_bytes()))
    text = "\n".join(leaf.extract_text() for leaf in paper.pages)
    assert "SH-02" in text
    assert "Inflation hold test" in text

    page.goto(f"/walk/{record.walk.pk}/sign")
    page.fill("input[name=signed_name]", "Quinn")
    page.get_by_role("button", name="Sign the walk").click()
    record.walk.refresh_from_db()
    assert record.walk.signed_name == "Quinn"
    assert page.complaints == []


@pytest.mark.parametrize("width", WIDTHS)
def test_the_head_asks_a_mission_and_reads_every_page(demo, browse, width):
    page = browse(width=width)
    _sign_in(page, "hollis")
    _fits_and_is_accessible(page)
    page.fill("input[name=air_degF]", "20")
    page.get_by_role("button", name="Ask", exact=True).click()
    page.wait_for_url("**air_degF=20**")
    assert "an hour" in page.inner_text("main")
    _fits_and_is_accessible(page)
    line, item = Line.objects.get(name="Line C"), Item.objects.get(tag="SH1-02")
    for address in (
        *(f"/lines/{each.pk}/" for each in Line.objects.all()),
        "/bay/",
        "/bay/items/",
        f"/bay/items/{item.pk}/",
        f"/bay/places/{line.home.pk}/",
        f"/bay/lines/{line.pk}/",
        "/bay/lots/",
        "/bay/crew/",
        "/walk/",
        "/reports/",
        "/settings/",
    ):
        page.goto(address)
        _fits_and_is_accessible(page)
    assert page.complaints == []


def test_a_failed_check_takes_the_line_down_before_the_page_is_back(demo, browse):
    page = browse(width=390)
    _sign_in(page, "casey")
    item = Item.objects.get(tag="SH-02")
    page.goto(f"/walk/check/item/{item.pk}/relief/")
    page.fill("input[name=plate_psi]", "3.5")
    page.fill("input[name=lift_psi]", "4.4")
    page.get_by_role("button", name="Record", exact=True).click()
    page.wait_for_url("**/walk/records/**")
    assert "out of service" in page.inner_text("main").lower()
    page.goto("/")
    assert queries.stored(Line.objects.get(name="Line B")).word == "Down"
    assert page.locator("article", has_text="Line B").inner_text().count("Down") >= 1


def test_everything_works_without_script(demo, browse):
    page = browse(width=390, script=False)
    _sign_in(page)
    page.fill("input[name=people_per_hour]", "30")
    page.get_by_role("button", name="Ask", exact=True).click()
    assert "people_per_hour=30" in page.url
    item = Item.objects.get(tag="LP-05")
    page.goto(f"/walk/check/item/{item.pk}/propane/")
    page.get_by_role("button", name="Record", exact=True).click()
    assert "Not recorded yet" in page.inner_text("#wrong")
    page.fill("input[name=gross_lb]", "160.5")
    page.fill("input[name=tare_lb]", "68.0")
    page.get_by_role("button", name="Record", exact=True).click()
    assert "/walk/records/" in page.url
