"""The walls, walked: every route as every role, signed out, and as another department.

The table says what each route needs, by method. A route that is not in it fails the suite, so a new page or address
cannot slip in without somebody deciding who may use it.
"""

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from inspections.models import Calibration, Deficiency, Inspection, Plant, PlantEvent, Procedure, RunEvent, Snap, Walk
from inspections.services import record_calibration
from inspections.services.runs import record_run_event, send_line
from inspections.services.snaps import draw_snap
from inventory.models import CrewMember, ImportDraft, ImportRun, Item, ItemKind, Line, Lot, Order, Place, Recall
from inventory.services import place_order, record_recall
from reports.feeds import make_feed
from reports.models import CalendarFeed
from reports.services import ask_document
from shared.files import keep_file
from shared.models import ApiToken, Department, Invitation, Membership, StoredFile, User
from shared.tokens import digest_of, make_token
from shared.walls import CAPABILITIES
from tests.conftest import make_person
from tests.demo_district import loaded_for_a_module

PAPER = b"%PDF-1.4\n%%EOF\n"
ROLES = ("head", "officer", "crew", "grants", "visitor")

# page -> {method: what it needs}. "public" needs no sign-in, "signed-in" no membership.
PAGES: dict[str, dict[str, str]] = {
    "shared:sign-in": {"GET": "public"},
    "shared:healthz": {"GET": "public"},
    "shared:sign-out": {"POST": "signed-in"},
    "shared:department": {"POST": "signed-in"},
    "shared:settings": {"GET": "signed-in"},
    "shared:change-password": {"POST": "signed-in"},
    "shared:make-token": {"POST": "token"},
    "shared:mail": {"POST": "read"},
    "shared:alert-step": {"POST": "mission"},
    "shared:revoke-token": {"POST": "token"},
    "shared:file": {"GET": "read"},
    "readiness:tonight": {"GET": "read"},
    "due:list": {"GET": "read"},
    "readiness:alerts-seen": {"POST": "mission"},
    "readiness:line": {"GET": "read"},
    "readiness:set-mission": {"POST": "mission"},
    "inventory:bay": {"GET": "read"},
    "inventory:item-list": {"GET": "read"},
    "inventory:item": {"GET": "read"},
    "inventory:move": {"POST": "write"},
    "inventory:change-state": {"POST": "write"},
    "inventory:place": {"GET": "read"},
    "inventory:seal": {"POST": "walk"},
    "inventory:load-list": {"GET": "read"},
    "inventory:lot-list": {"GET": "read"},
    "inventory:count-lot": {"GET": "walk", "POST": "walk"},
    "inventory:crew": {"GET": "read"},
    "inventory:crew-csv": {"GET": "read"},
    "inventory:add-crew": {"GET": "write", "POST": "write"},
    "inventory:change-crew": {"GET": "write", "POST": "write"},
    "inventory:add-paper": {"POST": "write"},
    "inventory:recall-list": {"GET": "read"},
    "inventory:new-recall": {"GET": "write", "POST": "write"},
    "inventory:recall": {"GET": "read"},
    "inventory:release": {"POST": "walk"},
    "orders:list": {"GET": "read"},
    "orders:csv": {"GET": "read"},
    "orders:new": {"GET": "write", "POST": "write"},
    "orders:order": {"GET": "read"},
    "orders:receive": {"POST": "write"},
    "orders:date": {"POST": "write"},
    "orders:cancel": {"POST": "write"},
    "shared:people": {"GET": "people"},
    "shared:invite": {"POST": "people"},
    "shared:invite-again": {"POST": "people"},
    "shared:withdraw": {"POST": "people"},
    "shared:change-member": {"POST": "people"},
    "shared:retire-member": {"POST": "people"},
    "shared:accept": {"GET": "public"},
    **{
        f"{space}:{name}": needs
        for space in ("cache-import", "checks-import")
        for name, needs in {
            "list": {"GET": "write", "POST": "write"},
            "draft": {"GET": "write"},
            "mend": {"POST": "write"},
            "take-in": {"POST": "write"},
            "drop": {"POST": "write"},
            "run": {"GET": "write"},
        }.items()
    },
    "inspections:walk": {"GET": "read"},
    "inspections:open-walk": {"POST": "walk"},
    "inspections:offline": {"GET": "public"},
    "inspections:worker": {"GET": "public"},
    "inspections:manifest": {"GET": "public"},
    "inspections:overview": {"GET": "walk"},
    "inspections:pack": {"GET": "walk"},
    "inspections:sync": {"POST": "walk"},
    "inspections:sync-photo": {"POST": "walk"},
    "inspections:take-up": {"POST": "walk"},
    "inspections:round": {"GET": "read"},
    "inspections:seen": {"POST": "walk"},
    "inspections:sign": {"POST": "walk"},
    "inspections:check": {"GET": "walk", "POST": "walk"},
    "inspections:inspection": {"GET": "read"},
    "inspections:correct": {"GET": "walk", "POST": "walk"},
    "inspections:trend": {"GET": "read"},
    "inspections:trend-csv": {"GET": "export"},
    "inspections:repair": {"POST": "walk"},
    "inspections:upkeep": {"POST": "walk"},
    "inspections:take-out": {"POST": "walk"},
    "inspections:bring-back": {"POST": "write"},
    "runs:list": {"GET": "read"},
    "runs:send": {"GET": "walk", "POST": "walk"},
    "runs:run": {"GET": "read"},
    "runs:put": {"POST": "walk"},
    "runs:undo": {"POST": "walk"},
    "runs:amend": {"GET": "walk", "POST": "walk"},
    "runs:receive": {"GET": "walk", "POST": "walk"},
    "runs:receipt": {"GET": "read"},
    "runs:after-use": {"GET": "read"},
    "runs:dry": {"POST": "walk"},
    "runs:pack": {"POST": "walk"},
    "runs:clear": {"POST": "write"},
    "runs:drills": {"GET": "read"},
    "runs:snaps": {"GET": "read"},
    "runs:draw": {"POST": "write"},
    "runs:snap": {"GET": "read"},
    "runs:answer": {"POST": "walk"},
    "runs:plants": {"GET": "plant"},
    "runs:plant": {"GET": "write", "POST": "write"},
    "runs:remove-plant": {"POST": "walk"},
    "deficiencies:list": {"GET": "read"},
    "deficiencies:find-item": {"GET": "walk"},
    "deficiencies:new": {"GET": "walk", "POST": "walk"},
    "deficiencies:deficiency": {"GET": "read"},
    "deficiencies:repair": {"POST": "walk"},
    "deficiencies:restore": {"POST": "walk"},
    "deficiencies:accept": {"POST": "accept"},
    "deficiencies:withdraw": {"POST": "accept"},
    "deficiencies:photos": {"POST": "walk"},
    "deficiencies:photos-of-record": {"POST": "walk"},
    "proofs:list": {"GET": "read"},
    "proofs:in-doubt": {"GET": "read"},
    "proofs:coverage": {"GET": "read"},
    "proofs:chain": {"GET": "read"},
    "reports:tag": {"GET": "report"},
    "reports:document-list": {"GET": "read"},
    "reports:ask": {"POST": "report"},
    "reports:status-export": {"GET": "export"},
    "reports:labels": {"GET": "report"},
    "reports:make-feed": {"POST": "token"},
    "reports:revoke-feed": {"POST": "token"},
    "reports:feed": {"GET": "public"},
    "reports:document": {"GET": "read"},
    "reports:ask-again": {"POST": "report"},
    "reports:document-file": {"GET": "read"},
    "catalogue:procedures": {"GET": "read"},
    "catalogue:procedure": {"GET": "read"},
    "catalogue:new-check": {"GET": "write", "POST": "write"},
    "catalogue:amend": {"GET": "write", "POST": "write"},
    "catalogue:limits": {"GET": "read"},
    "catalogue:limit": {"GET": "read"},
    "catalogue:put-limit": {"POST": "write"},
    "catalogue:intervals": {"GET": "read"},
    "catalogue:interval": {"GET": "read"},
    "catalogue:put-interval": {"POST": "write"},
    "catalogue:kinds": {"GET": "read"},
    "catalogue:kind": {"GET": "read"},
    "catalogue:put-checks": {"POST": "write"},
    "catalogue:instruments": {"GET": "read"},
    "catalogue:calibration": {"GET": "read"},
    "catalogue:calibrate": {"POST": "write"},
    "proof-book:verification": {"GET": "read"},
    "proof-book:verify": {"POST": "report"},
}
API: dict[str, dict[str, str]] = {
    "api:schema": {"GET": "public"},
    "api:token": {"POST": "public", "DELETE": "token"},
    "api:me": {"GET": "read"},
    "api:agenda": {"GET": "read"},
    "api:alert-list": {"GET": "read"},
    "api:line-list": {"GET": "read"},
    "api:line-detail": {"GET": "read"},
    "api:line-ask": {"POST": "read"},
    "api:line-rating": {"GET": "read"},
    "api:place-list": {"GET": "read"},
    "api:place-detail": {"GET": "read"},
    "api:kind-list": {"GET": "read"},
    "api:kind-detail": {"GET": "read"},
    "api:item-list": {"GET": "read"},
    "api:item-detail": {"GET": "read"},
    "api:item-readings": {"GET": "read"},
    "api:item-trends": {"GET": "read"},
    "api:item-take-out": {"POST": "walk"},
    "api:item-bring-back": {"POST": "write"},
    "api:lot-list": {"GET": "read"},
    "api:lot-detail": {"GET": "read"},
    "api:load-list-list": {"GET": "read"},
    "api:posting-list": {"GET": "read", "POST": "write"},
    "api:count-list": {"GET": "read", "POST": "walk"},
    "api:order-list": {"GET": "read", "POST": "write"},
    "api:order-detail": {"GET": "read"},
    "api:recall-list": {"GET": "read", "POST": "write"},
    "api:recall-detail": {"GET": "read"},
    "api:crew-list": {"GET": "read", "POST": "write"},
    "api:crew-detail": {"GET": "read"},
    "api:procedure-list": {"GET": "read", "POST": "write"},
    "api:calibration-list": {"GET": "read", "POST": "write"},
    "api:calibration-detail": {"GET": "read"},
    "api:procedure-detail": {"GET": "read"},
    "api:walk-list": {"GET": "read", "POST": "walk"},
    "api:walk-detail": {"GET": "read"},
    "api:walk-sign": {"POST": "walk"},
    "api:inspection-list": {"GET": "read", "POST": "walk"},
    "api:inspection-detail": {"GET": "read"},
    "api:deficiency-list": {"GET": "read", "POST": "walk"},
    "api:deficiency-restore": {"POST": "walk"},
    "api:deficiency-accept": {"POST": "accept"},
    "api:deficiency-withdraw": {"POST": "accept"},
    "api:deficiency-acceptances": {"GET": "read"},
    "api:deficiency-photos": {"GET": "read"},
    "api:deficiency-add-photo": {"POST": "walk"},
    "api:deficiency-detail": {"GET": "read"},
    "api:repair-list": {"GET": "read", "POST": "walk"},
    "api:upkeep-list": {"GET": "read", "POST": "walk"},
    "api:run-list": {"GET": "read", "POST": "walk"},
    "api:run-detail": {"GET": "read"},
    "api:run-receive": {"POST": "walk"},
    "api:run-event-list": {"GET": "read", "POST": "walk"},
    "api:hand-receipt-list": {"GET": "read"},
    "api:hand-receipt-detail": {"GET": "read"},
    "api:snap-list": {"GET": "read", "POST": "write"},
    "api:snap-detail": {"GET": "read"},
    "api:snap-answer-list": {"GET": "read", "POST": "walk"},
    "api:plant-list": {"GET": "plant", "POST": "write"},
    "api:plant-detail": {"GET": "plant"},
    "api:plant-remove": {"POST": "walk"},
    "api:status-export": {"GET": "export"},
    "api:document-list": {"GET": "read", "POST": "report"},
    "api:document-detail": {"GET": "read"},
    "api:document-file": {"GET": "read"},
    "api:disposition-list": {"GET": "read", "POST": "property"},
}
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


