"""Attacks by id: whatever of ours another department posts to a form or to the API by its number does not exist.

Sam may do everything in his own department and knows our numbers. Each write of his names one thing of ours among
things of his own; it is refused, nothing is recorded on either side, and a number of ours reads like one never given.
"""

import uuid
from dataclasses import dataclass
from datetime import date

import pytest
from django.apps import apps
from django.db.models import Model
from django.urls import reverse
from rest_framework.relations import PrimaryKeyRelatedField

from inspections import api as evidence_api
from inspections import run_api
from inspections.models import Calibration, Deficiency, Inspection, Run, RunEvent, Snap, Walk
from inspections.services import open_walk, record_calibration
from inspections.services.runs import open_run, record_run_event
from inventory import api as cache_api
from inventory import order_api
from inventory.models import Award, Count, Item, ItemKind, Line, Lot, Place, Posting
from inventory.services import record_count
from reports import api as papers_api
from reports.models import Document
from shared.ledger import LedgerRow
from tests.flows.api import at, problem_of, signed
from tests.flows.bays import HOLD, ago, load, make_item, make_line, make_lot, make_place, record

pytestmark = pytest.mark.django_db
WATCHED = [*(model for model in apps.get_models() if issubclass(model, LedgerRow)), Walk, Document]
HOLD_API = {key: HOLD[key] for key in ("p1_psi", "t1_degF", "p2_psi", "t2_degF", "hold_min", "same_gauge")}
NOBODYS = 987_654
CALIBRATION = {"quantity": "pressure", "reference": "dead weight", "accepted": True, "due_on": "2099-01-01"}


@dataclass(frozen=True)
class Things:
    """One of everything that a body can name, of one department."""

    place: Place
    line: Line
    item: Item
    lot: Lot
    walk: Walk
    inspection: Inspection
    deficiency: Deficiency
    posting: Posting
    kind: ItemKind
    award: Award
    count: Count
    run: Run
    run_event: RunEvent
    snap: Snap
    calibration: Calibration


def things_of(user) -> Things:
    department = load(user.department)
    item = make_item(department, "shelter", "SH-01")
    lot = make_lot(department)
    place = make_place(department)
    of = {"department": department, "by": user, "by_name": user.display_name, "happened_at": ago(hours=1)}
    failed = record(item, "hold", HOLD | {"p2_psi": "1.0", "t2_degF": "62"})
    return Things(
        place=place,
        line=make_line(department),
        item=item,
        lot=lot,
        walk=open_walk(department=department, place=place, by=user, started_at=ago(hours=2), client_id=uuid.uuid4()),
        inspection=failed,
        deficiency=failed.deficiencies.get(),
        posting=item.postings.get(),
        kind=item.kind,
        award=Award.objects.create(department=department, number="EX-1"),
        count=record_count(department=department, item=item, counted=1, happened_at=ago(hours=1), by_name=str(user)),
        run=(run := open_run(**of, line=make_line(department), sort="drill", title="Drill", client_id=uuid.uuid4())),
        run_event=record_run_event(**of, run=run, event="note", text="dry", client_id=uuid.uuid4()),
        snap=Snap.objects.create(**of, item=item, check_key="look", weight=1, pool=1, seed="7"),
        calibration=record_calibration(
            department=department,
            item=item,
            happened_at=ago(hours=1),
            by_name=str(user),
            client_id=uuid.uuid4(),
            quantity="pressure",
            reference="dead weight",
            accepted=True,
            due_on=date(2099, 1, 1),
        ),
    )


@pytest.fixture
def ours(quinn):
    return things_of(quinn)


@pytest.fixture
def his(sam):
    return things_of(sam)


def rows_of_everything() -> dict[str, int]:
    return {model.__name__: model._default_manager.count() for model in WATCHED}


