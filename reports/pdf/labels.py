"""Labels of one place: a square code that says the tag and nothing else, beside the tag in letters.

Thirty to a letter sheet, as label sheets commonly are (from memory): 2 5/8 by 1 inch, three across, ten down. The code
holds the bare tag, so that any scanner that types what it reads does the same as the phone's camera.
"""

import io
from typing import Final

import segno
from reportlab.lib.units import inch
from reportlab.pdfgen.canvas import Canvas

from reports.pdf.layout import FAMILY, INK, PAGE, SOFT, fitted
from reports.sheets import Label, LabelSheet

WIDE, HIGH = 2.625 * inch, inch
ACROSS, DOWN = 3, 10
PITCH: Final = 2.75 * inch
LEFT, TOP = 0.1875 * inch, 0.5 * inch
CODE: Final = 0.78 * inch
GAP: Final = 0.11 * inch


def build_labels(sheet: LabelSheet) -> bytes:
    """Return the labels as a PDF of letter sheets; the same sheet gives the same bytes."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=PAGE, invariant=1, lang="en-US")
    canvas.setTitle(f"Labels, {sheet.place}")
    canvas.setAuthor("Holdair")
    for number, label in enumerate(sheet.labels):
        at = number % (ACROSS * DOWN)
        if number and at == 0:
            canvas.showPage()
        row, column = divmod(at, ACROSS)
        _draw(canvas, label, sheet, LEFT + column * PITCH, PAGE[1] - TOP - (row + 1) * HIGH)
    canvas.save()
    return out.getvalue()


def _draw(canvas: Canvas, label: Label, sheet: LabelSheet, x: float, y: float) -> None:
    _draw_code(canvas, label.tag, x + GAP, y + (HIGH - CODE) / 2)
    left, room = x + CODE + 2 * GAP, WIDE - CODE - 3 * GAP
    lines = (
        (label.tag, f"{FAMILY}-Bold", 15, INK, 0.62),
        (label.name, FAMILY, 8, INK, 0.42),
        (sheet.place, FAMILY, 7, SOFT, 0.27),
        (sheet.department, FAMILY, 7, SOFT, 0.15),
    )
    for text, font, size, ink, up in lines:
        canvas.setFillColor(ink)
        # A long tag is set smaller rather than cut: cut, it would name another thing.
        while font.endswith("Bold") and size > 3 and canvas.stringWidth(text, font, size) > room:
            size -= 0.5
        canvas.setFont(font, size)
        canvas.drawString(left, y + up * inch, fitted(canvas, text, room, font, size))


def _draw_code(canvas: Canvas, said: str, x: float, y: float) -> None:
    """Draw a square code with the quiet zone that readers want around it."""
    code = segno.make_qr(said, error="m", boost_error=False)
    rows = [list(row) for row in code.matrix_iter(scale=1, border=2)]
    side = CODE / len(rows)
    canvas.setFillColor(INK)
    path = canvas.beginPath()
    for down, row in enumerate(rows):
        for across, dark in enumerate(row):
            if dark:
                path.rect(x + across * side, y + CODE - (down + 1) * side, side, side)
    canvas.drawPath(path, stroke=0, fill=1)
