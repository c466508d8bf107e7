"""Tonight and Line. A page reads the stored rating; only a mission that was asked, or a past instant, is computed."""

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from inspections.queries.runs import runs_out
from inventory.models import Line
from readiness import page_queries, queries, services
from readiness.alerts import alerts_of, mark_seen
from readiness.forms import MissionForm, SetMissionForm, ThenForm, was_asked
from readiness.models import Alert
from readiness.page_queries import Answer
from readiness.rating.as_json import as_json
from readiness.rating.mission import Mission
from shared.panels import panels_of
from shared.walls import allowed, may

ALERTS_SHOWN = 10


@allowed("read")
@require_GET
@vary_on_headers("HX-Request")
def tonight(request: HttpRequest) -> HttpResponse:
    """Answer a mission across all lines, and show each against what it is rated for."""
    lines = list(queries.lines_of(request.department))
    now = timezone.now()
    names = page_queries.mode_names(request.department, now) if lines else {}
    standing = page_queries.standing_answers(lines, request.user.uses_si, names)
    focus = _focus(request, lines)
    asked = was_asked(request.GET)
    # The question starts as the one that the line shown first was answered for.
    first = [a for a in standing if a.line == focus] or page_queries.best_first(standing)
    base = page_queries.base_mission(first)
    form = MissionForm(request.GET if asked else None, base=base, uses_si=request.user.uses_si)
    answers = standing
    if asked and form.is_valid():
        answers = _asked(lines, form.mission, now, request.user.uses_si)
    best = page_queries.best_first(answers)
    context = {
        "form": form,
        "focus": focus,
        "answer": next((a for a in best if a.line == focus), best[0] if best else None),
        "answers": best if answers is not standing else [],
        "standing": standing,
        "out": runs_out(request.department, now, now),
        "risks": page_queries.risks_by_line(request.department, now),
        "alerts": (alerts := list(alerts_of(request.department)[:ALERTS_SHOWN])),
        "unseen": sum(alert.seen_at is None for alert in alerts),
    }
    fragment = request.htmx and not request.htmx.history_restore_request
    return render(request, "readiness/_tonight.html" if fragment else "readiness/tonight.html", context)


@allowed("mission")
@require_POST
def alerts_seen(request: HttpRequest) -> HttpResponse:
    """Mark the alerts that the head has before him as seen."""
    upto = request.POST.get("upto", "")
    if not upto.isdecimal() or len(upto) > 18:
        raise Http404("no such alert")
    get_object_or_404(Alert, pk=int(upto), department=request.department)
    mark_seen(department=request.department, by=request.user, at=timezone.now(), upto=int(upto))
    return redirect("readiness:tonight")


def _focus(request: HttpRequest, lines: list[Line]) -> Line | None:
    """Return the line that the query names; one of another department, or none at all, is not found."""
    wanted = request.GET.get("line")
    if not wanted:
        return None
    found = next((line for line in lines if str(line.pk) == wanted), None)
    if found is None:
        raise Http404("no such line here")
    return found


def _asked(lines: list[Line], mission: Mission, at: datetime, uses_si: bool) -> list[Answer]:
    ratings = services.ask_all(lines=lines, mission=mission, at=at)
    return [
        Answer(line, as_json(rating), uses_si, asked=True, rated_at=at)
        for line, rating in zip(lines, ratings, strict=True)
    ]


def _line_of(request: HttpRequest, pk: int) -> Line:
    return get_object_or_404(queries.lines_of(request.department), pk=pk)


@allowed("read")
@require_GET
def line(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one line: what it can do, its chain, its limits and the evidence, now or at a past instant."""
    return _line_page(request, _line_of(request, pk))


@allowed("mission")
@require_POST
def set_mission(request: HttpRequest, pk: int) -> HttpResponse:
    """Set what a line is judged against from now on."""
    shown = _line_of(request, pk)
    now = timezone.now()
    base = queries.rated_mission(shown, now).as_json()
    form = SetMissionForm(request.POST, base=base, uses_si=request.user.uses_si)
    if not form.is_valid():
        return _line_page(request, shown, form=form, status=422)
    services.set_rated_mission(
        line=shown, mission=form.mission, by=request.user, at=now, note=form.cleaned_data["note"]
    )
    messages.success(request, f"{shown} is rated against this mission from now on.")
    return redirect("readiness:line", pk=shown.pk)


def _line_page(
    request: HttpRequest, shown: Line, form: SetMissionForm | None = None, status: int = 200
) -> HttpResponse:
    now = timezone.now()
    then_form = ThenForm(request.GET if "at" in request.GET else None, now=now)
    past = then_form.is_bound and then_form.is_valid()
    answer = page_queries.standing_answer(shown, request.user.uses_si)
    at = known_at = now
    voices: dict[str, Answer] = {}
    if past:
        at, known = then_form.cleaned_data["at"], then_form.cleaned_data["known"]
        voices = _voices(shown, at, now, request.user.uses_si)
        answer, known_at = voices[known], at if known == "then" else now
    evidence = page_queries.evidence_of(shown, at, known_at)
    context = {
        "line": shown,
        "answer": answer,
        "then_form": then_form,
        "past": past,
        "at": at,
        "voices": voices,
        "known": then_form.cleaned_data["known"] if past else "",
        "evidence": evidence,
        "mission_row": queries.mission_row(shown, at, known_at),
        "run": runs_out(request.department, at, known_at).get(shown.pk),
        "risks": page_queries.risks_by_line(request.department, at, known_at).get(shown.pk, []),
        "alerts": [] if past else list(alerts_of(request.department, shown)[:ALERTS_SHOWN]),
        "panels": [] if past else panels_of("line", request, shown),
        **_names(request, answer, at, evidence),
    }
    if not past and may(request.membership, "mission"):
        base = queries.rated_mission(shown, now).as_json()
        context["mission_form"] = form or SetMissionForm(None, base=base, uses_si=request.user.uses_si)
    return render(request, "readiness/line.html", context, status=status)


def _voices(shown: Line, at: datetime, now: datetime, uses_si: bool) -> dict[str, Answer]:
    """Return the answer of a past instant twice: as it was known then, and as it is known since."""
    answers = {}
    for voice, known_at in (("then", at), ("now", now)):
        mission = queries.rated_mission(shown, at, known_at)
        rating = services.ask(line=shown, mission=mission, at=at, known_at=known_at)
        answers[voice] = Answer(shown, as_json(rating), uses_si, rated_at=at, when="then")
    return answers


def _names(
    request: HttpRequest, answer: Answer, at: datetime, evidence: list[page_queries.FunctionEvidence]
) -> dict[str, Any]:
    if not answer.rating:
        return {}
    names = page_queries.mode_names(request.department, at)
    return {
        "item_links": page_queries.item_links(request.department, answer.rating),
        "mode_names": names,
        "not_established": page_queries.not_established(answer.rating, names),
        "blind_spots": page_queries.blind_spots(answer.rating, names, evidence),
        "single_points": page_queries.single_points(answer.rating),
    }
