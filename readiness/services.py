"""Rating lines and keeping the answers."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.models import Line
from readiness import queries
from readiness.models import LineState, RatedMission, StoredRating
from readiness.rating.answer import Rating
from readiness.rating.as_json import as_json
from readiness.rating.facts import Facts
from readiness.rating.mission import Mission
from readiness.rating.rate import rate
from shared.models import AuditEntry, User


def ask(*, line: Line, mission: Mission, at: datetime, known_at: datetime | None = None) -> Rating:
    """Return what a line could do about a mission at an instant; nothing is stored."""
    return rate(queries.gather(line, at, known_at or at), mission)


def rerate(*, line: Line, at: datetime, because: str = "") -> StoredRating:
    """Rate a line against its rated mission, keep the answer and make it the one that stands."""
    return rerate_lines(lines=[line], at=at, because=because)[0]


def rerate_lines(*, lines: Sequence[Line], at: datetime, because: str = "") -> list[StoredRating]:
    """Rate lines of one department, reading what they have in common once; return the stored answers."""
    if not lines:
        return []
    # What was stale when we began is what these ratings answer; a change that comes meanwhile stays marked.
    marks = dict(LineState.objects.filter(line__in=lines).values_list("line_id", "stale_since"))
    if len(lines) == 1:
        facts = {lines[0].pk: queries.gather(lines[0], at, at)}
    else:
        facts = queries.gather_department(lines[0].department, at, at)
    return [_store(line, facts[line.pk], because, marks.get(line.pk)) for line in lines]


@transaction.atomic
def _store(line: Line, facts: Facts, because: str, seen_stale: datetime | None) -> StoredRating:
    rating = rate(facts, Mission.from_json(dict(facts.rated_mission)))
    LineState.objects.get_or_create(line=line, defaults={"department": line.department})
    row = StoredRating.objects.create(
        department=line.department,
        line=line,
        at=facts.at,
        known_at=facts.known_at,
        word=rating.word,
        reason=rating.reason,
        probability=rating.probability,
        next_change_at=rating.next_change_at,
        rating=as_json(rating),
        because=because[:120],
    )
    LineState.objects.filter(line=line).update(newest=row, rate_at=rating.next_change_at)
    LineState.objects.filter(line=line, stale_since=seen_stale).update(stale_since=None)
    return row


def mark_stale(*, lines: list[Line], at: datetime) -> None:
    """Mark that facts of these lines have moved; called inside the transaction that moved them."""
    have = set(LineState.objects.filter(line__in=lines).values_list("line_id", flat=True))
    LineState.objects.bulk_create(
        [LineState(department_id=n.department_id, line=n, stale_since=at) for n in lines if n.pk not in have],
        ignore_conflicts=True,
    )
    LineState.objects.filter(line__in=lines).update(stale_since=at)


def rerate_due(*, at: datetime) -> int:
    """Rate again each line whose facts moved or whose own instant has passed; return how many."""
    due = LineState.objects.filter(stale_since__isnull=False) | LineState.objects.filter(rate_at__lte=at)
    states = list(due.select_related("line__department").order_by("pk"))
    of: dict[tuple[int, str], list[Line]] = defaultdict(list)
    for state in states:
        of[state.department_id, "facts moved" if state.stale_since else "an instant passed"].append(state.line)
    for (_, because), lines in of.items():
        rerate_lines(lines=lines, at=at, because=because)
    return len(states)


@transaction.atomic
def set_rated_mission(*, line: Line, mission: Mission, by: User, at: datetime, note: str = "") -> RatedMission:
    """Set what a line is judged against from an instant on; earlier missions stay on record."""
    row = RatedMission.objects.create(
        department=line.department,
        line=line,
        mission=mission.as_json(),
        set_by=by,
        effective_at=at,
        recorded_at=at,
        note=note,
    )
    AuditEntry.objects.create(
        department=line.department, at=at, by=by, did="set rated mission", subject=line.name, detail=mission.as_json()
    )
    mark_stale(lines=[line], at=at)
    transaction.on_commit(lambda: rerate(line=line, at=timezone.now(), because="rated mission set"))
    return row