@dataclass(frozen=True)
class District:
    """One of everything in the demo district, by what an address needs to name it."""

    line: Line
    item: Item
    lot: Lot
    place: Place
    kind: ItemKind
    procedure: Procedure
    walk: Walk
    inspection: Inspection
    deficiency: Deficiency
    document: object
    run: RunEvent  # a row of a run's sheet
    snap: Snap
    plant: Plant  # old enough for the head and the officers, found by the crew
    token: ApiToken
    file: StoredFile
    calibration: Calibration
    feed: tuple[CalendarFeed, str]

    def address(self, name: str) -> tuple[str, dict[str, object]]:
        """Return the keyword arguments that a route needs, pointing into this district."""
        of = {
            "inspections:check": {"of": "item", "pk": self.item.pk, "check_key": "hold"},
            "inspections:inspection": {"client_id": self.inspection.client_id},
            "inspections:correct": {"client_id": self.inspection.client_id},
            "inspections:trend": {"pk": self.item.pk, "quantity": "hold-loss"},
            "inspections:trend-csv": {"pk": self.item.pk, "quantity": "hold-loss"},
            "inspections:round": {"pk": self.walk.pk},
            "inspections:seen": {"pk": self.walk.pk},
            "inspections:take-up": {"pk": self.walk.pk},
            "inspections:pack": {"pk": self.place.pk},
            "inspections:sign": {"pk": self.walk.pk},
            "catalogue:procedure": {"check_key": "hold"},
            "catalogue:amend": {"check_key": "hold"},
            "catalogue:limit": {"key": "hold_loss_1h"},
            "catalogue:put-limit": {"key": "hold_loss_1h"},
            "catalogue:interval": {"code": "SH1"},
            "catalogue:put-interval": {"code": "SH1"},
            "catalogue:kind": {"key": self.kind.key},
            "catalogue:put-checks": {"key": self.kind.key},
            "catalogue:calibration": {"pk": self.calibration.pk},
            "catalogue:calibrate": {"pk": self.item.pk},
            "runs:send": {"pk": self.line.pk},
            "runs:drills": {"pk": self.line.pk},
            **{f"runs:{name}": {"pk": self.run.run_id} for name in ("run", "put", "receive")},
            **{f"runs:{name}": {"pk": self.run.run_id, "event": self.run.pk} for name in ("undo", "amend")},
            "runs:receipt": {"pk": self.run.run.receipts.get().pk},
            "runs:snap": {"pk": self.snap.pk},
            "runs:answer": {"pk": self.snap.pk},
            "runs:plant": {"pk": self.item.pk},
            "runs:remove-plant": {"pk": self.plant.pk},
            "api:run-detail": {"pk": self.run.run_id},
            "api:run-receive": {"pk": self.run.run_id},
            "api:hand-receipt-detail": {"pk": self.run.run.receipts.get().pk},
            "api:snap-detail": {"pk": self.snap.pk},
            "api:plant-detail": {"pk": self.plant.pk},
            "api:plant-remove": {"pk": self.plant.pk},
            "shared:revoke-token": {"pk": self.token.pk},
            "shared:file": {"pk": self.file.pk},
            "shared:accept": {"key": "walls"},
            **self.cache_rows(),
            "inventory:load-list": {"pk": self.line.pk},
            "inventory:place": {"pk": self.place.pk},
            "inventory:seal": {"pk": self.place.pk},
            "inventory:count-lot": {"pk": self.lot.pk},
            "readiness:line": {"pk": self.line.pk},
            "readiness:set-mission": {"pk": self.line.pk},
            "reports:revoke-feed": {"pk": self.feed[0].pk},
            "reports:feed": {"key": self.feed[1]},
            "reports:document": {"pk": self.document.pk},
            "reports:labels": {"pk": self.place.pk},
            "reports:ask-again": {"pk": self.document.pk},
            "reports:document-file": {"pk": self.document.pk},
            "api:kind-detail": {"key": self.kind.key},
            "api:place-detail": {"pk": self.place.pk},
            "api:lot-detail": {"pk": self.lot.pk},
            "api:procedure-detail": {"pk": self.procedure.pk},
            "api:calibration-detail": {"pk": self.calibration.pk},
            "api:walk-detail": {"pk": self.walk.pk},
            "api:walk-sign": {"pk": self.walk.pk},
            "api:inspection-detail": {"pk": self.inspection.pk},
            **{
                f"api:deficiency-{name}": {"pk": self.deficiency.pk}
                for name in ("detail", "restore", "accept", "withdraw", "acceptances", "photos", "add-photo")
            },
            **{
                f"deficiencies:{name}": {"pk": self.deficiency.pk}
                for name in ("deficiency", "repair", "restore", "accept", "withdraw", "photos")
            },
            "deficiencies:new": {"pk": self.item.pk},
            "deficiencies:photos-of-record": {"client_id": self.inspection.client_id},
            "reports:tag": {"pk": self.deficiency.pk},
            "api:document-detail": {"pk": self.document.pk},
            "api:document-file": {"pk": self.document.pk},
        }
        if name in of:
            return reverse(name, kwargs=of[name]), of[name]
        holder = name.split(":")[1].split("-")[0]
        if name in ("inventory:item", "inventory:move", "inventory:change-state") or (
            name.startswith("inspections:") and name.split(":")[1] in ("repair", "upkeep", "take-out", "bring-back")
        ):
            return reverse(name, kwargs={"pk": self.item.pk}), {"pk": self.item.pk}
        if name.startswith("api:") and holder in ("line", "item") and not name.endswith("-list"):
            pk = {"line": self.line, "item": self.item}[holder].pk
            return reverse(name, kwargs={"pk": pk}), {"pk": pk}
        return reverse(name), {}

    def cache_rows(self) -> dict[str, dict[str, object]]:
        """Return the rows that orders, recalls, the roster, people and imports are named by, made where missing."""
        department, quinn = self.line.department, self.token.user
        signed = {"department": department, "happened_at": timezone.now(), "by": quinn, "by_name": "Quinn"}
        order = Order.objects.filter(department=department).first()
        order = order or place_order(kind=self.kind, quantity=1, **signed)
        recall = Recall.objects.filter(department=department).first()
        recall = recall or record_recall(reference="R-1", what="none of ours", serials=["no such serial"], **signed)
        crew = CrewMember.objects.filter(department=department).first()
        member = Membership.objects.get(department=department, user__username="casey")
        invitation = Invitation.objects.filter(department=department).first() or Invitation.objects.create(
            department=department, display_name="Marlow", role="crew", digest=digest_of("walls"), made_by=quinn,
            expires_at=timezone.now() + timezone.timedelta(days=1),
        )  # fmt: skip
        named = {f"orders:{name}": {"pk": order.pk} for name in ("order", "receive", "date", "cancel")}
        named |= {f"inventory:{name}": {"pk": recall.pk} for name in ("recall", "release")}
        named |= {f"shared:{name}": {"pk": invitation.pk} for name in ("invite-again", "withdraw")}
        named |= {f"shared:{name}": {"pk": member.pk} for name in ("change-member", "retire-member")}
        named |= {"inventory:change-crew": {"pk": crew.pk}, "inventory:add-paper": {"pk": self.item.pk}}
        named |= {"api:order-detail": {"pk": order.pk}, "api:recall-detail": {"pk": recall.pk}}
        named |= {"api:crew-detail": {"pk": crew.pk}}
        for sort in ("cache", "checks"):
            of = {"department": department, "sort": sort}
            draft = ImportDraft.objects.filter(**of).first() or ImportDraft.objects.create(
                **of, file=self.file, by=quinn, preview={"taken": 0}, dropped_at=timezone.now()
            )
            run = ImportRun.objects.filter(**of).first()
            named |= {f"{sort}-import:{name}": {"pk": draft.pk} for name in ("draft", "mend", "take-in", "drop")}
            named[f"{sort}-import:run"] = {"pk": run.pk}
        return named


