"""What is sealed with a signed inspection and with a walk: an inspection's readings and proofs are part of it."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import Q

from inspections.models import Inspection, Proof, Reading, Walk
from shared.chain import also_sealed, sealed_with

also_sealed(Walk, Q(signed_at__isnull=False))
READ = ("key", "number", "text", "unit", "as_entered")
PROVED = ("mode_code", "item_id", "line_id", "outcome", "ratio", "units")


@sealed_with(Inspection)
def readings_and_proofs(pks: Sequence[int]) -> Mapping[int, Any]:
    """Return what was read and what it proved, by inspection, in an order that does not depend on the database."""
    parts: dict[int, list[list[Any]]] = defaultdict(list)
    for model, fields in ((Reading, READ), (Proof, PROVED)):
        rows = model.objects.filter(inspection__in=pks).values_list("inspection_id", *fields)
        for inspection_id, *said in sorted(rows, key=lambda row: [str(value) for value in row]):
            parts[inspection_id].append(said)
    return parts
