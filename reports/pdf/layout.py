"""Page, frames, styles and footer of every document; a report gives its story and nothing else.

Same story, same bytes: reportlab runs invariant, so no clock and no random id gets in. Every font is embedded, the
empty canvas's own included, so that a page looks alike on every printer.
"""

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import as_file, files
from typing import Any, Final
from xml.sax.saxutils import escape as escape_markup
from zoneinfo import ZoneInfo

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import inch
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, CondPageBreak, Flowable, Frame, PageTemplate, Paragraph, Table

from reports.pdf.marks import mark

PAGE: Final = LETTER
MARGIN: Final = 0.75 * inch
WIDTH: Final = PAGE[0] - 2 * MARGIN
INK, SOFT, RULE, FAINT, ACCENT = (HexColor(c) for c in ("#17212b", "#5a6672", "#d9d4c8", "#f3f0e8", "#0b5c7a"))
FAMILY: Final = "SourceSans"
FACES: Final = {
    FAMILY: "SourceSansPro-Regular.ttf",
    f"{FAMILY}-Bold": "SourceSansPro-Semibold.ttf",
    f"{FAMILY}-Italic": "SourceSansPro-It.ttf",
    f"{FAMILY}-BoldItalic": "SourceSansPro-SemiboldIt.ttf",
}


def _register_fonts() -> None:
    for name, file_name in FACES.items():
        with as_file(files("font_source_sans_pro") / "files" / file_name) as path:
            pdfmetrics.registerFont(TTFont(name, str(path)))
    pdfmetrics.registerFontFamily(
        FAMILY,
        normal=FAMILY,
        bold=f"{FAMILY}-Bold",
        italic=f"{FAMILY}-Italic",
        boldItalic=f"{FAMILY}-BoldItalic",
    )
    # A canvas names its first font before anything is drawn; left alone that is Helvetica, which is not embedded.
    rl_config.canvas_basefontname = FAMILY


_register_fonts()


def _style(name: str, size: float, **over: Any) -> ParagraphStyle:
    values = {"fontName": FAMILY, "fontSize": size, "leading": size * 1.3, "textColor": INK, "splitLongWords": 1}
    return ParagraphStyle(name, **(values | over))


STYLES: Final = {
    "title": _style("title", 19, fontName=f"{FAMILY}-Bold", leading=22, spaceAfter=8),
    "lead": _style("lead", 12.5, leading=16, spaceAfter=4),
    "heading": _style("heading", 11.5, fontName=f"{FAMILY}-Bold", spaceBefore=11, spaceAfter=3),
    "text": _style("text", 9.5, spaceAfter=3),
    "soft": _style("soft", 8.5, textColor=SOFT, spaceAfter=3),
    "cell": _style("cell", 9, leading=11.5),
    "cell-soft": _style("cell-soft", 8.5, leading=11, textColor=SOFT),
    "head": _style("head", 8.5, leading=10.5, fontName=f"{FAMILY}-Bold", textColor=SOFT),
    "verdict": _style("verdict", 15, fontName=f"{FAMILY}-Bold", leading=18),
    "caution": _style("caution", 8.5, leading=11),
}
# Control characters are not allowed in markup, and no font draws them.
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class Page:
    """What stands on every page of one document."""

    title: str
    department: str
    record_id: str
    as_of: str


def escape(text: object) -> str:
    """Return people's text fit for a paragraph: markup escaped, line breaks kept, control characters gone."""
    plain = _CONTROL.sub("", str(text).replace("\r\n", "\n").replace("\r", "\n"))
    return escape_markup(plain).replace("\n", "<br/>")


def para(text: object, style: str = "text") -> Paragraph:
    """Return people's text as a paragraph."""
    return Paragraph(escape(text), STYLES[style])


def rich(markup: str, style: str = "text") -> Paragraph:
    """Return our own markup as a paragraph; whatever people wrote in it has been escaped before."""
    return Paragraph(markup, STYLES[style])


def section(title: str, *content: Flowable) -> list[Flowable]:
    """Return a heading and what stands under it; a heading never stands alone at the foot of a page."""
    # keepWithNext would carry a long table over whole; a table breaks well, so only the heading needs room.
    return [CondPageBreak(64), para(title, "heading"), *content]


def instant(at: datetime, zone: str) -> str:
    """Return an instant on the department's clock, to the minute, with its zone named."""
    local = at.astimezone(ZoneInfo(zone))
    return f"{local:%d %b %Y %H:%M %Z}"


def day(at: datetime, zone: str) -> str:
    """Return the department's calendar day of an instant."""
    return f"{at.astimezone(ZoneInfo(zone)):%d %b %Y}"


