"""A walk with no signal, in a real Chromium: the wire cut, the page and the browser killed, everything sent once."""

import io
import os
import re
import signal
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import expect

from inspections import services
from inspections.models import Inspection, Photo, Reading, Walk, WalkTakeUp
from inventory.models import Place, Posting, Seal
from inventory.services import record_posting, record_seal
from tests import servers
from tests.browser.wire import Wire, wire_to
from tests.conftest import CHROMIUM_FLAGS, PASSWORD
from tests.flows.bays import BAY, HOLD, ago, load, make_item, make_line, make_lot, make_place

pytestmark = pytest.mark.browser

NUMBERS = {key: value for key, value in HOLD.items() if value not in ("yes", "no", "none")}
SAID = {key: value for key, value in HOLD.items() if value in ("yes", "no", "none")}
APP = "/walk/offline/"


@pytest.fixture
def bay(transactional_db, department):
    """A bay with a shelter, a cord, a spare seen at a glance, and towels in a sealed trunk."""
    load(department)
    line = make_line(department)
    for kind, tag in (("shelter", "SH-01"), ("shelter", "SH-02"), ("gfci", "GF-01")):
        make_item(department, kind, tag)
    trunk = make_place(department, "Trunk 3", sort=Place.Sort.CONTAINER, within=make_place(department))
    lot = make_lot(department)
    signed = {"department": department, "by_name": "Quinn"}
    placed = {"reason": Posting.Reason.MOVED, "place": trunk, "line": line, "change": 0}
    record_posting(lot=lot, happened_at=ago(days=60), **placed, **signed)
    record_seal(place=trunk, event="applied", number="TH 1", happened_at=ago(days=9), **signed)
    return make_place(department)


@pytest.fixture
def wire(live_server) -> Iterator[Wire]:
    with wire_to(live_server.url) as wire:
        yield wire


