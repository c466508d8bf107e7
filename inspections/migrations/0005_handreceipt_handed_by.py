"""A hand receipt also names who hands over, where that is not whoever signs it."""

from django.db import migrations, models

from shared.ledger import append_only


class Migration(migrations.Migration):
    dependencies = [("inspections", "0004_append_only_breadth")]

    operations = [
        migrations.AddField(
            model_name="handreceipt",
            name="handed_by",
            field=models.CharField(blank=True, max_length=120),
        ),
        # SQLite makes the table anew, without its triggers.
        *append_only("inspections_handreceipt"),
    ]
