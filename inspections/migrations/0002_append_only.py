from django.db import migrations

from shared.ledger import append_only


class Migration(migrations.Migration):
    dependencies = [("inspections", "0001_initial")]
    operations = append_only(
        "inspections_inspection",
        "inspections_reading",
        "inspections_proof",
        "inspections_deficiency",
        "inspections_repair",
        "inspections_restoration",
        "inspections_upkeep",
    )
