"""Documents asked for, each an outbox row that ends in a file; how property left for good; runs of the check values."""

import uuid

from django.conf import settings
from django.db import models

from shared.ledger import LedgerRow


class Document(models.Model):
    """A PDF or export asked for, and the file it became."""

    class Sort(models.TextChoices):
        INSPECTION = "inspection", "Inspection report"
        LINE = "line", "Line report"
        STATUS = "status", "Equipment status export"
        VERIFICATION = "verification", "Verification report"

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


class VerificationRun(models.Model):
    """One run of the house's check values on this machine; of no one department, and never edited."""

    key = models.UUIDField(default=uuid.uuid4, unique=True)  # of the outbox row that asked: done twice, kept once
    at = models.DateTimeField(db_index=True)
    passed = models.PositiveIntegerField()
    failed = models.PositiveIntegerField()
    results = models.JSONField()  # one for each case, as reports.verification.as_row writes them
    code = models.CharField(max_length=64)  # digest of the formulas, units and adapters it ran on
    cases = models.CharField(max_length=64)  # digest of the files of cases
    versions = models.JSONField()  # of Python and of the libraries that formulas use
    machine = models.CharField(max_length=80)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )


class CalendarFeed(models.Model):
    """A secret address under which a calendar program reads what falls due; only the hash of its key is kept."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="calendar_feeds")
    line = models.ForeignKey(
        "inventory.Line", null=True, blank=True, on_delete=models.PROTECT, related_name="calendar_feeds"
    )  # null: what concerns its user
    digest = models.CharField(max_length=64, unique=True)
    lead_days = models.PositiveSmallIntegerField(default=7)  # the alarm, so many days ahead
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_read_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]


class CalendarEvent(models.Model):
    """What a feed last said of one thing: its sequence goes up when its day moves, so that calendars follow."""

    feed = models.ForeignKey(CalendarFeed, on_delete=models.CASCADE, related_name="events")
    uid = models.CharField(max_length=120)
    due_on = models.DateField()
    digest = models.CharField(max_length=64)  # of what the event says
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["feed", "uid"], name="calendar_event_once")]


class Reminded(models.Model):
    """One thing that one person was reminded of, once before its day and once after."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    thing = models.CharField(max_length=160)
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["department", "user", "thing"], name="reminded_once")]
