"""What can be done in this room. Each service takes keyword arguments only and is one transaction."""

from inspections.services.after_use import clear_items, pack_items, spread_to_dry
from inspections.services.amending import amend_procedure, make_check
from inspections.services.deficiencies import accept_risk, open_deficiency_by_hand, restore_by_hand, withdraw_risk
from inspections.services.instruments import record_calibration
from inspections.services.photos import add_photo
from inspections.services.plants import plant_fault, remove_plant
from inspections.services.procedures import load_procedures
from inspections.services.record import record_inspection
from inspections.services.register import import_checks
from inspections.services.runs import (
    hand_over,
    open_run,
    receive_line,
    record_run_event,
    send_line,
    undo_run_event,
)
from inspections.services.snaps import answer_snap, draw_snap
from inspections.services.upkeep import bring_back_by_hand, record_repair, record_upkeep, take_out_by_hand
from inspections.services.walks import open_walk, sign_walk, take_up_walk

__all__ = [
    "accept_risk",
    "answer_snap",
    "clear_items",
    "draw_snap",
    "hand_over",
    "open_run",
    "pack_items",
    "plant_fault",
    "receive_line",
    "record_run_event",
    "remove_plant",
    "send_line",
    "spread_to_dry",
    "undo_run_event",
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
