"""Documents that were asked for."""

from django.db.models import QuerySet
from django.http import Http404

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
