"""The equipment status export against the rule's list, against spreadsheets that run text, and against gaps."""

import csv
import io
import uuid
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from inspections.models import Inspection
from inventory.services import record_count
from reports.exports import HEADER, guarded, status_csv, unguarded
from reports.queries import property_records
from reports.services import record_disposition, status_export
from shared.api import Conflict
from tests.conftest import ID_1, NOON
from tests.reports.cache import HOLD, inspect, make_item, make_line

# The fields of 2 CFR 200.313(d)(1), each with the column that answers it.
RULE = {
    "a description of the property": "description",
    "a serial number or another identification number": "serial_or_other_id",
    "the source of funding": "funding_source",
    "including the FAIN": "award_fain",
    "the title holder": "title_holder",
    "the acquisition date": "acquisition_date",
    "the cost of the property": "cost_usd",
    "the percentage of the Federal agency contribution": "federal_participation_percent",
    "the location": "location",
    "the use": "use",
    "the condition": "condition",
    "any ultimate disposition data": "disposition",
    "including the date of disposal": "disposition_date",
    "and sales price": "sale_price_usd",
}


def rows_of(department, as_of=NOON):
    text = "".join(status_csv(property_records(department, as_of), as_of=as_of))
    return list(csv.DictReader(io.StringIO(text, newline="")))


def dispose(item, quinn, **more):
    at = NOON - timedelta(days=1)
    values = {"method": "sold", "sale_price": Decimal("1000.00"), "happened_at": at, "recorded_at": at} | more
    return record_disposition(department=item.department, item=item, by=quinn, by_name="Quinn", **values)


@pytest.mark.parametrize(("words", "column"), RULE.items())
def test_every_field_of_the_rule_has_a_column_that_is_filled(words, column, quinn):
    make_item(quinn.department)
    (row,) = rows_of(quinn.department)
    assert row[column].strip(), words


def test_a_whole_record_has_its_values_and_no_gap(quinn):
    item = make_item(quinn.department)
    inspect(item, quinn)
    (row,) = rows_of(quinn.department)
    assert row["serial_or_other_id"] == "S-SH-01"
    assert row["award_fain"] == "TH-2019-HS-0041"
    assert row["assistance_listing"] == "97.067"
    assert row["cost_usd"] == "24000.00"
    assert row["federal_participation_percent"] == "75"
    assert row["acquisition_date"] == "2019-06-19"
    assert row["location"] == "Station 4, trailer bay"
    assert row["disposition"] == row["sale_price_usd"] == "not disposed"
    assert (row["last_sighted_on"], row["last_sighted_by"]) == ("2026-11-15", "Quinn")
    assert "SH2 proven 2026-11-15" in row["last_proof_of_each_impairment_mode"]
    assert row["data_as_of"] == "2026-11-24T12:00+00:00"
    assert row["gaps"] == ""


def test_what_is_missing_is_named_in_the_cell_and_in_the_gaps(quinn):
    blank = {"serial": "", "acquired_on": None, "unit_cost": None, "federal_share": None, "award": None}
    blank |= {"funding_source": "", "title_holder": "", "use": "", "condition": "unknown", "custodian": ""}
    make_item(quinn.department, **blank)
    (row,) = rows_of(quinn.department)
    for column in ("funding_source", "award_fain", "title_holder", "acquisition_date", "cost_usd", "use", "condition"):
        assert row[column] == "not recorded"
    assert row["serial_or_other_id"] == "SH-01"
    for gap in ("FAIN", "cost", "acquisition date", "federal participation", "title holder", "physical sighting"):
        assert gap in row["gaps"].split("; ")


def test_locally_paid_property_needs_no_fain(quinn):
    make_item(quinn.department, award=None, federal_share=Decimal(0), funding_source="local")
    (row,) = rows_of(quinn.department)
    assert row["award_fain"] == "none: no federal share"
    assert "FAIN" not in row["gaps"]


def test_a_row_of_several_alike_costs_unit_times_number_to_the_penny(quinn):
    item = make_item(quinn.department, unit_cost=Decimal("19.99"))
    at = NOON - timedelta(days=2)
    record_count(department=item.department, item=item, counted=7, happened_at=at, recorded_at=at, by_name="Avery")
    (row,) = rows_of(quinn.department)
    assert (row["quantity"], row["unit_cost_usd"], row["cost_usd"]) == ("7", "19.99", "139.93")
    assert row["last_sighted_by"] == "Avery"