class Phone:
    """A browser with a memory of its own, which outlives its process."""

    def __init__(self, chromium, folder: Path, wire: Wire) -> None:
        self.chromium, self.folder, self.wire, self.complaints = chromium, folder, wire, []
        self.open()

    def open(self) -> None:
        self.context = self.chromium.browser_type.launch_persistent_context(
            str(self.folder),
            executable_path=servers.chromium_program(),
            args=CHROMIUM_FLAGS,
            base_url=self.wire.url,
            viewport={"width": 390, "height": 844},
        )
        self.page = self.context.pages[0]
        self._listen()

    def _listen(self) -> None:
        self.page.on("pageerror", lambda error: self.complaints.append(f"script error: {error}"))
        self.page.on(
            "console", lambda said: "security policy" in said.text.lower() and self.complaints.append(said.text)
        )

    def cut(self) -> None:
        self.wire.is_cut = True
        self.context.set_offline(True)

    def mend(self) -> None:
        self.wire.is_cut = False
        self.context.set_offline(False)

    def kill_page(self) -> None:
        """End the page without a word, and open a new one."""
        old, self.page = self.page, self.context.new_page()
        old.close(run_before_unload=False)
        self._listen()

    def kill_browser(self) -> None:
        """End the browser's own process as a flat battery would, and start it again on what it left."""
        for pid in self._processes():
            os.kill(pid, signal.SIGKILL)
        deadline = time.monotonic() + 30
        while self._processes() and time.monotonic() < deadline:
            time.sleep(0.05)
        (self.folder / "SingletonLock").unlink(missing_ok=True)
        was_cut = self.wire.is_cut
        self.open()
        if was_cut:
            self.context.set_offline(True)

    def _processes(self) -> list[int]:
        """Return the main process of the one browser that lives in this folder."""
        found = []
        for each in Path("/proc").iterdir():
            if not each.name.isdigit():
                continue
            try:
                words = (each / "cmdline").read_bytes().decode(errors="replace").split("\0")
                state = (each / "stat").read_text().rpartition(")")[2].split()[0]
            except OSError:
                continue
            mine = f"--user-data-dir={self.folder}" in words and not any(w.startswith("--type=") for w in words)
            if mine and state != "Z":
                found.append(int(each.name))
        return found

    # What a walker does.

    def sign_in(self, name: str) -> None:
        self.page.goto(f"/sign-in/?next={APP}")
        # A browser that was killed may or may not have written down that somebody was signed in.
        if APP not in self.page.url.partition("?")[0]:
            self.page.fill("input[name=username]", name)
            self.page.fill("input[name=password]", PASSWORD)
            self.page.press("input[name=password]", "Enter")
        self.page.wait_for_url(f"**{APP}")
        self.page.locator(".sub", has_text=f"{name.capitalize()}, ").wait_for()
        self.page.get_by_role("button", name=re.compile("Start a walk")).first.wait_for()
        self.page.evaluate("navigator.serviceWorker.ready.then(() => true)")

    def start(self) -> None:
        self.page.get_by_role("button", name=f"Start a walk of {BAY}").click()
        self.page.get_by_role("heading", level=1, name=BAY).wait_for()

    def go(self, hash_: str) -> None:
        self.page.evaluate("to => { location.hash = to; }", hash_)

    def check(self, tag: str, name: str) -> None:
        self.page.fill("#tag", tag)
        thing = self.page.locator(f"li.thing:has-text('{tag}')")
        wanted = thing.locator(".checks a", has_text=name).first
        if not wanted.is_visible():
            thing.locator("summary").click()
        wanted.click()
        self.page.get_by_role("heading", level=1, name=re.compile(name)).wait_for()

    def type(self, values: dict[str, str]) -> None:
        for key, value in values.items():
            self.page.fill(f"#{key}", value)

    def say(self, values: dict[str, str]) -> None:
        for key, value in values.items():
            self.page.locator(f'input[name="{key}"][value="{value}"]').check(force=True)

    def record(self) -> None:
        self.page.get_by_role("button", name=re.compile("^Record")).click()
        self.page.get_by_role("heading", level=1, name=BAY).wait_for()

    def hold(self, tag: str, **changes: str) -> None:
        self.check(tag, "Inflation hold test")
        self.type(NUMBERS | changes)
        self.say(SAID)
        self.record()

    def sign(self, name: str) -> None:
        self.page.get_by_role("link", name="Sign", exact=True).click()
        self.page.fill("#signed_name", name)
        self.page.get_by_role("button", name="Sign the walk").click()
        self.page.get_by_role("heading", level=1, name=re.compile(r"\d+ of \d+, ")).wait_for()

    def says(self, words: str) -> None:
        self.page.locator("#signal", has_text=words).wait_for()

    def sent(self) -> None:
        """Wait until nothing waits."""
        self.says("nothing waits")


@pytest.fixture
def phones(chromium, wire, tmp_path) -> Iterator[Callable[[], Phone]]:
    made: list[Phone] = []

    def one() -> Phone:
        made.append(Phone(chromium, tmp_path / f"phone{len(made)}", wire))
        return made[-1]

    yield one
    for phone in made:
        phone.context.close()


@pytest.fixture
def phone(phones, quinn, bay) -> Phone:
    phone = phones()
    phone.sign_in("quinn")
    return phone


