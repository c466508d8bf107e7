"""What ``manage.py bench`` measures: many lines cloned from one demo line, and two pages."""

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

from django.db import connection, models
from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.test import Client
from django.test.utils import override_settings
from django.urls import path
from django.utils import timezone

from inspections.models import Inspection, Proof
from inventory.models import Count, Item, Line, LoadListRow, Lot, Posting, StateEvent
from readiness import queries
from readiness.bench_formulas import formula_share
from readiness.demo import load_demo
from readiness.rating.mission import Mission
from readiness.rating.rate import rate
from shared.models import Department, User

READ = (Item, Posting, Count, StateEvent, Lot, LoadListRow, Inspection, Proof)
RECENT = timedelta(days=100)  # of evidence cloned with each line: what its freshness rests on


def build_many_lines(count: int) -> tuple[Department, int]:
    """Load the demo, clone its Line B until a department of its own has ``count`` lines, return it and its rows."""
    department = load_demo(today=timezone.localdate())
    model = Line.objects.get(department=department, name="Line B")
    clone = _Cloner(model)
    for number in range(count - Line.objects.filter(department=department).count()):
        clone.one(number)
    clone.flush()
    rows = sum(table.objects.filter(department=department).count() for table in READ)
    return department, rows


class _Cloner:
    """Copies one line's rows under new tags, in batches."""

    def __init__(self, line: Line) -> None:
        self.line = line
        standing = queries.cache.standing(line, timezone.now(), timezone.now())
        self.items = [s.item for s in standing.items]
        self.lots = [s.lot for s in standing.lots]
        self.load_rows = list(line.load_rows.all())
        since = timezone.now() - RECENT
        self.postings = list(Posting.objects.filter(line=line))
        self.counts = _newest_each(Count.objects.filter(item__in=self.items, happened_at__gte=since), "item_id")
        self.inspections = list(Inspection.objects.filter(item__in=self.items, happened_at__gte=since))
        self.proofs = list(Proof.objects.filter(inspection__in=self.inspections))
        self.batch: list[models.Model] = []

    def one(self, number: int) -> None:
        """Queue a copy of the line; every so often write the queue."""
        line = _copy(self.line, name=f"Line {number:05d}")
        line.save()
        items = {i.pk: _copy(i, tag=f"{i.tag}/{number}", serial="") for i in self.items}
        lots = {lot.pk: _copy(lot, number=f"{lot.number}/{number}") for lot in self.lots}
        Item.objects.bulk_create(items.values())
        Lot.objects.bulk_create(lots.values())
        self.batch += [_copy(r, line=line) for r in self.load_rows]
        self.batch += [
            _copy(p, line=line, item=items.get(p.item_id), lot=lots.get(p.lot_id), client_id=uuid4())
            for p in self.postings
            if p.item_id in items or p.lot_id in lots
        ]
        self.batch += [_copy(c, item=items[c.item_id], client_id=uuid4()) for c in self.counts]
        inspections = {i.pk: _copy(i, item=items[i.item_id], client_id=uuid4(), walk=None) for i in self.inspections}
        Inspection._base_manager.bulk_create(inspections.values())
        self.batch += [
            _copy(p, item=items[p.item_id], inspection=inspections[p.inspection_id], client_id=uuid4())
            for p in self.proofs
            if p.item_id in items
        ]
        if len(self.batch) > 20_000:
            self.flush()

    def flush(self) -> None:
        for table in {type(row) for row in self.batch}:
            table._base_manager.bulk_create([row for row in self.batch if type(row) is table], batch_size=2000)
        self.batch = []


def _copy(row: models.Model, **changes: object) -> models.Model:
    fields = {f.attname: getattr(row, f.attname) for f in row._meta.concrete_fields if not f.primary_key}
    made = type(row)(**fields)
    for name, value in changes.items():
        setattr(made, name, value)
    return made


def _newest_each(rows: models.QuerySet, key: str) -> list[models.Model]:
    return list({getattr(row, key): row for row in rows.order_by("happened_at")}.values())


def bare_read() -> int:
    """Read every row of the tables a rating reads with the bare driver; return how many."""
    read = 0
    with connection.cursor() as cursor:
        driver = cursor.cursor  # the DB-API cursor itself: no Django converters
        for table in READ:
            driver.execute(f"SELECT * FROM {table._meta.db_table}")
            read += len(driver.fetchall())
    return read


def rate_all(department: Department, *, score: bool = True) -> int:
    """Gather the facts of every line and rate each against its own mission; return how many."""
    now = timezone.now()
    facts = queries.gather_department(department, now, now)
    if score:
        for each in facts.values():
            rate(each, Mission.from_json(dict(each.rated_mission)))
    return len(facts)


def share_of_formulas(department: Department) -> float:
    """Return which share of rating the department's first line is spent inside the formulas."""
    now = timezone.now()
    first = Line.objects.filter(department=department).order_by("pk").first()
    return formula_share(queries.gather_department(department, now, now)[first.pk])


def tonight_page() -> Callable[[], object]:
    """Return a call that asks the demo's Tonight page for its three lines, signed in."""
    _three_lines()
    client = _signed_in()
    return lambda: _ok(client.get("/"))


def _three_lines() -> None:
    # The page lists a department's lines; the clones of the rating bench are another matter.
    Department.objects.filter(name="Bench").exists() or load_demo(today=timezone.localdate(), name="Bench")


def minimal_page() -> Callable[[], object]:
    """Return a call that asks a page of one query and 25 rows, through the same middleware."""
    client = _signed_in()

    def ask() -> object:
        with override_settings(ROOT_URLCONF=__name__):
            return _ok(client.get("/minimal/"))

    return ask


def _signed_in() -> Client:
    client = Client(headers={"host": "localhost"})
    user = User.objects.filter(memberships__department__name="Bench").order_by("pk").first()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def _ok(response: HttpResponse) -> HttpResponse:
    if response.status_code != 200:
        raise RuntimeError(f"the page answered {response.status_code}")
    return response


_MINIMAL = """<!doctype html><title>Items</title><p>{{ count }}</p>
{% for item in items %}<p>{{ item.tag }} {{ item.name }}</p>{% endfor %}"""


def _minimal(request: HttpRequest) -> HttpResponse:
    items = Item.objects.filter(department=request.department)
    context = {"count": items.count(), "items": items[:25]}
    return HttpResponse(engines["django"].from_string(_MINIMAL).render(context, request))


urlpatterns = [path("minimal/", _minimal)]