# address, what it takes of the sender's own, and the fields that name a thing: every one of them is attacked.
API = [
    ("postings", {"change": 1, "posting_reason": "found"}, {"item": "item"}, ["item"]),
    ("postings", {"change": 1, "posting_reason": "found"}, {"lot": "lot"}, ["lot"]),
    ("postings", {"change": 0, "posting_reason": "moved"}, {"item": "item"}, ["place", "line"]),
    ("postings", {"change": 0, "posting_reason": "moved"}, {"item": "item"}, [("corrects", "posting")]),
    ("counts", {"counted": 3}, {"item": "item"}, ["item", "line", ("corrects", "count")]),
    ("counts", {"counted": 3}, {"lot": "lot", "line": "line"}, ["lot", "line"]),
    ("walks", {}, {"place": "place"}, ["place"]),
    ("inspections", {"check_key": "hold", "values": HOLD_API}, {"item": "item"}, ["item", "walk"]),
    ("inspections", {"check_key": "count", "values": {"counted": 3}}, {"lot": "lot"}, ["lot"]),
    ("inspections", {"check_key": "setup", "values": {"result": "pass"}}, {"line": "line"}, ["line"]),
    ("deficiencies", {"mode_code": "SH1", "grade": "C", "text": "hisses"}, {"item": "item"}, ["item"]),
    ("repairs", {"what": "sewn"}, {"item": "item"}, ["item", "deficiency"]),
    ("upkeep", {"upkeep_sort": "used"}, {"item": "item"}, ["item"]),
    ("calibrations", CALIBRATION, {"item": "item"}, ["item", ("corrects", "calibration")]),
    ("runs", {"run_sort": "drill", "title": "Drill", "accepted_by": "Dana"}, {"line": "line"}, ["line"]),
    ("run-events", {"sheet_event": "note", "text": "dry"}, {"run": "run"}, ["run", "item", "lot"]),
    ("run-events", {"sheet_event": "undone"}, {"run": "run"}, [("corrects", "run_event")]),
    ("snap-answers", {"found": True}, {"snap": "snap"}, ["snap"]),
    ("plants", {"check_key": "hold", "mode_code": "SH1", "what": "a patch"}, {"item": "item"}, ["item"]),
    ("dispositions", {"method": "scrapped"}, {"item": "item"}, ["item"]),
    ("documents", {"document_sort": "inspection"}, {}, ["inspection", "walk"]),
    ("documents", {"document_sort": "line"}, {}, ["line"]),
    ("orders", {"quantity": 1}, {"order_kind": "kind"}, [("order_kind", "kind"), "line", "award"]),
    ("recalls", {"reference": "R-1", "what": "seams", "serials": ["AB-1"]}, {}, [("recall_kind", "kind")]),
    ("crew", {"name": "Marlow"}, {}, ["line"]),
]


@pytest.mark.parametrize(
    ("address", "said", "own", "named"),
    [(address, said, own, field) for address, said, own, fields in API for field in fields],
)
def test_the_api_takes_no_id_of_another_department(address, said, own, named, ours, his, sam):
    field, thing = named if isinstance(named, tuple) else (named, named)
    sent = {"client_id": str(uuid.uuid4())} | said | {key: getattr(his, name).pk for key, name in own.items()}
    before = rows_of_everything()
    answers = [
        signed(sam).post(at(address), sent | {field: pk}, format="json") for pk in (getattr(ours, thing).pk, NOBODYS)
    ]
    assert [answer.status_code for answer in answers] == [400, 400]
    foreign, unknown = (problem_of(answer)["problems"] for answer in answers)
    assert [one["where"] for one in foreign] == [field]
    # Word for word the answer to a number that nobody has, but for the number.
    assert str(foreign).replace(str(getattr(ours, thing).pk), "#") == str(unknown).replace(str(NOBODYS), "#")
    assert rows_of_everything() == before


def test_every_field_of_the_api_that_names_a_row_is_attacked_above():
    made = [
        getattr(module, name)
        for module in (cache_api, order_api, evidence_api, run_api, papers_api)
        for name in dir(module)
        if name.endswith("Serializer") and not name.startswith("_")
    ]
    taken = {
        (one.__name__, name)
        for one in made
        for name, field in one().fields.items()
        if isinstance(field, PrimaryKeyRelatedField) and not field.read_only
    }
    answering = {"PlaceSerializer", "LoadListRowSerializer", "InspectionSerializer", "InspectionDetailSerializer"}
    answering |= {"RunSerializer", "HandReceiptSerializer", "SnapSerializer"}
    answering |= {
        "DeficiencySerializer",
        "DocumentSerializer",
        "AcceptedRiskSerializer",
        "PhotoSerializer",
    }  # these are only ever sent, never read from a body
    attacked = {field if isinstance(field, str) else field[0] for _, _, _, fields in API for field in fields}
    assert {name for owner, name in taken if owner not in answering} == attacked


@pytest.mark.parametrize(
    ("address", "field"),
    [
        ("places", "within"),
        ("load-lists", "line"),
        ("postings", "item"),
        ("postings", "lot"),
        ("postings", "line"),
        ("counts", "item"),
        ("walks", "place"),
        ("inspections", "item"),
        ("inspections", "walk"),
        ("deficiencies", "item"),
        ("repairs", "item"),
        ("upkeep", "item"),
        ("dispositions", "item"),
        ("runs", "line"),
        ("run-events", "run"),
        ("hand-receipts", "run"),
        ("snaps", "item"),
        ("snap-answers", "snap"),
        ("plants", "item"),
    ],
)
def test_a_filter_does_not_tell_a_number_of_ours_from_one_never_given(address, field, ours, sam):
    thing = {"within": "place"}.get(field, field)
    answers = [signed(sam).get(at(address), {field: pk}) for pk in (getattr(ours, thing).pk, NOBODYS)]
    assert [answer.status_code for answer in answers] == [400, 400]
    assert problem_of(answers[0]) == problem_of(answers[1])


