"""A register of past checks, taken in: two years of the demo's own, and registers of other shapes."""

import json
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from inspections import queries
from inspections.models import Deficiency, Inspection, Proof, Reading, Repair, Restoration, Upkeep
from inspections.services import import_checks, record_inspection
from inspections.signals import evidence_changed
from inventory.models import Count, ImportRun, Item, StateEvent
from inventory.queries import standing_of_items
from inventory.services import import_cache
from shared.models import Department
from tests.inspections.building import make_item, make_lot

ROOM = Path(__file__).resolve().parents[2]
CACHE, CHECKS = ROOM / "inventory/demo/tarn_hollow_cache.xlsx", ROOM / "inspections/demo/tarn_hollow_checks.csv"
AT = datetime(2026, 11, 24, 18, tzinfo=UTC)


@pytest.fixture
def tarn_hollow(department: Department) -> Department:
    """The demo department with its cache and its two years of readings."""
    import_cache(department=department, path=CACHE, by=None, at=AT)
    department.report = import_checks(department=department, path=CHECKS, by=None, at=AT)
    return department


def register(tmp_path: Path, text: str, name: str = "checks.csv") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def take(department: Department, path: Path, **more):
    return import_checks(department=department, path=path, by=None, at=AT, **more)


def item(department: Department, tag: str) -> Item:
    return Item.objects.select_related("kind", "department").get(department=department, tag=tag)


# The demo's register ----------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_two_years_of_readings_are_taken_in_and_judged(tarn_hollow):
    report = tarn_hollow.report.as_json()
    assert (report["taken"], report["refused"]) == (2669, [])
    assert sum(report["verdicts"].values()) == Inspection.objects.count() == 2643
    assert (report["uses"], report["refills"], report["repairs"]) == (17, 7, 2)
    assert report["verdicts"]["void"] == 22
    assert Count.objects.count() == 869
    json.dumps(report)
    _each_failure_void_and_stretch_in_doubt_is_named(tarn_hollow)
    _twice_changes_nothing(tarn_hollow)
    _gfci_failed_was_repaired_and_restored(tarn_hollow)
    _heater_was_weak_descaled_and_restored(tarn_hollow)
    _the_other_gauge_is_void(tarn_hollow)
    _a_battery_read_after_three_hours_is_void(tarn_hollow)
    _set_point_runs_move_no_capacity(tarn_hollow)
    _overdue_cylinders_are_limited(tarn_hollow)
    _looks_are_claims(tarn_hollow)
    _what_was_learned_today_was_not_known_then(tarn_hollow)


def _each_failure_void_and_stretch_in_doubt_is_named(department):
    said = department.report.as_json()
    assert len(said["voids"]) == said["verdicts"]["void"]
    assert len(said["failures"]) == said["verdicts"]["fail"] > 0
    for one in (*said["failures"], *said["voids"]):
        row = Inspection.objects.get(client_id=one["inspection"])
        assert (one["why"], row.happened_at.date().isoformat()) == (row.summary, one["on"])
        assert one["why"]
        assert one["tag"]
        assert one["row"]
    assert [one["on"] for one in said["voids"] if one["tag"] == "SH-02"] == ["2025-10-14"]
    kept = {
        (interval.inspection, interval.mode_code)
        for found in Item.objects.filter(department=department).select_related("department")
        for interval in queries.doubt_intervals(found, AT)
    }
    assert {(one["inspection"], one["mode"].split()[0]) for one in said["in_doubt"]} == kept
    gfci = next(one for one in said["in_doubt"] if one["tag"] == "GF-03")
    assert gfci["since"] < gfci["until"] < gfci["put_right"]


def _twice_changes_nothing(department):
    models = (Inspection, Reading, Proof, Deficiency, Restoration, Repair, Upkeep, Count, StateEvent)
    before = [model.objects.count() for model in models]
    again = take(department, CHECKS)
    assert (again.taken, again.as_json()["already_taken"]) == (0, 2669)
    assert [model.objects.count() for model in models] == before


