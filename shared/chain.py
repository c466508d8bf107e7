"""The chain of signed records: each one's content hashed and bound to the one before, department by department.

A ledger refuses changes; the chain shows afterwards that none was forced on it. A record is sealed as soon as the
transaction that wrote it has committed, in the order of receipt, so that a record which comes in late takes its place
without moving any other; the scheduler seals what a dead process left. Whoever keeps a number and its seal on paper can
prove later that nothing up to it was changed, taken out or put in.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, Final
from uuid import UUID

from django.apps import apps
from django.db import models, transaction
from django.db.models import Exists, OuterRef
from django.dispatch import receiver

from shared.ledger import LedgerRow, rows_written
from shared.models import ChainLink, Department

FIRST_SEAL: Final = "0" * 64
BATCH: Final = 500
EMPTY: Final = ("", [], {})
Parts = Callable[[Sequence[int]], Mapping[int, Any]]
_parts: dict[type[models.Model], Parts] = {}
_signed: dict[type[models.Model], models.Q] = {}


def sealed_with(model: type[models.Model]) -> Callable[[Parts], Parts]:
    """Register what else belongs to a record of ``model``: a function from its ids to the parts of each."""

    def register(parts: Parts) -> Parts:
        _parts[model] = parts
        return parts

    return register


def also_sealed(model: type[models.Model], signed: models.Q) -> None:
    """Take into the chain what is no ledger row but is final from the moment a condition holds."""
    _signed[model] = signed


def sealed_models() -> list[type[models.Model]]:
    """Return every model whose rows are links of the chain, by table name."""
    ledgers = [model for model in apps.get_models() if issubclass(model, LedgerRow) and model.sealed_apart]
    return sorted([*ledgers, *_signed], key=lambda model: model._meta.db_table)


# Sealing -------------------------------------------------------------------------------------------------------------


class _Unsealed:
    """What one transaction wrote, sealed when it has committed."""

    def __init__(self) -> None:
        self.rows: dict[int, dict[type[models.Model], list[int]]] = defaultdict(lambda: defaultdict(list))

    def __call__(self) -> None:
        for department_id, of in self.rows.items():
            seal(department_id=department_id, of=of)


@receiver(rows_written)
def seal_on_commit(sender: type[models.Model], department_id: int, pks: Iterable[int], **_: object) -> None:
    """Have rows sealed as soon as they are committed, all of one transaction together."""
    if not getattr(sender, "sealed_apart", True):
        return
    hooks = transaction.get_connection().run_on_commit
    unsealed = next((hook for _, hook, _ in reversed(hooks) if isinstance(hook, _Unsealed)), None)
    if unsealed is not None:
        unsealed.rows[department_id][sender].extend(pks)
        return
    unsealed = _Unsealed()
    unsealed.rows[department_id][sender].extend(pks)
    # A record is safe by then and must not look refused: what fails here is logged, and sealed by the scheduler.
    transaction.on_commit(unsealed, robust=True)


@transaction.atomic
def seal(*, department_id: int, of: Mapping[type[models.Model], Sequence[int]]) -> int:
    """Add rows to their department's chain, leaving out what is sealed already or was never committed."""
    # One sealer at a time; the lock leaves the foreign keys of those who write records alone.
    Department.objects.select_for_update(no_key=True).get(pk=department_id)
    last = ChainLink.objects.filter(department_id=department_id).order_by("-number").first()
    number, before = (last.number, last.seal) if last else (0, FIRST_SEAL)
    sealed = 0
    for model, pks in of.items():
        for batch in _batches(pks):
            links = []
            for pk, content in _fresh(department_id, model, batch):
                number, before = number + 1, _bound(before, model._meta.db_table, pk, content)
                links.append(_link(department_id, number, model, pk, content, before))
            ChainLink.objects.bulk_create(links)
            sealed += len(links)
    return sealed


def seal_new(*, department: Department) -> int:
    """Seal every signed record that has no link yet, oldest receipt first; return how many."""
    waiting = {model: list(rows.values_list("pk", flat=True)) for model, rows in _unsealed(department)}
    return seal(department_id=department.pk, of={model: pks for model, pks in waiting.items() if pks})


def unsealed(department: Department) -> int:
    """Return how many signed records have no link yet."""
    return sum(rows.count() for _, rows in _unsealed(department))


def _fresh(department_id: int, model: type[models.Model], pks: Sequence[int]) -> Iterator[tuple[int, str]]:
    held = ChainLink.objects.filter(department_id=department_id, table=model._meta.db_table, row__in=pks)
    there = set(held.values_list("row", flat=True))
    wanted = [pk for pk in pks if pk not in there]
    contents = _contents(model, wanted)
    return ((pk, contents[pk]) for pk in wanted if pk in contents)


