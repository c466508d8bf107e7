"""Rating lines and keeping the answers."""

import logging
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.models import Line
from readiness import alerts, queries
from readiness.models import LineState, RatedMission, StoredRating
from readiness.rating.answer import Rating
from readiness.rating.as_json import as_json
from readiness.rating.facts import Facts
from readiness.rating.mission import Mission
from readiness.rating.rate import rate
from shared.models import AuditEntry, User

log = logging.getLogger(__name__)


def ask(*, line: Line, mission: Mission, at: datetime, known_at: datetime | None = None) -> Rating:
    """Return what a line could do about a mission at an instant; nothing is stored."""
    return rate(queries.gather(line, at, known_at or at), mission)


def ask_all(*, lines: Sequence[Line], mission: Mission, at: datetime) -> list[Rating]:
    """Return what each of a department's lines could do about one mission, reading what they share once."""
    if len(lines) < 2:
        return [ask(line=line, mission=mission, at=at) for line in lines]
    facts = queries.gather_department(lines[0].department, at, at)
    return [rate(facts[line.pk], mission) for line in lines]


def rerate(*, line: Line, at: datetime, because: str = "") -> StoredRating:
    """Rate a line against its rated mission, keep the answer and make it the one that stands."""
    return rerate_lines(lines=[line], at=at, because=because)[0]


def rerate_lines(*, lines: Sequence[Line], at: datetime, because: str = "") -> list[StoredRating]:
    """Rate lines of one department, reading what they have in common once; return the stored answers."""
    if not lines:
        return []
    # What was stale when we began is what these ratings answer; a change that comes meanwhile stays marked.
    states = LineState.objects.filter(line__in=lines).values_list("line_id", "stale_since", "newest_id")
    seen = {line: (stale, newest) for line, stale, newest in states}
    if len(lines) == 1:
        facts = {lines[0].pk: queries.gather(lines[0], at, at)}
    else:
        facts = queries.gather_department(lines[0].department, at, at)
    # The arithmetic comes before the transaction: nobody who writes waits for it.
    return [
        _store(line, facts[line.pk], _rated(facts[line.pk]), because, *seen.get(line.pk, (None, None)))
        for line in lines
    ]


def _rated(facts: Facts) -> Rating:
    return rate(facts, Mission.from_json(dict(facts.rated_mission)))


@transaction.atomic
def _store(
    line: Line, facts: Facts, rating: Rating, because: str, seen_stale: datetime | None, seen_newest: int | None
) -> StoredRating:
    LineState.objects.get_or_create(line=line, defaults={"department": line.department})
    held = LineState.objects.select_for_update(of=("self",)).select_related("newest").get(line=line)
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
    # Two may rate a line at once, and the one that read older facts may end last: the newer answer stands.
    if held.newest_id == seen_newest or held.newest is None or held.newest.at <= facts.at:
        LineState.objects.filter(line=line).update(newest=row, rate_at=rating.next_change_at)
        LineState.objects.filter(line=line, stale_since=seen_stale).update(stale_since=None)
        alerts.tell_change(standing=held.newest, after=row, rating=rating)
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
    return sum(_rerate_what_can_be(lines, at, because) for (_, because), lines in of.items())


def _rerate_what_can_be(lines: Sequence[Line], at: datetime, because: str) -> int:
    """Rate lines together, and one by one where that fails: a line that cannot be rated keeps no other from it."""
    try:
        return len(rerate_lines(lines=lines, at=at, because=because))
    except Exception:
        log.exception("%s lines of department %s could not be rated", len(lines), lines[0].department_id)
    if len(lines) == 1:
        return 0
    return sum(_rerate_what_can_be([line], at, because) for line in lines)


def rerate_on_commit(*, lines: Sequence[Line], because: str) -> None:
    """Rate lines as soon as what moved their facts is committed.

    What was recorded is safe by then and must not look refused: where the rating fails, the log says so, the lines stay
    marked and the scheduler tries again.
    """
    transaction.on_commit(lambda: rerate_lines(lines=lines, at=timezone.now(), because=because), robust=True)


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
    rerate_on_commit(lines=[line], because="rated mission set")
    return row