def _routes(resolver: URLResolver, space: str = "") -> Iterator[tuple[str, object]]:
    for each in resolver.url_patterns:
        if isinstance(each, URLResolver):
            yield from _routes(each, each.namespace or space)
        elif isinstance(each, URLPattern):
            yield f"{space}:{each.name}", each.callback


@pytest.fixture(scope="module")
def _district(django_db_setup, django_db_blocker):
    with loaded_for_a_module(django_db_blocker) as department, django_db_blocker.unblock():
        quinn = User.objects.get(username="quinn")
        line = Line.objects.get(department=department, name="Line C")
        item = Item.objects.get(department=department, tag="SH1-02")
        inspection = Inspection.objects.filter(item=item, verdict="fail").first()
        walk = Walk.objects.create(
            department=department, client_id=uuid.uuid4(), place=line.home or Place.objects.first(), by=quinn
        )
        yield District(
            line=line,
            item=item,
            lot=Lot.objects.filter(department=department).first(),
            place=Place.objects.filter(department=department).first(),
            kind=ItemKind.objects.filter(department=department).first(),
            procedure=Procedure.objects.filter(department=department).first(),
            walk=walk,
            inspection=inspection,
            deficiency=Deficiency.objects.filter(item=item).first(),
            run=_run(line, quinn),
            snap=_snap(department, quinn),
            plant=_plant(department, quinn),
            document=ask_document(department=department, sort="inspection", by=quinn, inspection=inspection),
            token=make_token(membership=quinn.memberships.get(), name="of Quinn")[0],
            feed=make_feed(department=department, user=quinn, line=None, lead_days=7, at=timezone.now()),
            file=keep_file(department=department, content=PAPER, name="plate.pdf", by=quinn),
            calibration=record_calibration(
                department=department,
                item=item,
                quantity="pressure",
                reference="reference gauge",
                accepted=True,
                due_on=date(2030, 1, 1),
                happened_at=timezone.now(),
                by=quinn,
                by_name="Quinn",
                client_id=uuid.uuid4(),
            ),
        )