def test_what_was_sold_stays_with_its_date_price_and_federal_share(quinn):
    item = make_item(quinn.department)
    dispose(item, quinn)
    (row,) = rows_of(quinn.department)
    assert (row["disposition"], row["disposition_date"], row["sale_price_usd"]) == ("Sold", "2026-11-23", "1000.00")
    assert row["federal_share_of_proceeds_usd"] == "750.00"
    assert row["state"] == "disposed"
    assert row["location"] == "none: disposed"


def test_a_disposition_sent_twice_is_recorded_once(quinn):
    item = make_item(quinn.department)
    assert dispose(item, quinn, client_id=ID_1) == dispose(item, quinn, client_id=ID_1)
    assert item.dispositions.count() == item.state_events.count() == 1


def test_a_thing_leaves_once_and_a_sale_has_a_price(quinn):
    item = make_item(quinn.department)
    with pytest.raises(Conflict, match="price"):
        dispose(item, quinn, sale_price=None)
    dispose(item, quinn)
    with pytest.raises(Conflict, match="disposed of before"):
        dispose(item, quinn, client_id=uuid.uuid4())


def test_an_open_deficiency_is_named_with_its_days(quinn):
    item = make_item(quinn.department)
    inspect(item, quinn, values=HOLD | {"p2_psi": 1.6})
    (row,) = rows_of(quinn.department)
    assert int(row["open_deficiencies"]) >= 1
    assert "open 9 days" in row["open_deficiencies_named"]


def test_a_corrected_inspection_is_no_proof(quinn):
    item = make_item(quinn.department)
    wrong = inspect(item, quinn)
    inspect(item, quinn, values=HOLD | {"p2_psi": 1.6}, corrects=Inspection.objects.get(pk=wrong.pk))
    (row,) = rows_of(quinn.department)
    assert "SH1 proven" not in row["last_proof_of_each_impairment_mode"]
    assert row["open_deficiencies"] != "0"


def test_a_past_instant_shows_what_was_known_then(quinn):
    item = make_item(quinn.department)
    dispose(item, quinn)
    known_later = rows_of(quinn.department, NOON - timedelta(days=2))
    assert known_later[0]["disposition"] == "not disposed"


@pytest.mark.parametrize("text", ["=1+1", "+cmd|' /C calc'!A0", "@SUM(A1)", "-2+3", "\t=1", "\r=1", "\n=1", "=", "-"])
def test_text_that_a_spreadsheet_would_run_is_held_by_an_apostrophe(text):
    assert guarded(text) == "'" + text
    assert unguarded(guarded(text)) == text


@pytest.mark.parametrize(
    "text", ["-40", "+1.5", "-3e-5", "12", "TH-2019", "a=b", "", "O'Neil", "'quoted'", "'=A1", "''=A1"]
)
def test_other_text_and_real_numbers_go_out_and_come_back_as_they_are(text):
    assert unguarded(guarded(text)) == text
    if text and text[0] != "'":
        assert guarded(text) == text


def test_no_cell_of_an_export_begins_a_formula(quinn):
    nasty = '=HYPERLINK("http://x.invalid","go"),\n"two"'
    item = make_item(quinn.department, tag="@SH", name=nasty, serial="-1+1", custodian="+Quinn", use="\tdrill")
    (row,) = rows_of(quinn.department)
    assert all(cell[:1] not in {"=", "+", "-", "@", "\t", "\r"} for cell in row.values())
    assert unguarded(row["description"]) == item.name
    assert unguarded(row["serial"]) == item.serial


def test_the_export_is_one_header_row_and_utf_8_with_a_mark_only_where_asked(quinn):
    make_item(quinn.department, name="Dusche für zwei \u00b0F")
    plain = status_export(department=quinn.department, as_of=NOON)
    marked = status_export(department=quinn.department, as_of=NOON, bom=True)
    assert marked == b"\xef\xbb\xbf" + plain
    assert plain.decode().splitlines()[0].split(",") == list(HEADER)
    assert "Dusche für zwei" in plain.decode()


def test_records_come_in_a_fixed_number_of_queries(quinn, django_assert_max_num_queries):
    line = make_line(quinn.department)
    for number in range(25):
        make_item(quinn.department, tag=f"SH-{number:02}", line=line)
    with django_assert_max_num_queries(25):
        assert len(list(property_records(quinn.department, NOON))) == 25


def test_rows_of_another_department_are_not_there(quinn, sam):
    make_item(quinn.department)
    make_item(sam.department, tag="OR-01")
    assert [row["tag"] for row in rows_of(sam.department, datetime.now(UTC))] == ["OR-01"]
