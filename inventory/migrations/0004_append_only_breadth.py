from django.db import migrations

from shared.ledger import append_only


class Migration(migrations.Migration):
    dependencies = [("inventory", "0003_evidence_breadth")]
    operations = append_only(
        "inventory_itemfile",
        "inventory_seal",
        "inventory_lothold",
        "inventory_recall",
        "inventory_order",
        "inventory_orderevent",
    )
