"""The tag that is hung on a thing: a signal word, what is wrong, who found it, and a code that leads to its record.

Black ink on a letter sheet, cut to 4 by 7 inches. A signal word is to be read at five feet at least; common practice
for signs wants an inch of letter height for 25 feet, so a fifth of an inch would do. Ours is three times that.
"""

import io
from typing import Final

import segno
from reportlab.lib.units import inch
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Frame, KeepInFrame

from reports.pdf.layout import FAMILY, PAGE, fitted, instant, para, rich
from reports.pdf.layout import escape as escaped
from reports.sheets import TagSheet

WIDE, HIGH = 4 * inch, 7 * inch
LEFT, BOTTOM = (PAGE[0] - WIDE) / 2, (PAGE[1] - HIGH) / 2
PAD: Final = 0.22 * inch
BAND: Final = 1.05 * inch
CODE: Final = 1.25 * inch
BOLD: Final = f"{FAMILY}-Bold"
# (signal word, what it says to do) by grade.
SAYS: Final = {
    "I": ("DANGER", "DO NOT USE"),
    "C": ("CAUTION", "WORKS WITH LIMITS"),
    "N": ("CAUTION", "FAULT ON RECORD"),
}


def build_tag(sheet: TagSheet) -> bytes:
    """Return one tag as a PDF of one letter page; the same sheet gives the same bytes."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=PAGE, invariant=1, lang="en-US")
    canvas.setTitle(f"Tag {sheet.number}, {sheet.tag}")
    canvas.setAuthor("Holdair")
    _draw_edge(canvas)
    _draw_signal(canvas, *SAYS[sheet.grade])
    _draw_words(canvas, sheet)
    _draw_foot(canvas, sheet)
    canvas.save()
    return out.getvalue()


def _draw_edge(canvas: Canvas) -> None:
    canvas.setStrokeColorRGB(0, 0, 0)
    canvas.setLineWidth(0.5)
    canvas.setDash(4, 3)
    canvas.rect(LEFT, BOTTOM, WIDE, HIGH)
    canvas.setDash()
    canvas.setLineWidth(1)
    canvas.circle(LEFT + WIDE / 2, BOTTOM + HIGH - 0.32 * inch, 0.13 * inch)


def _draw_signal(canvas: Canvas, word: str, order: str) -> None:
    top = BOTTOM + HIGH - 0.62 * inch
    canvas.setFillColorRGB(0, 0, 0)
    canvas.rect(LEFT + PAD, top - BAND, WIDE - 2 * PAD, BAND, stroke=0, fill=1)
    canvas.setFillColorRGB(1, 1, 1)
    canvas.setFont(BOLD, _size(canvas, word, 66))
    canvas.drawCentredString(LEFT + WIDE / 2, top - BAND + 0.28 * inch, word)
    canvas.setFillColorRGB(0, 0, 0)
    canvas.setFont(BOLD, _size(canvas, order, 36))
    canvas.drawCentredString(LEFT + WIDE / 2, top - BAND - 0.46 * inch, order)


def _size(canvas: Canvas, text: str, size: float) -> float:
    """Return the greatest size at which a word fits the tag. [pt]"""
    while canvas.stringWidth(text, BOLD, size) > WIDE - 2.4 * PAD:
        size -= 1
    return size


def _draw_words(canvas: Canvas, sheet: TagSheet) -> None:
    found = f"{sheet.found_by}, {instant(sheet.found_at, sheet.time_zone)}"
    story = [
        rich(f"<font name='{BOLD}' size='20'>{escaped(sheet.tag)}</font>", "lead"),
        para(sheet.name, "lead"),
        rich(f"<b>{escaped(sheet.mode)}</b>", "lead"),
        para(sheet.text, "lead"),
        *([rich(f"<b>Caution:</b> {escaped(sheet.caution)}", "text")] if sheet.caution else []),
        rich(f"<b>Found by</b> {escaped(found)}", "text"),
        rich(f"<b>Taken off by</b> {escaped(sheet.restored_by)}", "text"),
    ]
    room = (WIDE - 2 * PAD, HIGH - 0.62 * inch - BAND - 0.65 * inch - CODE - PAD)
    frame = Frame(LEFT + PAD, BOTTOM + CODE + PAD, *room, 0, 0, 0, 0)
    frame.addFromList([KeepInFrame(*room, story, mode="shrink")], canvas)


def _draw_foot(canvas: Canvas, sheet: TagSheet) -> None:
    canvas.setFillColorRGB(0, 0, 0)
    x, y = LEFT + WIDE - PAD - CODE, BOTTOM + PAD * 0.6
    rows = [list(row) for row in segno.make_qr(sheet.address, error="m").matrix_iter(scale=1, border=2)]
    side = CODE / len(rows)
    path = canvas.beginPath()
    for down, row in enumerate(rows):
        for across, dark in enumerate(row):
            if dark:
                path.rect(x + across * side, y + CODE - (down + 1) * side, side, side)
    canvas.drawPath(path, stroke=0, fill=1)
    room = WIDE - 3 * PAD - CODE
    for text, font, size, up in (
        (f"No. {sheet.number}", BOLD, 16, 0.95),
        ("Scan for its record.", FAMILY, 9, 0.72),
        (sheet.department, FAMILY, 9, 0.5),
        (f"Printed {instant(sheet.printed_at, sheet.time_zone)}", FAMILY, 8, 0.32),
    ):
        canvas.setFont(font, size)
        canvas.drawString(
            LEFT + PAD, BOTTOM + PAD * 0.6 + up * inch - 0.2 * inch, fitted(canvas, text, room, font, size)
        )
