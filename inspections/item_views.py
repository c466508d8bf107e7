"""What this room adds to an item's page: its evidence, its faults, and the forms for work done on it."""

from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inspections import page_records, page_trends, queries, services
from inspections.forms import ByHandForm, RepairForm, UpkeepForm
from inspections.models import Deficiency
from inventory.models import Item
from inventory.panels import Panel, item_panel
from inventory.queries import ItemStanding
from inventory.views import post_about, standing_of
from shared.walls import allowed, may

READINGS = 10  # records on one page of an item's history


@item_panel
def evidence_panel(request: HttpRequest, standing: ItemStanding, forms: Mapping[str, Any]) -> Panel:
    """Give the part of an item's page that says what is proven, what is wrong and what to do about it."""
    item = standing.item
    now, today = timezone.now(), timezone.localdate()
    view = page_records.item_evidence(item, now, today)
    page = Paginator(page_records.readings_of(item), READINGS).get_page(request.GET.get("page"))
    context: dict[str, Any] = {"view": view, "s": standing, "item": item, "page": page}
    context["records"] = page_records.record_rows(page, request.user.uses_si)
    reader = {"on": today, "zone": ZoneInfo(item.department.time_zone), "uses_si": request.user.uses_si}
    context["trends"] = [page_trends.trend_view(one, **reader) for one in queries.trends(item, now, now)]
    if may(request.membership, "walk"):
        faults = [fault.deficiency for fault in view.faults]
        context |= {
            "repair_form": forms.get("repair") or RepairForm(item=item, faults=faults),
            "upkeep_form": forms.get("upkeep") or UpkeepForm(),
            "take_out_form": forms.get("take_out") or ByHandForm(prefix="out"),
        }
    if may(request.membership, "write") and view.by_hand:
        context["bring_back_form"] = forms.get("bring_back") or ByHandForm(prefix="back")
    return Panel("inspections/_item_panel.html", context)


def _open_faults(request: HttpRequest, item: Item) -> list[Deficiency]:
    now = timezone.now()
    faults = queries.open_deficiencies(request.department, now, now)
    return [fault.deficiency for fault in faults if fault.deficiency.item_id == item.pk]


@allowed("walk")
@require_POST
def repair(request: HttpRequest, pk: int) -> HttpResponse:
    """Record work done on an item."""
    standing = standing_of(request, pk)
    form = RepairForm(request.POST, item=standing.item, faults=_open_faults(request, standing.item))
    said = ": repair recorded. It proves nothing yet: the same check, passed, does."
    return post_about(request, standing, "repair", form, services.record_repair, lambda _: said)


@allowed("walk")
@require_POST
def upkeep(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that an item was used or refilled."""
    standing = standing_of(request, pk)
    form = UpkeepForm(request.POST)
    said = ": recorded. What use reopens is to be proven again."
    return post_about(request, standing, "upkeep", form, services.record_upkeep, lambda _: said)


@allowed("walk")
@require_POST
def take_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an item out of service by hand; whoever sees a danger may, and must say why."""
    form = ByHandForm(request.POST, prefix="out")
    said = ": out of service. Its lines are rated without it."
    return post_about(request, standing_of(request, pk), "take_out", form, services.take_out_by_hand, lambda _: said)


@allowed("write")
@require_POST
def bring_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Bring back what was taken out by hand."""
    form = ByHandForm(request.POST, prefix="back")
    said = ": back in service."
    return post_about(
        request, standing_of(request, pk), "bring_back", form, services.bring_back_by_hand, lambda _: said
    )
