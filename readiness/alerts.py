"""Telling the head at once that a line's word changed or its score dropped, and what was recorded that changed it.

An alert is written in the transaction that stores the rating, at most one for each rating. A drop is counted from the
highest score since the last alert (since the first rating where there was none): a slow decline is told once it adds up
to the step, and so is a fall after a rise that nobody was told of. What is withheld for a hidden test fault is never
given as a cause.
"""

from collections.abc import Iterator
from datetime import datetime
from typing import Any, Final

from django.db import transaction
from django.db.models import Model, Q, QuerySet

from inspections.models import Inspection, Upkeep
from inspections.queries.plants import withheld
from inventory.models import Count, Line, LotHold, Posting, StateEvent
from readiness.models import Alert, RatedMission, StoredRating
from readiness.rating.answer import Rating
from readiness.rating.words import limit_words
from shared import notices
from shared.models import AuditEntry, Department, User

WORSE_FIRST: Final = (Inspection.Verdict.FAIL, Inspection.Verdict.LIMITS, Inspection.Verdict.VOID)
ORDER: Final = {"Down": 0, "Limited": 1, "Whole": 2}


def tell_change(*, standing: StoredRating | None, after: StoredRating, rating: Rating) -> Alert | None:
    """Write the alert that a new rating calls for, if any, and tell the heads; the first rating calls for none."""
    if standing is None:
        return None
    before = standing if standing.word != after.word else _fallen_from(after)
    if before is None:
        return None
    text = _text(before, after, rating)
    alert = Alert.objects.create(
        department=after.department, line=after.line, before=before, after=after, at=after.at, text=text
    )
    _tell_heads(alert, rating)
    return alert


def _fallen_from(after: StoredRating) -> StoredRating | None:
    """Return the rating that a score has dropped from by the department's step, None where it has not."""
    rows = StoredRating.objects.filter(line=after.line, at__lte=after.at).exclude(pk=after.pk)
    told = Alert.objects.filter(line=after.line).select_related("after").first()
    if told is not None:
        rows = rows.filter(at__gte=told.after.at)
    high = rows.order_by("-probability", "-at", "-pk").first()
    step = after.department.alert_step
    return high if high is not None and high.probability - after.probability >= step else None


def _tell_heads(alert: Alert, rating: Rating) -> None:
    line, after = alert.line, alert.after
    body = [alert.text, ""]
    body += [f"Limit {n}. {limit_words(limit)}." for n, limit in enumerate(rating.limits[:5], start=1)]
    body += ["", notices.address_of("readiness:line", line.pk)]
    for reader in notices.readers(alert.department, notices.ALERT, after.at.date()):
        notices.tell(
            department=alert.department,
            user=reader.user,
            key=f"alert {after.pk}",
            sort=notices.ALERT,
            subject=f"{line}: {_change(alert.before, after)}",
            body="\n".join(body),
        )


def _change(before: StoredRating, after: StoredRating) -> str:
    if before.word != after.word:
        return f"{before.word} to {after.word}"
    return f"score {before.probability:.0f} to {after.probability:.0f}"


def _text(before: StoredRating, after: StoredRating, rating: Rating) -> str:
    """Return what changed, why, and the first limit, as it is shown and mailed."""
    reason = ", ".join(rating.down) or after.reason
    said = f"{_change(before, after)}{f' ({reason})' if reason else ''}. {_cause(before, after)}."
    first = f" First limit: {limit_words(rating.limits[0])}." if rating.limits else ""
    room = Alert._meta.get_field("text").max_length
    return said + first if len(said + first) <= room else said[:room]


def _cause(before: StoredRating, after: StoredRating) -> str:
    """Return what was recorded between two ratings and explains the change best."""
    worse = (ORDER[after.word], after.probability) < (ORDER[before.word], before.probability)
    causes = list(_causes(after.line, before.known_at, after.known_at, worse))
    if causes:
        more = f", and {len(causes) - 1} more" if len(causes) > 1 else ""
        return f"{causes[0][:180]}{more}"
    if after.because == "an instant passed":
        return "Nothing was recorded: a proof went stale or a date was reached"
    return "What is recorded of it has changed"