# page, the thing its address names, its fields, and which of them name a thing.
PAGES = [
    ("inventory:move", "item", "move-", {}, {"place": "place", "line": "line"}),
    ("inventory:count-lot", "lot", "", {"counted": "3"}, {"line": "line"}),
    ("inspections:repair", "item", "repair-", {"what": "sewn"}, {"deficiency": "deficiency"}),
]


@pytest.mark.parametrize(
    ("page", "thing", "prefix", "said", "fields", "named"),
    [(*row, field) for row in PAGES for field in row[-1]],
)
def test_a_form_takes_no_id_of_another_department(page, thing, prefix, said, fields, named, ours, his, sam, client_of):
    values = said | {name: getattr(his, of).pk for name, of in fields.items()}
    values |= {"client_id": uuid.uuid4(), named: getattr(ours, fields[named]).pk}
    before = rows_of_everything()
    address = reverse(page, args=[getattr(his, thing).pk])
    answer = client_of(sam).post(address, {f"{prefix}{key}": value for key, value in values.items()})
    assert answer.status_code in (404, 422)
    assert rows_of_everything() == before


def test_a_walk_of_another_department_is_neither_opened_nor_walked_nor_checked_on(ours, his, sam, client_of):
    client, before = client_of(sam), rows_of_everything()
    seen = reverse("inspections:seen", args=[his.walk.pk])
    sent = {"client_id": uuid.uuid4()}
    assert client.post(reverse("inspections:open-walk"), sent | {"place": ours.place.pk}).status_code == 404
    assert client.post(seen, sent | {"item": ours.item.pk}).status_code == 404
    check = reverse("inspections:check", args=["item", his.item.pk, "hold"])
    assert client.post(f"{check}?walk={ours.walk.pk}", HOLD | sent).status_code == 404
    assert rows_of_everything() == before


def test_nothing_of_another_department_is_received_put_on_a_sheet_packed_or_cleared(ours, his, sam, client_of):
    before = rows_of_everything()
    back = {"contamination": "none", "water_ran": True, "handed_by": "Dana", "client_id": str(uuid.uuid4())}
    for named in ({"unused": [ours.item.pk]}, {"came_back": [{"item": ours.item.pk, "quantity": 1}]},
                  {"came_back": [{"lot": ours.lot.pk, "quantity": 1}]}):  # fmt: skip
        answer = signed(sam).post(at(f"runs/{his.run.pk}/receive"), back | named, format="json")
        assert answer.status_code == 400, named
    client, sent = client_of(sam), {"client_id": uuid.uuid4()}
    put = reverse("runs:put", args=[his.run.pk])
    for named in ({"event": "hours", "number": 1, "item": ours.item.pk}, {"event": "used", "lot": ours.lot.pk}):
        assert client.post(put, sent | named).status_code == 422
    undo = reverse("runs:undo", args=[his.run.pk, ours.run_event.pk])
    assert client.post(undo, sent).status_code == 404
    for page in ("runs:dry", "runs:pack", "runs:clear"):
        assert client.post(reverse(page), sent | {"items": [ours.item.pk]}).status_code == 422
    assert rows_of_everything() == before


@pytest.mark.parametrize("thing", ["inspection", "walk", "line"])
def test_no_paper_is_asked_for_about_another_department(thing, ours, his, sam, client_of):
    answer = client_of(sam).post(reverse("reports:ask"), {thing: getattr(ours, thing).pk})
    assert answer.status_code == 400
    assert not Document.objects.exists()


def test_a_form_cannot_say_who_signs_nor_for_which_department(ours, quinn, casey, client_of):
    other_name = {"by_name": "Hollis", "by": quinn.pk, "department": 1, "recorded_at": "2020-01-01", "source": "api"}
    address = reverse("inspections:check", args=["item", ours.item.pk, "hold"])
    client_of(casey).post(address, HOLD | {"client_id": uuid.uuid4()} | other_name)
    row = newest(Inspection)
    assert (row.by, row.by_name, row.department, row.source) == (casey, "Casey", quinn.department, "page")
    assert row.recorded_at.year > 2020


@pytest.mark.parametrize(
    ("address", "said", "model"),
    [
        ("inspections", {"check_key": "hold", "values": HOLD_API}, Inspection),
        ("repairs", {"what": "sewn"}, apps.get_model("inspections", "Repair")),
        ("counts", {"counted": 2}, Count),
    ],
)
def test_the_api_signs_with_the_name_behind_the_token_whatever_is_sent(address, said, model, ours, casey):
    sent = said | {"client_id": str(uuid.uuid4()), "item": ours.item.pk}
    sent |= {"by_name": "Hollis", "by": 1, "department": 1, "recorded_at": "2020-01-01T00:00:00Z", "verdict": "pass"}
    assert signed(casey).post(at(address), sent, format="json").status_code == 201
    row = newest(model)
    assert (row.by, row.by_name, row.department) == (casey, "Casey", casey.department)
    assert row.recorded_at.year > 2020


def newest(model: type[Model]) -> Model:
    return model._default_manager.order_by("-pk").first()
