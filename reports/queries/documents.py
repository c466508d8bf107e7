"""Documents that were asked for."""

from django.db.models import QuerySet
from django.http import Http404

from inspections.models import Inspection, Walk
from reports.models import Document
from shared.models import Department


def documents(department: Department) -> QuerySet[Document]:
    """Return the department's documents, newest first, with how far each is."""
    return (
        Document.objects.filter(department=department)
        .select_related("outbox__asked_by", "inspection", "walk", "line")
        .order_by("-made_at", "-pk")
    )


def document(department: Department, pk: int) -> Document:
    """Return one document of the department.

    Raises:
        Http404: there is none by that number here.
    """
    found = documents(department).filter(pk=pk).first()
    if found is None:
        raise Http404("No document by that number in this department.")
    return found


def recent_walks(department: Department, most: int = 20) -> QuerySet[Walk]:
    """Return the walks last started, newest first."""
    rows = Walk.objects.filter(department=department).select_related("place", "by")
    return rows.order_by("-started_at", "-pk")[:most]


def recent_inspections(department: Department, most: int = 30) -> QuerySet[Inspection]:
    """Return the inspections last recorded, newest first."""
    rows = Inspection.objects.filter(department=department).select_related("item", "lot", "line", "procedure")
    return rows.order_by("-recorded_at", "-happened_at", "-pk")[:most]