def _causes(line: Line, since: datetime, until: datetime, worse: bool) -> Iterator[str]:
    """Give what was recorded of a line's things between two instants, what explains it best first."""
    hidden = withheld(line.department, until, until)
    held = Posting.objects.filter(department=line.department, line=line)

    def rows(model: type[Model], *, line_too: bool = False, lots_too: bool = False) -> QuerySet[Any]:
        found = model.objects.filter(department=line.department, recorded_at__gt=since, recorded_at__lte=until)
        of = Q(item__in=held.filter(item__isnull=False).values("item"))
        if line_too:
            of |= Q(line=line)
        if lots_too:
            of |= Q(lot__in=held.filter(lot__isnull=False).values("lot"))
        return found.filter(of).exclude(item__in=hidden).order_by("-recorded_at", "-pk")

    checks = list(rows(Inspection, line_too=True, lots_too=True).select_related("item", "lot", "line", "procedure"))
    checks.sort(key=lambda i: WORSE_FIRST.index(i.verdict) if i.verdict in WORSE_FIRST else len(WORSE_FIRST))
    if not worse:
        checks.sort(key=lambda i: i.verdict != Inspection.Verdict.PASS)
    yield from (_check_words(one) for one in checks)
    for event in rows(StateEvent).select_related("item"):
        yield f"{event.item.tag}: {event.get_event_display().lower()} by {event.by_name}"
    for use in rows(Upkeep).select_related("item"):
        yield f"{use.item.tag}: {use.get_sort_display().lower()}, by {use.by_name}"
    for move in rows(Posting, lots_too=True).select_related("item", "lot"):
        yield f"{_thing(move)}: {move.get_reason_display().lower()}, by {move.by_name}"
    for count in rows(Count, lots_too=True).select_related("item", "lot"):
        yield f"{_thing(count)}: {count.counted} counted by {count.by_name}"
    holds = LotHold.objects.filter(department=line.department, recorded_at__gt=since, recorded_at__lte=until)
    for hold in holds.filter(lot__in=held.filter(lot__isnull=False).values("lot")).select_related("lot"):
        yield f"{hold.lot}: {hold.get_event_display().lower()} by {hold.by_name}"
    missions = RatedMission.objects.filter(line=line, recorded_at__gt=since, recorded_at__lte=until)
    for mission in missions.select_related("set_by"):
        yield f"Rated mission set{f' by {mission.set_by.signed_name}' if mission.set_by else ''}"


def _thing(row: Any) -> str:
    return row.item.tag if row.item else str(row.lot)


def _check_words(row: Inspection) -> str:
    """Return one check as a cause: thing, check, verdict, by whom, and the number beside its limit."""
    thing = row.item.tag if row.item else str(row.lot or row.line)
    name = row.procedure.name if row.procedure else row.check_key
    decided = next((f for f in row.findings if f.get("outcome") == row.verdict), None) or {}
    why = decided.get("text") or row.summary
    limit = f" (limit: {decided['limit_text']})" if decided.get("limit_text") else ""
    return f"{thing}, {name}: {row.verdict}, by {row.by_name}. {why.rstrip('.')}{limit}"


# Reading and marking -----------------------------------------------------------------------------------------------


def alerts_of(department: Department, line: Line | None = None) -> QuerySet[Alert]:
    """Return the alerts of a department or of one line, newest first."""
    rows = Alert.objects.filter(department=department)
    return (rows if line is None else rows.filter(line=line)).select_related("line", "before", "after")


@transaction.atomic
def mark_seen(*, department: Department, by: User, at: datetime, upto: int) -> int:
    """Mark the alerts up to one as seen by the head, those that came meanwhile not; return how many."""
    found = Alert.objects.filter(department=department, seen_at=None, pk__lte=upto).update(seen_at=at)
    if found:
        detail = {"alerts": found, "upto": upto}
        AuditEntry.objects.create(
            department=department, at=at, by=by, did="saw alerts", subject=department.name, detail=detail
        )
    return found