def _gfci_failed_was_repaired_and_restored(department):
    gfci = item(department, "GF-03")
    failed = Inspection.objects.get(item=gfci, verdict="fail")
    assert failed.happened_at.date().isoformat() == "2025-10-07"
    events = list(gfci.state_events.order_by("happened_at").values_list("event", "by_name", "mode_code"))
    assert events == [("taken out", "Casey", "PW1"), ("restored", "Quinn", "PW1")]
    repaired_at = Repair.objects.get(item=gfci).happened_at
    stood = [f for f in queries.open_deficiencies(department, repaired_at, AT) if f.deficiency.item == gfci]
    assert [(f.deficiency, len(f.repairs)) for f in stood] == [(Deficiency.objects.get(item=gfci), 1)]
    restored = datetime(2025, 10, 11, tzinfo=UTC)
    assert standing_of_items([gfci], restored - timedelta(days=2), AT)[gfci.pk].state == "out of service"
    assert standing_of_items([gfci], restored, AT)[gfci.pk].state == "in service"
    doubt = queries.doubt_intervals(gfci, AT)[0]
    assert (doubt.since.date().isoformat(), doubt.found_at.date().isoformat()) == ("2025-09-06", "2025-10-07")


def _heater_was_weak_descaled_and_restored(department):
    heater = item(department, "WH-01")
    fault = Deficiency.objects.get(item=heater, mode_code="WH3")
    assert (fault.grade, fault.happened_at.date().isoformat()) == ("C", "2025-11-06")
    assert fault.inspection.proofs.get(mode_code="WH3").ratio == pytest.approx(0.652, abs=0.001)
    repaired_at = Repair.objects.get(item=heater).happened_at
    stood = [f for f in queries.open_deficiencies(department, repaired_at, AT) if f.deficiency.item == heater]
    assert [(f.deficiency, len(f.repairs)) for f in stood] == [(fault, 1)]
    back = fault.restorations.get()
    assert (back.happened_at.date().isoformat(), back.by_name, back.awaiting_second_name) == (
        "2025-11-13",
        "Casey",
        False,
    )
    assert back.inspection.measured["heater_output_w"]["at_least"] is True


def _the_other_gauge_is_void(department):
    shelter = item(department, "SH-02")
    void = Inspection.objects.get(item=shelter, verdict="void")
    assert void.happened_at.date().isoformat() == "2025-10-14"
    assert not void.proofs.exists()
    of = queries.evidence([shelter], datetime(2025, 12, 1, tzinfo=UTC), AT)[shelter.pk]["SH1"]
    assert of.proven_at.date().isoformat() == "2025-04-13"


def _a_battery_read_after_three_hours_is_void(department):
    assert Inspection.objects.filter(check_key="battery", verdict="void").count() == 21
    battery = item(department, "BA-04")
    # Of 3 h of rest on 18 November, the clock knows nothing; its last good reading stands.
    of = queries.evidence([battery], AT, AT)[battery.pk]["BA1"]
    assert of.proven_at < datetime(2026, 11, 18, tzinfo=UTC)


def _set_point_runs_move_no_capacity(department):
    heater = item(department, "WH-03")
    of = queries.measured([heater], datetime(2025, 3, 1, tzinfo=UTC), AT)[heater.pk]["heater_output_w"]
    assert of.at_least is True
    later = queries.measured([heater], AT, AT)[heater.pk]["heater_output_w"]
    assert later.at_least is False


def _overdue_cylinders_are_limited(department):
    newest = Inspection.objects.filter(item=item(department, "LP-03"), check_key="propane").latest("happened_at")
    assert newest.verdict == "pass with limits"
    assert newest.proofs.get(mode_code="LP2").outcome == "limited"


def _looks_are_claims(department):
    seen = Proof.objects.filter(inspection__check_key="look", inspection__readings__key="seen")
    assert set(seen.values_list("outcome", flat=True)) == {"claimed"}
    runs = Proof.objects.filter(inspection__check_key="look", inspection__readings__key="runs")
    assert set(runs.values_list("outcome", flat=True)) == {"proven"}


def _what_was_learned_today_was_not_known_then(department):
    gfci = item(department, "GF-01")
    then = datetime(2026, 1, 1, tzinfo=UTC)
    assert queries.evidence([gfci], then, then)[gfci.pk]["PW1"].outcome == "none"
    assert queries.evidence([gfci], then, AT)[gfci.pk]["PW1"].outcome == "proven"