def _signed(user: User) -> dict[str, object]:
    return {"by": user, "by_name": user.signed_name, "client_id": uuid.uuid4()}


def _run(line: Line, quinn: User) -> RunEvent:
    at = timezone.now() - timezone.timedelta(hours=2)
    said = {"sort": "drill", "title": "Autumn drill", "accepted_by": "Dana Reyes"}
    run = send_line(department=line.department, line=line, happened_at=at, **said, **_signed(quinn))
    return record_run_event(
        department=line.department, run=run, event="person", lane=1, walking=True, happened_at=at, **_signed(quinn)
    )


def _snap(department: Department, quinn: User) -> Snap:
    return draw_snap(department=department, seed="walls", happened_at=timezone.now(), **_signed(quinn))


def _plant(department: Department, quinn: User) -> Plant:
    item = Item.objects.filter(department=department, kind__key="light_strip", postings__line__name="Line B").first()
    planted = Plant.objects.create(
        department=department, item=item, mode_code="LT1", check_key="light", what="two segments unplugged",
        happened_at=timezone.now() - timezone.timedelta(days=3), **_signed(quinn),
    )  # fmt: skip
    PlantEvent.objects.create(
        department=department, plant=planted, event="found", happened_at=timezone.now(), **_signed(quinn)
    )
    return planted