def marked(word: str) -> Table:
    """Return a word with its mark before it, for a cell."""
    table = Table([[mark(word, 8), para(word, "cell")]], colWidths=[12, None])
    table.setStyle([("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0), *_TIGHT])
    return table


# A table cell names a font even where it holds a flowable, and reportlab's own default is not embedded.
_FONT = ("FONTNAME", (0, 0), (-1, -1), FAMILY)
_TIGHT = [
    _FONT,
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]
WORD: Final = [_FONT, ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("LEFTPADDING", (0, 0), (-1, -1), 0)]
_GRID = [
    _FONT,
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LINEBELOW", (0, 0), (-1, 0), 0.9, INK),
    ("LINEBELOW", (0, 1), (-1, -1), 0.4, RULE),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 7),
    ("TOPPADDING", (0, 0), (-1, -1), 3),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 3.5),
]


def grid(header: Sequence[str], rows: Sequence[Sequence[object]], shares: Sequence[float]) -> Table:
    """Return a table whose header repeats on every page and whose tall rows may break across pages.

    Args:
        header: one heading a column.
        rows: cells; a string is people's text, a flowable is taken as it is.
        shares: widths of the columns as shares of the frame, summing to 1. [-]
    """
    body = [[cell if isinstance(cell, Flowable) else para(cell, "cell") for cell in row] for row in rows]
    table = Table(
        [[para(h, "head") for h in header], *body],
        colWidths=[WIDTH * share for share in shares],
        repeatRows=1,
        splitInRow=1,
        hAlign="LEFT",
    )
    table.setStyle(_GRID)
    return table


def particulars(pairs: Sequence[tuple[str, object]], columns: int = 2) -> Table:
    """Return label and value pairs in columns, read across."""
    cells = [[para(label, "cell-soft"), v if isinstance(v, Flowable) else para(v, "cell")] for label, v in pairs]
    rows = [sum(cells[i : i + columns], []) for i in range(0, len(cells), columns)]
    rows[-1] += [""] * (2 * columns - len(rows[-1]))
    unit = WIDTH / columns
    table = Table(rows, colWidths=[unit * 0.29, unit * 0.71] * columns, hAlign="LEFT", splitInRow=1)
    table.setStyle(
        [
            *_GRID[:2],
            ("LINEABOVE", (0, 0), (-1, 0), 0.9, INK),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
            *_GRID[4:],
        ]
    )
    return table


def boxed(flowables: Sequence[Flowable], *, heavy: bool = False) -> Table:
    """Return flowables in a ruled box; ``heavy`` draws the bar that cautions carry."""
    table = Table([[f] for f in flowables], colWidths=[WIDTH], hAlign="LEFT", splitInRow=1)
    table.setStyle(
        [
            _FONT,
            ("BACKGROUND", (0, 0), (-1, -1), FAINT),
            ("LINEBEFORE", (0, 0), (0, -1), 3 if heavy else 1.5, INK if heavy else ACCENT),
            ("LEFTPADDING", (0, 0), (-1, -1), 10),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        ]
    )
    return table


class _NumberedCanvas(Canvas):
    """Draws each footer when the number of pages is known."""

    page: Page

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._held: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802 (reportlab's name)
        self._held.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, state in enumerate(self._held, start=1):
            self.__dict__.update(state)
            _draw_frame(self, self.page, number, len(self._held))
            Canvas.showPage(self)
        Canvas.save(self)


def _draw_frame(canvas: Canvas, page: Page, number: int, of: int) -> None:
    width, height = PAGE
    canvas.saveState()
    _draw_wordmark(canvas, MARGIN, height - 0.5 * inch)
    canvas.setFont(FAMILY, 8.5)
    canvas.setFillColor(SOFT)
    canvas.drawRightString(width - MARGIN, height - 0.5 * inch, fitted(canvas, page.department, WIDTH * 0.7))
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.line(MARGIN, 0.62 * inch, width - MARGIN, 0.62 * inch)
    canvas.setFont(FAMILY, 8)
    canvas.drawString(MARGIN, 0.46 * inch, f"Holdair \u00b7 record {page.record_id}")
    canvas.drawString(MARGIN, 0.32 * inch, f"Data as of {page.as_of}")
    canvas.drawRightString(width - MARGIN, 0.46 * inch, f"Page {number} of {of}")
    canvas.restoreState()


def fitted(canvas: Canvas, text: str, width: float, font: str = FAMILY, size: float = 8.5) -> str:
    """Return people's text on one line, cut where it does not fit.

    Args:
        canvas: measured on.
        text: as people wrote it.
        width: there is. [pt]
        font: it is set in.
        size: of that font. [pt]
    """
    plain = _CONTROL.sub("", text)
    while len(plain) > 1 and canvas.stringWidth(plain, font, size) > width:
        plain = plain[:-2].rstrip() + "\u2026"
    return plain


def _draw_wordmark(canvas: Canvas, x: float, y: float) -> None:
    canvas.saveState()
    canvas.setLineCap(1)
    for colour, thickness, reach, top in ((ACCENT, 2.2, 8.5, 10.5), (INK, 1.1, 4, 5.5)):
        canvas.setStrokeColor(colour)
        canvas.setLineWidth(thickness)
        path = canvas.beginPath()
        path.moveTo(x + 9 - reach, y - 1)
        path.lineTo(x + 9 - reach, y + top - 5)
        path.curveTo(x + 9 - reach, y + top, x + 9 + reach, y + top, x + 9 + reach, y + top - 5)
        path.lineTo(x + 9 + reach, y - 1)
        canvas.drawPath(path)
    canvas.setFillColor(INK)
    canvas.setFont(f"{FAMILY}-Bold", 11)
    canvas.drawString(x + 23, y, "holdair")
    canvas.restoreState()


def render(story: Sequence[Flowable], page: Page) -> bytes:
    """Return the story as a PDF of letter pages with the head and foot that every document carries."""
    out = io.BytesIO()
    document = BaseDocTemplate(
        out,
        pagesize=PAGE,
        title=_CONTROL.sub("", page.title),
        author="Holdair",
        subject=f"Record {page.record_id}, data as of {page.as_of}",
        creator="Holdair",
        invariant=1,
        lang="en-US",
    )
    frame = Frame(
        MARGIN, 0.72 * inch, WIDTH, PAGE[1] - 1.42 * inch, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0
    )
    document.addPageTemplates(PageTemplate("page", frames=[frame]))
    canvas = type("NumberedCanvas", (_NumberedCanvas,), {"page": page})
    document.build(list(story), canvasmaker=canvas)
    return out.getvalue()


def pages_in(pdf: bytes) -> int:
    """Return the number of pages of a PDF made here."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))