# Other shapes ------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_register_with_other_headings_a_title_and_a_column_for_each_reading_is_read(tmp_path, gfci, cache):
    make_item(cache, "air_cylinder", "AC-02")
    text = (
        "Other Bay - checks,,,,,,\n\nInspector,When,Item tag,Test,PSI,Temp_F,Outside\n"
        'Avery,2025-03-01,ac 02,Air cylinder,4400,60,ok\nAvery,3/2/25,AC-02,cylinder dates,"4,390",61 F,ok\n'
    )
    report = take(cache, register(tmp_path, text))
    assert (report.taken, report.refused) == (2, [])
    assert set(Inspection.objects.values_list("verdict", flat=True)) == {"pass"}


@pytest.mark.django_db
def test_one_tab_for_each_check_needs_no_check_column(tmp_path, cache):
    openpyxl = pytest.importorskip("openpyxl")
    make_item(cache, "gfci", "GF-01")
    book = openpyxl.Workbook()
    book.active.title = "GFCI"
    for row in (("Date", "Tag", "Done by", "test_trips", "reset"), (datetime(2025, 5, 1), "GF-01", "Casey", "Y", "Y")):  # noqa: DTZ001
        book.active.append(row)
    book.save(tmp_path / "checks.xlsx")
    report = take(cache, tmp_path / "checks.xlsx")
    assert (report.taken, report.refused) == (1, [])
    assert Inspection.objects.get().check_key == "gfci"


@pytest.mark.django_db
def test_each_bad_row_is_refused_with_its_cell_and_the_others_are_taken(tmp_path, gfci):
    text = """date,tag,check,by,readings,remark
01/05/2025,GF-03,gfci,Casey,test_trips=yes; reset=yes,
31/31/2025,GF-03,gfci,Casey,test_trips=yes; reset=yes,
01/05/2030,GF-03,gfci,Casey,test_trips=yes; reset=yes,
01/06/2025,ZZ-99,gfci,Casey,test_trips=yes; reset=yes,
01/06/2025,GF-03,polish,Casey,shine=yes,
01/06/2025,GF-03,gfci,,test_trips=yes; reset=yes,
01/06/2025,GF-03,heat run,Casey,tries=1,
01/06/2025,GF-03,gfci,Casey,test_trips=perhaps; colour=red,
01/06/2025,GF-03,repair,Casey,,
"""
    report = take(gfci.department, register(tmp_path, text))
    refused = [(notice.row, notice.column) for notice in report.refused]
    assert report.taken == 1
    assert refused == [
        (3, "date"), (4, "date"), (6, "check"), (7, "by"), (5, "tag"), (8, "check"), (9, "test_trips"), (9, "colour"),
        (10, "what"),
    ]  # fmt: skip
    assert all(notice.problem and notice.mend for notice in report.refused)


@pytest.mark.django_db
def test_a_dry_run_reports_the_same_and_writes_nothing(tmp_path, gfci):
    text = "date,tag,check,by,readings\n01/05/2025,GF-03,gfci,Casey,test_trips=no; reset=yes\n"
    report = take(gfci.department, register(tmp_path, text), dry_run=True)
    assert (report.taken, report.as_json()["verdicts"]["fail"]) == (1, 1)
    assert not Inspection.objects.exists()
    assert not StateEvent.objects.exists()
    assert not ImportRun.objects.exists()


@pytest.mark.django_db
def test_a_row_that_stands_twice_and_readings_that_never_change_are_found(tmp_path, cache):
    make_item(cache, "propane", "LP-01")
    row = "{},LP-01,propane weigh,Casey,gross_lb=162.1; tare_lb=68.0; soap=none\n"
    days = ["01/05/2025", "01/05/2025", "02/05/2025", "03/05/2025"]
    text = "date,tag,check,by,readings\n" + "".join(row.format(day) for day in days)
    report = take(cache, register(tmp_path, text))
    problems = [notice.problem for notice in report.findings]
    assert report.taken == 3
    assert any("twice" in problem for problem in problems)
    assert any("same readings 3 times running" in problem for problem in problems)


