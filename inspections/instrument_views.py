"""Meters as pages: all of them with what is due, one item's calibrations, and what a rejected one puts in question."""

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inspections import queries, services
from inspections.catalogue_forms import CalibrationForm
from inspections.models import Calibration
from inspections.queries.instruments import Meter, is_meter
from inventory.panels import Panel, item_panel
from inventory.queries import ItemStanding
from inventory.views import post_about, standing_of
from shared.walls import allowed, may

GRAVEST_FIRST = ("rejected", "overdue", "due soon", "never calibrated", "trusted")


def _rows(meters: list[Meter]) -> list[tuple[Meter, str, Calibration | None, str, tuple[float, str] | None]]:
    """Return one row for each quantity of each meter with its step, what is due first."""
    today = timezone.localdate()
    rows = [
        (meter, quantity, meter.newest.get(quantity), meter.word(quantity, today), meter.step_of(quantity))
        for meter in meters
        for quantity in meter.quantities or [""]
    ]
    return sorted(rows, key=lambda row: (GRAVEST_FIRST.index(row[3]), row[2].due_on if row[2] else today))


@allowed("read")
@require_GET
def instruments(request: HttpRequest) -> HttpResponse:
    """Show every meter with its smallest steps and how its calibration stands."""
    rows = _rows(queries.instruments(request.department, timezone.now()))
    context = {"rows": rows, "pressing": sum(row[3] in ("rejected", "overdue") for row in rows)}
    return render(request, "inspections/catalogue/instruments.html", context)


@allowed("read")
@require_GET
def calibration(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one calibration, and by name what it puts in question where it was rejected."""
    rows = Calibration.objects.select_related("item__kind", "file", "corrects")
    row = get_object_or_404(rows, pk=pk, department=request.department)
    context = {"row": row, "questioned": queries.in_question(row), "corrected": row.corrections.first()}
    return render(request, "inspections/catalogue/calibration.html", context)


@item_panel
def meter_panel(request: HttpRequest, standing: ItemStanding, forms: Mapping[str, Any]) -> Panel:
    """Return the part of a meter's page that says what it is worth; on other items it draws nothing."""
    item = standing.item
    rows = list(Calibration.objects.filter(item=item).select_related("file").order_by("-happened_at", "-pk"))
    shown = bool(rows) or is_meter(item) or "calibration" in forms
    context: dict[str, Any] = {"item": item, "shown": shown, "rows": rows, "today": timezone.localdate()}
    if shown:
        meter = queries.instrument_of(request.department, item.tag, timezone.now())
        context["standing"] = _rows([meter]) if meter else []
        if may(request.membership, "write"):
            context["form"] = forms.get("calibration") or CalibrationForm()
    return Panel("inspections/catalogue/_meter_panel.html", context)


@allowed("write")
@require_POST
def calibrate(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that a meter was held against a reference."""
    form = CalibrationForm(request.POST, request.FILES)

    def record(*, accepted: str, file: Any = None, **said: Any) -> Calibration:
        content = {"content": file.read(), "file_name": file.name} if file else {}
        return services.record_calibration(accepted=accepted == "yes", **content, **said)

    def told(row: Calibration) -> str:
        if row.accepted:
            return f": calibrated for {row.quantity}, due again on {row.due_on:%d %b %Y}."
        return f": rejected for {row.quantity}. What rests on it stands by name on its own page."

    return post_about(request, standing_of(request, pk), "calibration", form, record, told)
