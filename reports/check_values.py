"""The check values that the house keeps, as files: read whole, with a digest that says which they were."""

import hashlib
from pathlib import Path
from typing import Final

from django.conf import settings

from shared.verification.cases import CasesError, CheckValue, read_cases

CHECK_VALUES: Final = Path(settings.BASE_DIR) / "tests" / "check_values"


def read_file(path: Path) -> list[CheckValue]:
    """Return the check values of one file.

    Raises:
        CasesError: it cannot be read.
    """
    try:
        return read_cases(path.read_bytes(), path.name)
    except OSError as error:
        raise CasesError(
            f"{path}: {(error.strerror or str(error)).lower()}. Name a CSV file of check values."
        ) from None


def own_files() -> list[Path]:
    """Return the files of the check values that the house keeps.

    Raises:
        CasesError: there are none.
    """
    found = sorted(CHECK_VALUES.glob("*.csv"))
    if not found:
        raise CasesError(f"{CHECK_VALUES}: no check values are there. Name a file of them.")
    return found


def own_cases() -> list[CheckValue]:
    """Return all check values that the house keeps, file by file."""
    return [case for path in own_files() for case in read_file(path)]


def cases_digest() -> str:
    """Return a digest of the files of the house's check values."""
    found = hashlib.sha256()
    for path in own_files():
        found.update(path.name.encode() + b"\0" + path.read_bytes())
    return found.hexdigest()