def _link(department_id: int, number: int, model: type[models.Model], pk: int, content: str, bound: str) -> ChainLink:
    table = model._meta.db_table
    return ChainLink(department_id=department_id, number=number, table=table, row=pk, content=content, seal=bound)


def _unsealed(department: Department) -> Iterator[tuple[type[models.Model], models.QuerySet]]:
    for model in sealed_models():
        links = ChainLink.objects.filter(department=department, table=model._meta.db_table, row=OuterRef("pk"))
        rows = model._base_manager.filter(_signed.get(model, models.Q()), department=department)
        yield model, rows.filter(~Exists(links)).order_by("pk")


# What a row says -----------------------------------------------------------------------------------------------------


def _contents(model: type[models.Model], pks: Sequence[int]) -> dict[int, str]:
    """Return the hash of what each row says, by its id; a row that is not there has none."""
    fields = [field.attname for field in model._meta.concrete_fields if not field.primary_key]
    parts = _parts[model](pks) if model in _parts and pks else {}
    return {
        row["pk"]: _hash({**{name: row[name] for name in fields}, "parts": parts.get(row["pk"])})
        for row in model._base_manager.filter(pk__in=pks).values("pk", *fields)
    }


def _hash(said: Mapping[str, Any]) -> str:
    # What says nothing is left out, so that a column added later does not change what earlier rows said.
    kept = {
        name: value for name, value in said.items() if value not in (None, "", False) and value != [] and value != {}
    }
    return hashlib.sha256(json.dumps(kept, sort_keys=True, separators=(",", ":"), default=_plain).encode()).hexdigest()


def _plain(value: object) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, UUID):
        return str(value)
    raise TypeError(f"a signed record cannot hold {type(value).__name__}")


def _bound(before: str, table: str, pk: int, content: str) -> str:
    return hashlib.sha256(f"{before}|{table}|{pk}|{content}".encode()).hexdigest()


def _batches(pks: Sequence[int]) -> Iterator[Sequence[int]]:
    for first in range(0, len(pks), BATCH):
        yield pks[first : first + BATCH]


# Proving -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Break:
    """The first place where a chain does not hold."""

    number: int
    table: str
    row: int
    what: str


@dataclass(frozen=True, slots=True)
class ChainState:
    """What proving a chain came to.

    Attributes:
        links: how many links hold, up to the first break.
        number: of the last link that holds, 0 where there is none.
        seal: of that link.
        broken: the first break, None where the whole chain holds.
        waiting: signed records that have no link yet.
    """

    links: int
    number: int
    seal: str
    broken: Break | None
    waiting: int


def prove(*, department: Department, seal_of: Mapping[int, str] | None = None) -> ChainState:
    """Recompute a department's chain from its records and say whether it holds, or where it first breaks.

    Args:
        department: whose chain.
        seal_of: seals kept elsewhere, by number: each must be what the chain holds at that number.
    """
    known = {model._meta.db_table: model for model in sealed_models()}
    kept = dict(seal_of or {})
    number, before = 0, FIRST_SEAL
    broken = None
    for links in _in_order(department):
        contents = _contents_of(links, known)
        for link in links:
            broken = _fault(link, number, before, contents, kept)
            if broken:
                break
            number, before = link.number, link.seal
        if broken:
            break
    if broken is None and (beyond := [n for n in kept if n > number]):
        broken = Break(min(beyond), "", 0, f"the chain ends at {number}: what came after it is gone")
    waiting = sum(rows.count() for _, rows in _unsealed(department))
    return ChainState(number, number, before if number else "", broken, waiting)


def _in_order(department: Department) -> Iterator[list[ChainLink]]:
    last = 0
    while links := list(ChainLink.objects.filter(department=department, number__gt=last).order_by("number")[:BATCH]):
        yield links
        last = links[-1].number


def _contents_of(links: Sequence[ChainLink], known: Mapping[str, type[models.Model]]) -> dict[tuple[str, int], str]:
    of: dict[str, list[int]] = defaultdict(list)
    for link in links:
        of[link.table].append(link.row)
    return {
        (table, pk): content
        for table, pks in of.items()
        if table in known
        for pk, content in _contents(known[table], pks).items()
    }


def _fault(
    link: ChainLink, last: int, before: str, contents: Mapping[tuple[str, int], str], kept: Mapping[int, str]
) -> Break | None:
    content = contents.get((link.table, link.row))
    if link.number != last + 1:
        what = f"link {last + 1} is missing"
    elif content is None:
        what = "the record is gone"
    elif content != link.content:
        what = "the record no longer says what was sealed"
    elif _bound(before, link.table, link.row, link.content) != link.seal:
        what = "the seal does not follow from the one before"
    elif kept.get(link.number, link.seal) != link.seal:
        what = "the seal is not the one that was kept elsewhere"
    else:
        return None
    return Break(link.number, link.table, link.row, what)