@pytest.fixture
def district(_district, db) -> District:
    return _district


def _person(role: str, district: District) -> User:
    return User.objects.get(
        memberships__department=district.line.department,
        memberships__role=role,
        username__in=("hollis", "quinn", "casey", "gray", "visitor"),
    )


def _client(user: User | None = None) -> Client:
    client = Client(raise_request_exception=True)
    if user is not None:
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def _ask(client: Client, method: str, address: str, *, api: bool) -> int:
    body = {"content_type": "application/json", "data": "{}"} if api and method != "GET" else {}
    return getattr(client, method.lower())(address, **body).status_code


def _cases(table: dict[str, dict[str, str]]) -> list[tuple[str, str, str]]:
    return [(name, method, need) for name, needs in table.items() for method, need in needs.items()]


def test_every_route_is_in_the_table_and_every_row_of_it_is_a_route():
    routes = {name for name, _ in _routes(get_resolver())}
    assert routes == set(PAGES) | set(API)


def test_every_page_carries_the_capability_the_table_says_and_every_api_view_one_for_each_method():
    for name, callback in _routes(get_resolver()):
        if name in PAGES:
            assert getattr(callback, "capability", None) in set(PAGES[name].values()), name
        else:
            methods = {m.upper() for m in getattr(callback, "actions", None) or API[name]} - {"HEAD", "OPTIONS"}
            assert methods == set(API[name]), name


