"""Documents asked for, each an outbox row that ends in a file; and how property left the department for good."""

from django.db import models

from shared.ledger import LedgerRow


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


class Disposition(LedgerRow):
    """How an item left for good, and what it fetched. ``happened_at`` is the date of disposal."""

    class Method(models.TextChoices):
        SOLD = "sold", "Sold"
        TRADED = "traded in", "Traded in"
        TRANSFERRED = "transferred", "Transferred"
        RETURNED = "returned", "Returned to the awarding agency"
        DONATED = "donated", "Donated"
        SCRAPPED = "scrapped", "Scrapped"
        LOST = "lost", "Lost, stolen or destroyed"

    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="dispositions")
    method = models.CharField(max_length=12, choices=Method)
    fair_market_value = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    sale_price = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    note = models.CharField(max_length=240, blank=True)  # to whom, by what leave; of a loss, what was found out
