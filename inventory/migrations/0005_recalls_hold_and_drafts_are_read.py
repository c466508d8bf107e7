import django.db.models.deletion
from django.db import migrations, models

from shared.ledger import append_only


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0004_append_only_breadth"),
        ("shared", "0002_evidence_breadth"),
    ]

    operations = [
        migrations.AddField(
            model_name="lothold",
            name="recall",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="holds",
                to="inventory.recall",
            ),
        ),
        migrations.AddField(model_name="importdraft", name="preview", field=models.JSONField(null=True)),
        migrations.AddField(
            model_name="importdraft",
            name="work",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="+",
                to="shared.outboxrow",
            ),
        ),
        # SQLite makes a table anew for its new column, without the triggers.
        *append_only("inventory_lothold"),
    ]