@pytest.mark.parametrize(("name", "method", "need"), _cases(PAGES))
def test_signed_out_a_page_asks_to_sign_in_first(district, name, method, need):
    address, _ = district.address(name)
    response = getattr(_client(), method.lower())(address)
    if need == "public":
        assert response.status_code == 200
    else:
        assert response.status_code == 302
        assert response["Location"].startswith(reverse("shared:sign-in"))


@pytest.mark.parametrize(("name", "method", "need"), _cases(API))
def test_signed_out_the_api_says_401(district, name, method, need):
    address, _ = district.address(name)
    status = _ask(_client(), method, address, api=True)
    assert status == 401 if need != "public" else status in (200, 400)


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize(("name", "method", "need"), _cases(PAGES | API))
def test_a_role_gets_what_it_may_and_403_for_the_rest(district, role, name, method, need):
    address, _ = district.address(name)
    person = _person(role, district)
    client = _client(person)
    if name == "api:token":
        # The one address that speaks of the token it was signed with.
        _, key = make_token(membership=person.memberships.get(), name="walls")
        client = Client(headers={"authorization": f"Token {key}"})
    status = _ask(client, method, address, api=name in API)
    may = need in ("public", "signed-in") or role in CAPABILITIES[need]
    if may:
        # An empty body is refused (400, 422) or comes back with its errors; what matters is that the wall let it in.
        # Somebody else's token is not there for anybody but its owner.
        allowed = {200, 201, 204, 302, 303, 400, 409, 422}
        own = (
            name in ("shared:revoke-token", "reports:revoke-feed") and role != "officer"
        ) or name == "readiness:alerts-seen"
        unready = name in ("reports:document-file", "api:document-file")
        assert status in allowed | ({404} if own or unready else set()), (name, method, role, status)
    else:
        assert status == 403, (name, method, role, status)


