from django.db import migrations

from shared.ledger import append_only


class Migration(migrations.Migration):
    dependencies = [("inspections", "0003_evidence_breadth")]
    operations = append_only(
        "inspections_repair",
        "inspections_photo",
        "inspections_acceptedrisk",
        "inspections_walktakeup",
        "inspections_calibration",
        "inspections_run",
        "inspections_runevent",
        "inspections_handreceipt",
        "inspections_snap",
        "inspections_snapanswer",
        "inspections_plant",
        "inspections_plantevent",
    )
