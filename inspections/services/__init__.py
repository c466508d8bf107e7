"""What can be done in this room. Each service takes keyword arguments only and is one transaction."""

from inspections.services.amending import amend_procedure, make_check
from inspections.services.deficiencies import accept_risk, open_deficiency_by_hand, restore_by_hand, withdraw_risk
from inspections.services.instruments import record_calibration
from inspections.services.photos import add_photo
from inspections.services.procedures import load_procedures
from inspections.services.record import record_inspection
from inspections.services.register import import_checks
from inspections.services.upkeep import bring_back_by_hand, record_repair, record_upkeep, take_out_by_hand
from inspections.services.walks import open_walk, sign_walk, take_up_walk

__all__ = [
    "accept_risk",
    "open_deficiency_by_hand",
    "restore_by_hand",
    "withdraw_risk",
    "add_photo",
    "bring_back_by_hand",
    "amend_procedure",
    "import_checks",
    "make_check",
    "record_calibration",
    "load_procedures",
    "open_walk",
    "record_inspection",
    "record_repair",
    "record_upkeep",
    "sign_walk",
    "take_out_by_hand",
    "take_up_walk",
]
