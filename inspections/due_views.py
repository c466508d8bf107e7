"""Due: everything with a date, by when."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inspections.catalogue_pages import EVENT_WORDS, months
from inspections.due_forms import DAYS, FARTHEST, PERIODS, DueForm
from inspections.queries import AgendaRow, agenda
from inspections.queries.agenda import SENDING, may_see
from shared.models import Membership
from shared.walls import allowed, may

PER_PAGE = 60


@dataclass(frozen=True)
class DueRow:
    """One row as the page says it."""

    row: AgendaRow
    on: date

    @property
    def rule(self) -> str:
        """Return the interval, its events and its grace in words; empty for dates that no interval sets."""
        rule = self.row.rule
        if rule is None:
            return ""
        parts = [months(rule.months)] if rule.months else []
        parts += [EVENT_WORDS[letter] for letter in sorted(rule.events, reverse=True)]
        if rule.months:
            parts.append(f"{rule.grace_days} days’ grace" if rule.grace_days else "no grace")
        return ", ".join(parts)

    @property
    def source(self) -> str:
        """Return the source text, less an origin that it repeats."""
        return self.row.source.removeprefix(f"{self.row.origin}: ").removeprefix(f"{self.row.origin}, ")

    @property
    def is_overdue(self) -> bool:
        return self.row.is_overdue(self.on)

    @property
    def in_grace(self) -> bool:
        """Whether it is past its day and its proof is still trusted, by the grace of its rule."""
        row = self.row
        return self.is_overdue and (self.on - row.due_on).days <= row.grace_days and row.why == "its interval"


@allowed("read")
@require_GET
def due(request: HttpRequest) -> HttpResponse:
    """Show what is overdue and falls due, by month; asked at sending comes last."""
    on = timezone.localdate()
    form = DueForm({"when": "30", **request.GET.dict()}, department=request.department)
    if not form.is_valid():
        # The form offers only what there is: anything else was typed into the address, and is not here.
        raise Http404("no such place, line, kind, check or person here")
    rows = _seen(request.membership, on, form)
    asked = [row for row in rows if _is_in(row, on, form.days)]
    whole = request.GET.get("all") == "1"
    page = Paginator(asked, max(len(asked), 1) if whole else PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "on": on,
        "tally": _tally(rows, on),
        "when": form.cleaned_data["when"] or "30",
        "groups": _by_month(page.object_list, on),
        "page": page,
        "whole": whole,
    }
    return render(request, "inspections/due.html", context)


def _seen(membership: Membership, on: date, form: DueForm) -> list[AgendaRow]:
    rows = agenda(
        membership.department,
        on,
        on + timedelta(days=FARTHEST),
        wanted=form.wanted,
        with_passes=may(membership, "people"),
    )
    return [row for row in rows if may_see(row, membership)]


def _is_in(row: AgendaRow, on: date, days: int) -> bool:
    """Whether a row falls in a period; what is overdue stands in every one, what is asked at sending in all but it."""
    if row.due_on is None:
        return days > 0
    return row.due_on < on if days == 0 else row.due_on <= on + timedelta(days=days)


def _tally(rows: Iterable[AgendaRow], on: date) -> list[tuple[str, str, int]]:
    """Return (period, words, how many fall in it and are dated)."""
    dated = [row for row in rows if row.due_on is not None]
    return [(key, words, sum(_is_in(row, on, DAYS[key]) for row in dated)) for key, words in PERIODS]


def _by_month(rows: Sequence[AgendaRow], on: date) -> list[tuple[str, list[DueRow]]]:
    shown = [DueRow(row, on) for row in rows]
    return [(name, list(group)) for name, group in groupby(shown, key=lambda one: _group(one.row, on))]


def _group(row: AgendaRow, on: date) -> str:
    if row.sort == SENDING or row.due_on is None:
        return "Asked when a line is sent"
    return "Overdue" if row.due_on < on else f"{row.due_on:%B %Y}"
