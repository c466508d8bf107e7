"""Makers' recalls: recorded after a look at what they mean, released thing by thing under a second name."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory import services
from inventory.models import Item, Lot, Recall
from inventory.order_forms import RecallForm, ReleaseForm
from inventory.order_views import refuse
from inventory.queries.recalls import Matches, caught_by, matching, recalls_of
from inventory.services.recalls import draft_recall
from inventory.views import signed
from shared.api import Conflict
from shared.walls import allowed, may


@allowed("read")
@require_GET
def recall_list(request: HttpRequest) -> HttpResponse:
    """Show the recalls on record, with how much each still holds."""
    rows = [(recall, caught_by(recall)) for recall in recalls_of(request.department)[:100]]
    shown = [(recall, caught, sum(c.released_at is None for c in caught)) for recall, caught in rows]
    return render(request, "inventory/recalls/list.html", {"recalls": shown})


@allowed("write")
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Look what a recall would mean; pressed again with the look in hand, record it."""
    form, found = RecallForm(request.POST or None, department=request.department), None
    if request.method == "POST" and form.is_valid():
        try:
            if "record" in request.POST:
                recall = services.record_recall(happened_at=timezone.now(), **signed(request), **form.cleaned_data)
                messages.success(request, f"{recall} is recorded; what it means is out of service.")
                return redirect("inventory:recall", pk=recall.pk)
            found = _look(request, form)
        except Conflict as problem:
            refuse(form, problem)
    context = {"form": form, "found": found}
    return render(request, "inventory/recalls/new.html", context, status=422 if form.errors else 200)


def _look(request: HttpRequest, form: RecallForm) -> Matches:
    given = {name: form.cleaned_data[name] for name in ("kind", "serials", "lots")}
    return matching(request.department, draft_recall(department=request.department, **given))


@allowed("read")
@require_GET
def recall(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one recall with everything it took out."""
    return _page(request, _recall(request, pk), None)


def _recall(request: HttpRequest, pk: int) -> Recall:
    return get_object_or_404(Recall.objects.select_related("kind", "department"), pk=pk, department=request.department)


def _page(request: HttpRequest, found: Recall, form: ReleaseForm | None, status: int = 200) -> HttpResponse:
    sent = form["thing"].value() if form is not None else ""
    rows = []
    for caught in caught_by(found):
        key = f"{'item' if caught.is_item else 'lot'}-{caught.thing.pk}"
        may_release = caught.released_at is None and may(request.membership, "walk")
        fresh = ReleaseForm(initial={"thing": key}, auto_id=f"{key}-%s")
        rows.append((caught, (form if key == sent else fresh) if may_release else None))
    return render(request, "inventory/recalls/recall.html", {"recall": found, "rows": rows}, status=status)


@allowed("walk")
@require_POST
def release(request: HttpRequest, pk: int) -> HttpResponse:
    """Bring one thing back."""
    found, form = _recall(request, pk), ReleaseForm(request.POST)
    if form.is_valid():
        sort, _, number = form.cleaned_data.pop("thing").partition("-")
        model = Item if sort == "item" else Lot
        thing = get_object_or_404(model, pk=number, department=request.department)
        try:
            services.release_recalled(
                recall=found, happened_at=timezone.now(), **{sort: thing}, **signed(request), **form.cleaned_data
            )
        except Conflict as problem:
            form.add_error(problem.where if problem.where in form.fields else None, f"{problem} {problem.mend}")
        else:
            messages.success(request, f"{thing} is released from {found}.")
            return redirect("inventory:recall", pk=pk)
    return _page(request, found, form, status=422)
