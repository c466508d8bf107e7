"""The run sheet on a phone, in a real browser: one thumb, no page between two taps, and what follows on its return."""

import os
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone

from inspections.models import Inspection, Run, RunEvent
from tests.flows.bays import load, make_item, make_line, make_lot

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LEAST_TARGET = 48


@pytest.fixture
def line(department):
    load(department)
    make_line(department)
    make_item(department, "shelter", "SH-01", spec={"lanes": 2})
    make_item(department, "generator", "GN-01")
    make_lot(department, "towel", "T1", on_hand=40)
    return make_line(department)


def keep(page, name):
    """Keep a picture where somebody asked for one."""
    if folder := os.environ.get("HOLDAIR_PICTURES"):
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)


def fits(page):
    """Nothing runs off the side, and axe has nothing to say."""
    wide = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    assert wide[0] <= wide[1], f"{page.url} is {wide[0]} px wide"
    found = Axe().run(page).response["violations"]
    assert not found, (page.url, [(v["id"], v["nodes"][0]["html"][:200]) for v in found])


def test_a_drill_is_sent_timed_tapped_and_received_on_a_phone(phone, line, quinn):
    phone.goto(reverse("runs:send", args=[line.pk]))
    fits(phone)
    keep(phone, "send")
    phone.get_by_label("Drill").check()
    phone.get_by_label("What it is called").fill("Autumn drill")
    phone.get_by_label("Who accepts it, by name").fill("Dana Reyes")
    phone.get_by_role("button", name="Send and sign over").click()
    run = Run.objects.get()
    phone.wait_for_url(f"**{reverse('runs:run', args=[run.pk])}")
    fits(phone)

    earlier = (timezone.now() - timedelta(minutes=25)).astimezone(ZoneInfo("America/New_York"))
    phone.locator("summary", has_text="The order was given at another time").click()
    phone.get_by_label("When", exact=True).fill(earlier.strftime("%Y-%m-%dT%H:%M:%S"))
    phone.get_by_role("button", name="Start the clock then").click()
    phone.get_by_text("Correct when it was ordered").wait_for(state="attached")
    for stamp in ("On scene", "Doors open", "Shelter erected"):
        phone.get_by_role("button", name=f"{stamp} stamp now").click()
        phone.locator(".stamps b", has_text=stamp).wait_for()
    for walking, name in ((3, "Walking through lane 1"), (1, "Not walking through lane 1")):
        for _ in range(walking):
            before = RunEvent.objects.filter(event="person").count()
            phone.get_by_role("button", name=name, exact=True).click()
            phone.get_by_text(f"Lane 1 {min(before + 1, 3)} walking, {max(0, before - 2)} not").wait_for()
    phone.get_by_role("button", name="Undo the last").click()
    phone.get_by_text("Lane 1 3 walking, 0 not").wait_for()
    assert RunEvent.objects.filter(event="person", corrections=None).count() == 3
    assert phone.url.endswith(reverse("runs:run", args=[run.pk])), "a tap does not leave the page"

    small = [
        (button.inner_text(), box["height"])
        for button in phone.locator("#sheet button:visible").all()
        if (box := button.bounding_box())["height"] < LEAST_TARGET
    ]
    assert not small
    phone.locator("summary", has_text="Consumable used").click()
    used = phone.locator("details", has_text="Consumable used").last
    used.get_by_label("Of which lot").select_option(label=str(line.department.lots.get()))
    used.get_by_label("How much").fill("12")
    used.get_by_role("button", name="Put it on the sheet").click()
    phone.locator("summary", has_text="Consumable used").get_by_text("1", exact=True).wait_for()
    keep(phone, "sheet")

    phone.get_by_role("link", name="Receive it back").click()
    phone.get_by_role("heading", name="Receive Line A back").wait_for()
    fits(phone)
    phone.get_by_label("None", exact=True).first.check()
    phone.get_by_role("group", name="Did water run?").get_by_label("Yes").check()
    phone.get_by_label("Who hands it back, by name").fill("Dana Reyes")
    keep(phone, "receive")
    phone.get_by_role("button", name="Receive it back").click()
    phone.get_by_role("heading", name="After use: Line A").wait_for()
    fits(phone)
    keep(phone, "after-use")
    assert Inspection.objects.filter(check_key="setup").count() == 1
    assert phone.complaints == []


def test_the_sheet_works_without_script(browse, line, quinn):
    page = browse(quinn, width=390, script=False)
    page.goto(reverse("runs:send", args=[line.pk]))
    page.get_by_label("Incident").check()
    page.get_by_label("What it is called").fill("Mill Road")
    page.get_by_label("Who accepts it, by name").fill("Dana Reyes")
    page.get_by_role("button", name="Send and sign over").click()
    page.get_by_role("button", name="Walking through lane 2", exact=True).click()
    assert "Lane 2 1 walking, 0 not" in page.locator("#sheet").inner_text().replace("\n", " ")


def test_pages_of_runs_fit_a_phone_and_a_desk(browse, line, quinn):
    for width in (390, 1280):
        page = browse(quinn, width=width)
        pages = ("runs:list", "runs:after-use", "runs:snaps", "runs:plants")
        for address in (*map(reverse, pages), reverse("runs:drills", args=[line.pk])):
            page.goto(address)
            fits(page)
            keep(page, f"{address.strip('/').replace('/', '-')}-{width}")
        assert page.complaints == []