@pytest.mark.parametrize(("name", "method", "need"), _cases(PAGES | API))
def test_another_department_finds_nothing_of_ours(district, sam, other_department, name, method, need):
    address, points_at = district.address(name)
    # Whoever of theirs may do most here: a role that may not is turned away before anything is looked for.
    client = _client(make_person("Robin", other_department, "head") if need in ("mission", "accept") else sam)
    if points_at and need not in ("public", "signed-in"):
        status = _ask(client, method, address, api=name in API)
        # Sam's department has a kind of the same key where its own catalogue does: then it is Sam's own.
        assert status == 404, (name, method, status)
        return
    if method == "GET" and need not in ("public",):
        response = client.get(address)
        text = b"".join(response.streaming_content if response.streaming else [response.content]).decode()
        assert "SH1-02" not in text
        assert "Line C" not in text


@pytest.mark.parametrize("method", METHODS)
def test_somebody_with_no_department_reads_nothing(district, method):
    stranger = User.objects.create_user("stranger", password="no department at all")
    for name, needs in PAGES.items():
        if method in needs and needs[method] not in ("public", "signed-in"):
            address, _ = district.address(name)
            assert _ask(_client(stranger), method, address, api=False) in (302, 403), name


def test_a_visitors_pass_ends_on_its_day(district, department):
    yesterday = timezone.localdate() - timezone.timedelta(days=1)
    late = make_person("Late", department, "visitor", starts_on=yesterday, ends_on=yesterday)
    assert _client(late).get(reverse("readiness:tonight")).status_code in (302, 403)