def fits_and_is_accessible(page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"], page.url
    found = Axe().run(page).response["violations"]
    assert not found, (page.url, [(v["id"], v["nodes"][0]["html"][:200]) for v in found])


def picture() -> dict[str, object]:
    out = io.BytesIO()
    Image.new("RGB", (2400, 1800), "#445566").save(out, "JPEG")
    return {"name": "gauge.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def until(true: Callable[[], object], seconds: float = 30) -> None:
    """Wait for something on the server's side."""
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, "it never came"
        time.sleep(0.1)


def test_a_whole_walk_with_a_photo_is_done_without_signal_and_arrives_once(phone, bay, wire):
    phone.cut()
    phone.page.goto(APP)
    phone.says("No signal")
    fits_and_is_accessible(phone.page)
    phone.start()
    fits_and_is_accessible(phone.page)

    phone.check("SH-01", "Inflation hold test")
    assert "burst" in phone.page.inner_text("main")
    assert "5 %" in phone.page.inner_text("main")
    fits_and_is_accessible(phone.page)
    phone.type(NUMBERS)
    phone.say(SAID)
    phone.page.set_input_files("#photo", files=[picture()])
    phone.page.get_by_alt_text("Photo 1 of this check").wait_for()
    fits_and_is_accessible(phone.page)
    phone.record()
    assert "waits to be sent" in phone.page.inner_text("main")

    phone.check("SH-02", "Look")
    phone.say({"seen": "yes", "damage": "none"})
    phone.record()
    phone.check("GF-01", "GFCI and cord")
    phone.say({"test_trips": "yes", "reset": "yes"})
    phone.record()

    phone.page.locator("summary", has_text="Trunk 3").click()
    phone.page.fill("input[id^=seal-]", "TH 1")
    phone.page.get_by_role("button", name="Unbroken").click()
    phone.page.get_by_text("count stands by its seal").wait_for()

    phone.sign("Quinn")
    assert "4 of 4" in phone.page.inner_text("h1")
    fits_and_is_accessible(phone.page)
    phone.go("#/waiting")
    phone.page.get_by_role("heading", level=1, name="7 records wait").wait_for()
    fits_and_is_accessible(phone.page)
    assert not Walk.objects.exists()

    phone.mend()
    phone.sent()
    walk = Walk.objects.get()
    assert (walk.signed_name, walk.inspections.count()) == ("Quinn", 3)
    hold = walk.inspections.get(check_key="hold")
    assert (hold.verdict, hold.source) == ("pass", "phone")
    assert Photo.objects.get().inspection == hold
    assert Seal.objects.filter(event="intact").count() == 1
    assert "What waits" not in phone.page.inner_text("h1")
    phone.page.get_by_text("0.06 psi").first.wait_for()
    fits_and_is_accessible(phone.page)
    phone.page.set_viewport_size({"width": 1280, "height": 900})
    fits_and_is_accessible(phone.page)
    phone.go(f"#/done/{walk.client_id}")
    phone.page.get_by_role("heading", level=1, name=re.compile("4 of 4, 0 found")).wait_for()
    assert phone.complaints == []


def test_what_was_typed_survives_the_page_and_the_browser_being_killed(phone, bay, wire):
    phone.cut()
    phone.start()
    phone.check("SH-01", "Inflation hold test")
    phone.type({"p1_psi": "3.00", "t1_degF": "62"})
    phone.say({"same_gauge": "yes"})
    address = phone.page.url

    phone.kill_page()
    phone.page.goto(address)
    phone.page.wait_for_selector("#p1_psi")
    assert phone.page.input_value("#p1_psi") == "3.00"
    phone.page.locator("#p2_psi").press_sequentially("2.5")
    # The disk has a moment for the last key: less than a thumb needs for the next.
    phone.page.wait_for_timeout(500)
    phone.kill_browser()
    phone.page.goto(address)
    phone.page.wait_for_selector("#p1_psi")
    assert [phone.page.input_value(f"#{key}") for key in ("p1_psi", "t1_degF", "p2_psi")] == ["3.00", "62", "2.5"]
    assert phone.page.is_checked('input[name="same_gauge"][value="yes"]')

    phone.type(NUMBERS)
    phone.say(SAID)
    phone.record()
    phone.kill_browser()
    phone.page.goto(APP)
    phone.says("2 records wait")
    phone.mend()
    phone.sign_in("quinn")
    phone.sent()
    row = Inspection.objects.get()
    assert (row.by_name, row.walk.place) == ("Quinn", bay)
    assert Reading.objects.get(inspection=row, key="p2_psi").as_entered == "2.50"


def test_an_answer_that_is_lost_makes_no_second_record(phone, bay, wire):
    phone.cut()
    phone.start()
    phone.hold("SH-01")
    wire.loses = {"/walk/sync"}
    phone.mend()
    until(lambda: Inspection.objects.count() == 1)
    phone.says("2 records wait")
    phone.page.goto("/walk/")
    phone.page.get_by_text("2 records wait on this phone.").wait_for()
    wire.loses = set()
    phone.page.goto(APP)
    phone.sent()
    assert wire.sent("/walk/sync") >= 2
    assert (Walk.objects.count(), Inspection.objects.count()) == (1, 1)


def test_one_refused_record_keeps_none_of_the_others_and_is_mended(phone, bay, wire):
    phone.cut()
    phone.start()
    phone.hold("SH-01")
    phone.hold("SH-02", p1_psi="3.00", p2_psi="2.50 furlongs")
    phone.check("GF-01", "GFCI and cord")
    phone.say({"test_trips": "yes", "reset": "yes"})
    phone.record()
    phone.sign("Quinn")
    phone.mend()
    phone.says("2 records wait")
    assert Inspection.objects.count() == 2
    assert Walk.objects.get().signed_at is None

    phone.go("#/waiting")
    phone.page.get_by_text("The server refused it").wait_for()
    assert "furlongs" in phone.page.inner_text("main")
    fits_and_is_accessible(phone.page)
    phone.page.get_by_role("button", name="Mend it").click()
    phone.page.wait_for_selector("#p2_psi")
    assert phone.page.input_value("#p2_psi") == "2.50 furlongs"
    assert phone.page.input_value("#p1_psi") == "3.00"
    fits_and_is_accessible(phone.page)
    phone.page.fill("#p2_psi", "2.50")
    phone.page.get_by_role("button", name="Record, and send again").click()
    phone.sent()
    assert Inspection.objects.count() == 3
    assert Walk.objects.get().signed_name == "Quinn"


def test_a_refused_record_is_given_up_and_the_walk_is_signed_without_it(phone, bay, wire):
    phone.cut()
    phone.start()
    phone.hold("SH-01", p2_psi="2.50 furlongs")
    phone.check("SH-02", "Look")
    phone.say({"seen": "yes", "damage": "none"})
    phone.record()
    phone.sign("Quinn")
    phone.mend()
    phone.says("2 records wait")
    phone.go("#/waiting")
    phone.page.get_by_text("Give it up", exact=True).click()
    phone.page.get_by_role("button", name="Give it up for good").click()
    phone.sent()
    assert Inspection.objects.get().check_key == "look"
    assert Walk.objects.get().signed_name == "Quinn"


def test_a_walk_half_done_is_taken_up_by_another_officer_and_both_readings_are_kept(phone, phones, avery, bay, wire):
    phone.start()
    phone.hold("SH-01")
    phone.sent()
    other = phones()
    other.sign_in("avery")
    other.page.get_by_role("button", name="Take it up from Quinn").click()
    other.page.get_by_role("heading", level=1, name=BAY).wait_for()
    other.cut()
    phone.context.set_offline(True)
    other.hold("SH-02")
    other.hold("SH-01", p2_psi="2.52")
    phone.hold("SH-02", p2_psi="2.51")
    other.mend()
    other.sent()
    phone.mend()
    phone.sent()
    walk = Walk.objects.get()
    assert WalkTakeUp.objects.get().by_name == "Avery"
    assert sorted(walk.inspections.filter(item__tag="SH-01").values_list("by_name", flat=True)) == ["Avery", "Quinn"]
    assert sorted(walk.inspections.filter(item__tag="SH-02").values_list("by_name", flat=True)) == ["Avery", "Quinn"]

    phone.sign("Quinn")
    phone.go("#/waiting")
    phone.page.get_by_text("whoever walked it last: Avery").wait_for()
    other.sign("Avery")
    until(lambda: Walk.objects.get().signed_name == "Avery")


def test_a_signature_refused_because_somebody_took_the_walk_up_goes_through_once_it_is_taken_back(
    phone, avery, bay, wire
):
    phone.start()
    phone.hold("SH-01")
    phone.sent()
    walk = Walk.objects.get()
    said = {"by": avery, "by_name": "Avery", "happened_at": ago(seconds=1), "client_id": uuid.uuid4()}
    services.take_up_walk(department=avery.department, walk=walk, **said)
    phone.sign("Quinn")
    phone.go("#/waiting")
    phone.page.get_by_role("button", name="Take it up, then sign").click()
    until(lambda: Walk.objects.get().signed_name == "Quinn")


def test_signed_out_meanwhile_nothing_is_lost_and_nothing_goes_under_another_name(phone, avery, bay, wire):
    phone.cut()
    phone.start()
    phone.hold("SH-01")
    phone.context.clear_cookies()
    phone.mend()
    phone.says("Signed out")
    phone.go("#/")
    phone.page.get_by_text("You are signed out. Nothing is lost").wait_for()
    fits_and_is_accessible(phone.page)

    phone.sign_in("avery")
    phone.page.get_by_text("2 records of Quinn wait here").wait_for()
    assert not Inspection.objects.exists()
    phone.context.clear_cookies()
    phone.sign_in("quinn")
    phone.sent()
    assert Inspection.objects.get().by_name == "Quinn"


def test_without_signal_any_page_leads_to_the_walk(phone, bay, wire):
    phone.page.goto("/walk/")
    phone.cut()
    phone.page.goto("/bay/")
    phone.page.wait_for_url(f"**{APP}")
    phone.page.get_by_role("heading", level=1, name="Walk").wait_for()


def test_a_page_from_the_server_never_wears_the_sheet_that_a_phone_keeps(phone, bay, wire):
    phone.page.wait_for_function("navigator.serviceWorker.controller")
    sheet = phone.page.locator("link[rel=stylesheet]").first.get_attribute("href")
    phone.page.evaluate(
        """async (sheet) => {
            const all = await Promise.all((await caches.keys()).map((name) => caches.open(name)));
            await Promise.all(all.map((one) => one.put(sheet, new Response("/* old */"))));
        }""",
        sheet,
    )
    read = "sheet => fetch(sheet).then(answer => answer.text())"
    assert phone.page.evaluate(read, sheet) == "/* old */"
    phone.page.goto("/walk/")
    assert "/* old */" not in phone.page.evaluate(read, sheet)


def test_a_watch_runs_on_while_the_browser_is_dead_and_is_written_only_when_somebody_stops_it(phone, bay, wire):
    phone.cut()
    phone.start()
    phone.check("SH-01", "Inflation hold test")
    address = phone.page.url
    box = phone.page.locator("[data-field=hold_min]")
    box.get_by_role("button", name=re.compile("Start the watch")).click()
    box.get_by_role("button", name="Stop, and write the minutes").wait_for()
    # An hour passes on the wall, as far as the phone knows.
    phone.page.evaluate(
        """() => new Promise((done) => {
          indexedDB.open("holdair-walk").onsuccess = (opened) => {
            const at = opened.target.result.transaction("timers", "readwrite").objectStore("timers");
            at.getAll().onsuccess = (found) => {
              const [watch] = found.target.result;
              at.put({ ...watch, started_at: watch.started_at - 61 * 60000 }).onsuccess = () => done();
            };
          };
        })"""
    )
    phone.kill_browser()
    phone.page.goto(address)
    phone.page.locator("#watches", has_text="Time is up").wait_for()
    assert phone.page.title().startswith("Time is up")
    assert phone.page.input_value("#hold_min") == ""
    phone.page.locator("[data-field=hold_min]").get_by_role("button", name="Stop, and write the minutes").click()
    expect(phone.page.locator("#hold_min")).to_have_value("61")
    expect(phone.page.locator("#watches p")).to_have_count(0)


def test_what_certainly_cannot_stand_is_said_beside_its_field_before_it_is_kept(phone, bay, wire):
    phone.cut()
    phone.start()
    phone.check("SH-01", "Inflation hold test")
    phone.type({"p1_psi": "three", "t1_degF": "900"})
    phone.page.get_by_role("button", name="Record", exact=True).click()
    phone.page.get_by_text("Not recorded yet.").wait_for()
    assert phone.page.locator("[data-field=p1_psi] .errorlist").inner_text() == "This is not a number."
    assert "outside -40 to 160" in phone.page.locator("[data-field=t1_degF] .errorlist").inner_text()
    assert "must be read" in phone.page.locator("[data-field=p2_psi] .errorlist").inner_text()
    assert phone.page.input_value("#p1_psi") == "three"
    fits_and_is_accessible(phone.page)


def test_a_tag_typed_finds_the_thing_and_every_target_is_wide_enough_for_a_glove(phone, bay, wire):
    phone.start()
    phone.page.fill("#tag", "sh-02")
    phone.page.get_by_text("1 of 4 match").wait_for()
    small = phone.page.evaluate(
        """() => [...document.querySelectorAll("main .btn, main summary, main input, .signal a")]
          .filter((each) => each.offsetParent && each.getBoundingClientRect().height < 48)
          .map((each) => each.outerHTML.slice(0, 120))"""
    )
    assert small == []


def test_a_walk_opened_at_the_desk_goes_on_on_the_phone(phone, bay, quinn, wire):
    services.open_walk(
        department=quinn.department, place=bay, by=quinn, started_at=ago(minutes=3), client_id=uuid.uuid4()
    )
    phone.page.reload()
    phone.page.get_by_role("button", name="Go on with it here").click()
    phone.hold("SH-01")
    phone.sent()
    assert Walk.objects.get().inspections.count() == 1


def test_a_phone_that_cannot_keep_what_is_typed_says_so(phone, bay, wire):
    phone.start()
    phone.check("SH-01", "Inflation hold test")
    phone.page.evaluate(
        """() => {
          IDBObjectStore.prototype.put = () => { throw new DOMException("full", "QuotaExceededError"); };
        }"""
    )
    phone.page.fill("#p1_psi", "3.00")
    phone.page.get_by_text("The phone could not keep this.").wait_for()
    assert phone.page.input_value("#p1_psi") == "3.00"
    fits_and_is_accessible(phone.page)


def test_the_walk_can_be_installed(phone, bay, wire):
    asked = phone.context.new_cdp_session(phone.page).send("Page.getInstallabilityErrors")
    assert asked["installabilityErrors"] == []


def test_a_label_is_scanned_where_the_browser_can(phone, bay, wire):
    """With a camera and a reader made up for the test: this Chromium has neither."""
    phone.context.add_init_script(
        """
        window.BarcodeDetector = class { async detect() { return [{ rawValue: "SH-02" }]; } };
        navigator.mediaDevices.getUserMedia = async () => document.createElement("canvas").captureStream();
        """
    )
    phone.page.reload()
    phone.start()
    phone.page.get_by_role("button", name="Scan a label").click()
    expect(phone.page.locator("#tag")).to_have_value("SH-02")
    phone.page.get_by_text("1 of 4 match").wait_for()
    expect(phone.page.locator("video")).to_have_count(0)


def test_what_is_looked_for_opened_or_typed_on_a_walk_outlives_the_page_being_drawn_anew(phone, bay, wire):
    phone.start()
    phone.sent()
    phone.page.locator("summary", has_text="Trunk 3").click()
    phone.page.fill("input[id^=seal-]", "TH")
    phone.page.fill("#tag", "SH-0")
    phone.page.locator("h1").click()
    phone.wire.is_cut = True
    phone.page.evaluate("dispatchEvent(new Event('offline'))")
    phone.says("No signal")
    expect(phone.page.locator("#tag")).to_have_value("SH-0")
    expect(phone.page.locator("input[id^=seal-]")).to_have_value("TH")
    expect(phone.page.locator("details.container")).to_have_attribute("open", "")
    phone.kill_page()
    phone.page.goto(APP)
    phone.page.get_by_role("link", name=re.compile(f"^{BAY}")).click()
    expect(phone.page.locator("input[id^=seal-]")).to_have_value("TH")