@pytest.mark.django_db
def test_rows_out_of_order_are_judged_in_order_of_date(tmp_path, gfci):
    text = """date,tag,check,by,readings
10/10/2025,GF-03,gfci,Quinn,test_trips=yes; reset=yes
10/09/2025,GF-03,repair,Avery,what=device replaced; cost=$85.00
10/07/2025,GF-03,gfci,Casey,test_trips=no; reset=yes
"""
    take(gfci.department, register(tmp_path, text))
    assert Restoration.objects.get().awaiting_second_name is False
    assert float(Repair.objects.get().cost) == 85


@pytest.mark.django_db
def test_a_lot_is_counted_by_its_number_and_only_a_month_is_remarked(tmp_path, cache):
    make_lot(cache, number="L7757")
    report = take(cache, register(tmp_path, "date,tag,check,by,readings\nMar 2025,L7757,count,Casey,counted=90\n"))
    assert (report.taken, Count.objects.get().counted) == (1, 90)
    assert "only the month" in report.findings[0].problem


@pytest.mark.django_db
def test_bare_words_are_claims(tmp_path, gfci):
    text = "date,tag,check,by,readings,remark\n01/05/2025,GF-03,gfci,Casey,pass,\n01/06/2025,GF-03,look,Casey,,ok\n"
    report = take(gfci.department, register(tmp_path, text))
    assert report.taken == 2
    assert set(Proof.objects.values_list("outcome", flat=True)) == {"claimed"}


@pytest.mark.django_db
def test_the_rooms_on_the_right_are_told_once(tmp_path, cache):
    told = []

    def listen(**news):
        told.append(news["item_ids"])

    items = [make_item(cache, "gfci", f"GF-0{n}") for n in (1, 2)]
    text = "date,tag,check,by,readings\n" + "".join(
        f"01/0{d}/2025,{i.tag},gfci,Casey,test_trips=yes; reset=yes\n" for d in (1, 2, 3) for i in items
    )
    evidence_changed.connect(listen)
    try:
        take(cache, register(tmp_path, text))
    finally:
        evidence_changed.disconnect(listen)
    assert told == [sorted(item.pk for item in items)]


@pytest.mark.django_db
def test_a_register_row_and_a_live_check_get_the_same_verdict_and_proofs(tmp_path, cache):
    one, other = make_item(cache, "pump", "SP-01"), make_item(cache, "pump", "SP-02")
    text = "bucket_gal=5; fill_s=60; starts=3; stops=3; refill_in=2; lift_ft=6"
    take(cache, register(tmp_path, f"date,tag,check,by,readings\n01/05/2025,SP-01,bucket test,Casey,{text}\n"))
    record_inspection(
        department=cache,
        check_key="sump",
        item=other,
        values=dict(pair.split("=") for pair in text.split("; ")),
        happened_at=datetime(2025, 1, 5, 17, tzinfo=UTC),
        by_name="Casey",
        client_id=uuid.uuid4(),
    )
    first, second = Inspection.objects.get(item=one), Inspection.objects.get(item=other)
    fields = ("mode_code", "outcome", "ratio")
    assert first.verdict == second.verdict == "pass with limits"
    assert list(first.proofs.order_by("mode_code").values_list(*fields)) == list(
        second.proofs.order_by("mode_code").values_list(*fields)
    )
    assert [f["text"] for f in first.findings] == [f["text"] for f in second.findings]


@pytest.mark.django_db
def test_the_command_writes_its_report_and_says_what_is_wrong(tmp_path, gfci, capsys):
    path = register(tmp_path, "date,tag,check,by,readings\n01/05/2025,GF-03,gfci,Casey,test_trips=yes; reset=yes\n")
    out = tmp_path / "report.json"
    call_command("import_checks", str(path), "--department", gfci.department.name, "--report", str(out))
    assert json.loads(out.read_text())["taken"] == 1
    assert "Took 1 rows" in capsys.readouterr().out
    with pytest.raises(CommandError, match="no department"):
        call_command("import_checks", str(path), "--department", "Nowhere")
    call_command("import_checks", str(path), "--department", gfci.department.name.upper())
    nowhere = ["--department", gfci.department.name, "--report", str(tmp_path / "none" / "r.json")]
    with pytest.raises(CommandError, match="cannot be written") as unwritten:
        call_command("import_checks", str(path), *nowhere)
    assert unwritten.value.returncode == 2
    with pytest.raises(CommandError, match="no file"):
        call_command("import_checks", str(tmp_path / "none.csv"), "--department", gfci.department.name)
