"""One measured quantity of an item over time: its chart, every reading, the numbers of its fit, and all that as CSV."""

import csv
import io
from zoneinfo import ZoneInfo

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from inspections import page_trends, queries
from inspections.quantities import BY_KEY
from inspections.trending import Trend
from inventory.models import Item
from inventory.views import standing_of
from shared.walls import allowed

READINGS = 50  # on one page of the table


@allowed("read")
@require_GET
def trend(request: HttpRequest, pk: int, quantity: str) -> HttpResponse:
    """Show one quantity of an item: the chart, what it foretells, and the readings behind it."""
    item = standing_of(request, pk).item
    found = _found(item, quantity)
    context = {"item": item, "quantity": BY_KEY[quantity], "view": None}
    if found is not None:
        zone, uses_si = ZoneInfo(item.department.time_zone), request.user.uses_si
        view = page_trends.trend_view(found, on=timezone.localdate(), zone=zone, uses_si=uses_si)
        context |= {
            "view": view,
            "page": Paginator(view.rows, READINGS).get_page(request.GET.get("page")),
            "fit": page_trends.fit_numbers(found, zone=zone, uses_si=uses_si),
            "formulas": page_trends.formulas_behind(found),
        }
    return render(request, "inspections/trend.html", context)


@allowed("export")
@require_GET
def trend_csv(request: HttpRequest, pk: int, quantity: str) -> HttpResponse:
    """Give every reading of one quantity of an item as CSV."""
    item = standing_of(request, pk).item
    found = _found(item, quantity)
    if found is None:
        raise Http404("It was never read on this item.")
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows(page_trends.csv_rows(found, uses_si=request.user.uses_si))
    response = HttpResponse(text.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{slugify(item.tag)}-{quantity}.csv"'
    return response


def _found(item: Item, quantity: str) -> Trend | None:
    if quantity not in BY_KEY:
        raise Http404("No such quantity is measured.")
    now = timezone.now()
    return next(iter(queries.trends(item, now, now, only=quantity)), None)
