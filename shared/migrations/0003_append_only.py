from django.db import migrations

from shared.ledger import append_only


class Migration(migrations.Migration):
    dependencies = [("shared", "0002_evidence_breadth")]
    operations = append_only("shared_chainlink")
