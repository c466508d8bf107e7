"""Photos, papers and registers that people send: looked into, and kept below MEDIA_ROOT under their own digest."""

import hashlib
import io
import uuid
from pathlib import Path
from typing import Final

from django.conf import settings
from django.db import transaction
from PIL import Image, ImageOps, UnidentifiedImageError

from shared.api import AlreadySent, Conflict
from shared.models import Department, StoredFile, User

MOST_BYTES: Final = 15 * 1024 * 1024
MOST_PIXELS: Final = 60_000_000  # a picture that unpacks to more is an attack or a mistake
LONGEST_SIDE_PX: Final = 1600  # a plate is read well at this size, and a phone sends it in a second
PDF, JPEG = "application/pdf", "image/jpeg"
# A workbook is only ever saved by a browser; its own media type is longer than the record of a file holds.
WORKBOOK, TABLE = "application/octet-stream", "text/csv"
OLD_WORKBOOK = "application/vnd.ms-excel"
MOST_REGISTER_BYTES: Final = 20 * 1024 * 1024
_ENDINGS: Final = {PDF: ".pdf", JPEG: ".jpg", WORKBOOK: ".xlsx", OLD_WORKBOOK: ".xls", TABLE: ".csv"}


def keep_file(
    *, department: Department, content: bytes, name: str, by: User | None, client_id: uuid.UUID | None = None
) -> StoredFile:
    """Keep a photo or a PDF; the same client_id twice keeps one.

    A photo is turned upright, made smaller and written anew, which leaves out where and with what it was taken.

    Raises:
        Conflict: neither a photo nor a PDF, empty, or too large.
        AlreadySent: the client_id belongs to another file.
    """
    sort, kept = _looked_into(content)
    return _keep(department, sort, kept, name or "photo", by, client_id)


def keep_register(
    *, department: Department, content: bytes, name: str, by: User | None, client_id: uuid.UUID | None = None
) -> StoredFile:
    """Keep a spreadsheet as it was sent; the same client_id twice keeps one. It is unpacked by its reader alone.

    Raises:
        Conflict: neither a workbook nor a text table, empty, or too large.
        AlreadySent: the client_id belongs to another file.
    """
    if not content.strip():
        raise Conflict("The file is empty.", where="file", mend="Save the register again and send that file.")
    if len(content) > MOST_REGISTER_BYTES:
        raise Conflict("The file is larger than 20 MB.", where="file", mend="Split it, one file for each line.")
    if content.startswith(b"PK\x03\x04"):
        sort = WORKBOOK
    elif content.startswith(b"\xd0\xcf\x11\xe0"):
        sort = OLD_WORKBOOK
    elif b"\0" in content[:4096] and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Conflict(
            "That is neither a workbook nor a text table.", where="file", mend="Save the register as .xlsx or .csv."
        )
    else:
        sort = TABLE
    return _keep(department, sort, content, name or "register", by, client_id)


def _keep(
    department: Department, sort: str, kept: bytes, name: str, by: User | None, client_id: uuid.UUID | None
) -> StoredFile:
    digest = hashlib.sha256(kept).hexdigest()
    path = f"files/{department.pk}/{digest[:2]}/{digest}{_ENDINGS[sort]}"
    _write(Path(settings.MEDIA_ROOT) / path, kept)
    with transaction.atomic():
        row, _ = StoredFile.objects.get_or_create(
            department=department,
            client_id=client_id or uuid.uuid4(),
            defaults={
                "name": Path(name).name[-160:] or "file",
                "sort": sort,
                "size": len(kept),
                "digest": digest,
                "path": path,
                "by": by,
            },
        )
    if row.digest != digest:
        raise AlreadySent
    return row


def path_of(file: StoredFile) -> Path:
    """Return where a file lies on disk."""
    return Path(settings.MEDIA_ROOT) / file.path


def _looked_into(content: bytes) -> tuple[str, bytes]:
    """Return the media type of what was sent, by what is in it and never by its name, and the bytes to keep."""
    if not content:
        raise Conflict("The file is empty.", where="file", mend="Choose it again.")
    if len(content) > MOST_BYTES:
        raise Conflict("The file is larger than 15 MB.", where="file", mend="Send a smaller one.")
    if content.startswith(b"%PDF-"):
        return PDF, content
    try:
        with Image.open(io.BytesIO(content), formats=("JPEG", "PNG", "WEBP")) as image:
            if image.width * image.height > MOST_PIXELS:
                raise Conflict("The picture has too many pixels.", where="file", mend="Send a smaller one.")
            # Draft lets the decoder read a large photo at a fraction of its size.
            image.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
            upright = ImageOps.exif_transpose(image).convert("RGB")
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError, ValueError) as wrong:
        raise Conflict(
            "That is neither a photo (JPEG, PNG, WebP) nor a PDF.", where="file", mend="Send one of these."
        ) from wrong
    upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    out = io.BytesIO()
    upright.save(out, "JPEG", quality=82)
    return JPEG, out.getvalue()


def _write(path: Path, content: bytes) -> None:
    """Write whole or not at all; the name is the content's own digest, so what is there already is the same."""
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_name(f"{path.name}.{uuid.uuid4().hex}")
    partial.write_bytes(content)
    partial.replace(path)
