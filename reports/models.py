"""Documents asked for: each is an outbox row that ends in a file."""

from django.db import models


class Document(models.Model):
    """A PDF or export asked for, and the file it became."""

    class Sort(models.TextChoices):
        INSPECTION = "inspection", "Inspection report"
        LINE = "line", "Line report"
        STATUS = "status", "Equipment status export"

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="documents")
    outbox = models.OneToOneField("shared.OutboxRow", on_delete=models.PROTECT, related_name="document")
    sort = models.CharField(max_length=12, choices=Sort)
    title = models.CharField(max_length=200)
    inspection = models.ForeignKey(
        "inspections.Inspection", null=True, blank=True, on_delete=models.PROTECT, related_name="documents"
    )
    walk = models.ForeignKey(
        "inspections.Walk", null=True, blank=True, on_delete=models.PROTECT, related_name="documents"
    )
    line = models.ForeignKey(
        "inventory.Line", null=True, blank=True, on_delete=models.PROTECT, related_name="documents"
    )
    path = models.CharField(max_length=240, blank=True)  # below MEDIA_ROOT, set when done
    digest = models.CharField(max_length=64, blank=True)
    pages = models.PositiveIntegerField(null=True, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)
