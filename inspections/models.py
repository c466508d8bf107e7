"""The evidence: procedures, walks, inspections with their readings, what each proved, and what was found wrong."""

from django.conf import settings
from django.db import models
from django.utils import timezone

from shared.ledger import LedgerRow


class Procedure(models.Model):
    """How one check is done: steps, typed inputs, cautions and the modes it can see. A record keeps its version."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="procedures")
    check_key = models.SlugField(max_length=20)
    version = models.PositiveIntegerField(default=1)
    name = models.CharField(max_length=80)
    definition = models.JSONField()  # DEVELOPERS.md, "Procedures": steps, inputs, cautions
    effective_on = models.DateField()
    origin = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["check_key", "-version"]
        constraints = [
            models.UniqueConstraint(fields=["department", "check_key", "version"], name="procedure_version_once")
        ]

    def __str__(self) -> str:
        return self.name


class Walk(models.Model):
    """One round through a place. Open until signed; signing is the last thing that happens to it."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="walks")
    client_id = models.UUIDField()
    place = models.ForeignKey("inventory.Place", on_delete=models.PROTECT, related_name="walks")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="walks")
    started_at = models.DateTimeField(default=timezone.now)
    signed_at = models.DateTimeField(null=True, blank=True)
    signed_name = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-started_at"]
        constraints = [models.UniqueConstraint(fields=["department", "client_id"], name="walk_sent_once")]


class Inspection(LedgerRow):
    """One check of one item, lot or line, with its verdict and the numbers that decided it."""

    class Verdict(models.TextChoices):
        PASS = "pass", "Pass"
        LIMITS = "pass with limits", "Pass with limits"
        FAIL = "fail", "Fail"
        VOID = "void", "Void"

    check_key = models.SlugField(max_length=20)
    procedure = models.ForeignKey(Procedure, null=True, on_delete=models.PROTECT, related_name="inspections")
    walk = models.ForeignKey(Walk, null=True, blank=True, on_delete=models.PROTECT, related_name="inspections")
    item = models.ForeignKey(
        "inventory.Item", null=True, blank=True, on_delete=models.PROTECT, related_name="inspections"
    )
    lot = models.ForeignKey(
        "inventory.Lot", null=True, blank=True, on_delete=models.PROTECT, related_name="inspections"
    )
    line = models.ForeignKey(
        "inventory.Line", null=True, blank=True, on_delete=models.PROTECT, related_name="inspections"
    )
    started_at = models.DateTimeField(null=True, blank=True)  # happened_at is when it ended
    verdict = models.CharField(max_length=16, choices=Verdict)
    findings = models.JSONField(default=list)  # see inspections.verdicts.Finding
    measured = models.JSONField(default=dict)  # quantities the rating uses: {key: {value, unit, at_least}}
    summary = models.CharField(max_length=300, blank=True)
    units_checked = models.PositiveIntegerField(default=1)  # of a row of n alike
    source = models.CharField(max_length=12, default="page")  # page, api, register
    remark = models.CharField(max_length=300, blank=True)

    class Meta(LedgerRow.Meta):
        indexes = [
            *LedgerRow.Meta.indexes,
            models.Index(fields=["department", "item", "check_key", "happened_at"], name="inspection_of_item"),
        ]


class Reading(models.Model):
    """One measured or stated value of an inspection, as entered and as understood."""

    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="readings")
    key = models.CharField(max_length=40)
    number = models.FloatField(null=True, blank=True)
    text = models.CharField(max_length=200, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    as_entered = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["inspection", "key"], name="reading_key_once")]


class Proof(LedgerRow):
    """What one inspection showed about one failure mode of one item."""

    class Outcome(models.TextChoices):
        PROVEN = "proven", "Proven absent"
        CLAIMED = "claimed", "Claimed absent"
        LIMITED = "limited", "Present, limits"
        FAILED = "failed", "Present"

    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="proofs")
    item = models.ForeignKey("inventory.Item", null=True, blank=True, on_delete=models.PROTECT, related_name="proofs")
    line = models.ForeignKey("inventory.Line", null=True, blank=True, on_delete=models.PROTECT, related_name="proofs")
    mode_code = models.CharField(max_length=8)
    outcome = models.CharField(max_length=8, choices=Outcome)
    ratio = models.FloatField(null=True, blank=True)  # measured over full, where the mode limits a capacity
    units = models.PositiveIntegerField(default=1)

    class Meta(LedgerRow.Meta):
        indexes = [
            *LedgerRow.Meta.indexes,
            models.Index(fields=["department", "item", "mode_code", "happened_at"], name="proof_of_mode"),
        ]


class Deficiency(LedgerRow):
    """A fault found. Open until a restoration names it; ``by_name`` is who found it."""

    inspection = models.ForeignKey(
        Inspection, null=True, blank=True, on_delete=models.PROTECT, related_name="deficiencies"
    )
    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="deficiencies")
    mode_code = models.CharField(max_length=8)
    grade = models.CharField(max_length=1)  # I, C, N as in FailureMode
    check_key = models.SlugField(max_length=20, blank=True)  # the proof that restores it
    text = models.CharField(max_length=300)


class Repair(LedgerRow):
    """Work done on a fault; ``by_name`` is who did it. A repair proves nothing by itself."""

    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="repairs")
    deficiency = models.ForeignKey(Deficiency, null=True, blank=True, on_delete=models.PROTECT, related_name="repairs")
    what = models.CharField(max_length=300)
    cost = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)


class Restoration(LedgerRow):
    """The same proof, passed: closes a deficiency, or leaves it awaiting a second name."""

    deficiency = models.ForeignKey(Deficiency, on_delete=models.PROTECT, related_name="restorations")
    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="restorations")
    awaiting_second_name = models.BooleanField(default=False)


class Upkeep(LedgerRow):
    """Use of an item or a refill: reopens what use reopens, and moves what is known of contents."""

    class Sort(models.TextChoices):
        USED = "used", "Used"
        REFILLED = "refilled", "Refilled"

    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="upkeep")
    sort = models.CharField(max_length=10, choices=Sort)
    hours = models.FloatField(null=True, blank=True)
    to_lb = models.FloatField(null=True, blank=True)
    note = models.CharField(max_length=240, blank=True)
