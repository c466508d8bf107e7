from django.db import migrations

from shared.ledger import append_only


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_initial")]
    operations = append_only("inventory_posting", "inventory_count", "inventory_stateevent")
