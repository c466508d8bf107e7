"""Taking in a register of past checks in the browser: the pages are those of any import, the fields are the checks'."""

from typing import Final

from inspections.register import READ_AS
from inspections.services import import_checks
from inspections.services.procedures import shipped
from inspections.tasks import READ_CHECKS
from inventory.import_views import Pages, views_of

WORDS: Final = (
    ("date", "date of the check"), ("tag", "tag of what was checked"), ("check", "which check"), ("by", "who did it"),
    ("readings", "readings, several in a cell"), ("remark", "remark"), ("reading name", "name of one reading"),
    ("value", "value of one reading"), ("value unit", "unit of one reading"), ("reading", "a reading, as it is headed"),
)  # fmt: skip


def choices(sort: str) -> list[tuple[str, str]]:
    """Return (field, words) of what a column of checks can hold: the columns of a register, then every reading."""
    asked = {row["key"]: row["label"] for procedure in shipped()["procedures"] for row in procedure["inputs"]}
    readings = sorted((f"{READ_AS}{key}", f"reading: {label} ({key})") for key, label in asked.items())
    return [*WORDS, *readings]


CHECKS = Pages("checks", "checks-import", "register of past checks", import_checks, READ_CHECKS, choices)
views = views_of(CHECKS)
