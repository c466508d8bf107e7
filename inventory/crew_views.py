"""The roster: who counts today, who has lapsed, and how it is changed."""

import csv
from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from inventory import page_queries
from inventory.models import CrewMember, Line
from inventory.order_forms import day_field
from inventory.order_views import safe_cell
from inventory.services.crew import put_crew
from shared.api import Conflict
from shared.models import Department, User
from shared.walls import allowed

PER_PAGE = 100


class CrewForm(forms.Form):
    """What the roster says of somebody."""

    name = forms.CharField(label="Name", max_length=120)
    role = forms.CharField(label="Role in the crew", max_length=40, required=False)
    line = forms.ModelChoiceField(Line.objects.none(), label="Line", required=False, empty_label="Every line")
    qualified_on = day_field("Qualified on", help_text="Day of the course or drill.")
    qualified_until = day_field("Card valid until", help_text="Where the card prints a date, that date alone decides.")
    left_on = day_field("Left on", help_text="From this day on they count nowhere.")
    user = forms.ModelChoiceField(User.objects.none(), label="Signs in as", required=False, empty_label="Nobody")

    def __init__(self, data: Any = None, *, department: Department, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["line"].queryset = Line.objects.filter(department=department)
        self.fields["user"].queryset = User.objects.filter(memberships__department=department).distinct()
        self.fields["user"].label_from_instance = lambda user: f"{user.signed_name} ({user.username})"


@allowed("read")
@require_GET
def crew(request: HttpRequest) -> HttpResponse:
    """Show the roster: who is qualified, and until when."""
    today = timezone.localdate()
    people = page_queries.roster(request.department, today)
    counts = sum(one.qualified for one in people)
    page = Paginator(people, PER_PAGE).get_page(request.GET.get("page"))
    gone = CrewMember.objects.filter(department=request.department, left_on__lte=today)
    context = {"page": page, "people": list(page), "today": today, "counts": counts, "all": len(people), "gone": gone}
    return render(request, "inventory/crew.html", context)


@allowed("read")
@require_GET
def crew_csv(request: HttpRequest) -> HttpResponse:
    """Give the roster as a table."""
    today = timezone.localdate()
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="crew-{today}.csv"'
    table = csv.writer(response)
    table.writerow(["name", "role", "line", "qualified on", "counts until", "counts today"])
    for one in page_queries.roster(request.department, today):
        line = one.member.line.name if one.member.line else "every line"
        row = [one.name, one.member.role, line, one.member.qualified_on or "", one.until or ""]
        table.writerow([safe_cell(cell) for cell in [*row, "yes" if one.qualified else "no"]])
    return response


@allowed("write")
@require_http_methods(["GET", "POST"])
def add(request: HttpRequest) -> HttpResponse:
    """Put somebody on the roster."""
    return _put(request, None)


@allowed("write")
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what the roster says of somebody."""
    rows = CrewMember.objects.select_related("line", "user")
    return _put(request, get_object_or_404(rows, pk=pk, department=request.department))


def _put(request: HttpRequest, member: CrewMember | None) -> HttpResponse:
    now = {} if member is None else {name: getattr(member, name) for name in CrewForm.base_fields}
    form = CrewForm(request.POST or None, department=request.department, initial=now)
    if request.method == "POST" and form.is_valid():
        try:
            held = put_crew(department=request.department, by=request.user, member=member, **form.cleaned_data)
        except Conflict as problem:
            form.add_error(problem.where if problem.where in form.fields else None, f"{problem} {problem.mend}")
        else:
            messages.success(request, f"{held.name} is on the roster as you said.")
            return redirect("inventory:crew")
    status = 422 if form.errors else 200
    return render(request, "inventory/crew_member.html", {"form": form, "member": member}, status=status)
