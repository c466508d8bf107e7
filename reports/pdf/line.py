"""The line report: what one line can do, how sure that is, what limits it, and on what evidence."""

from reportlab.platypus import Flowable, Spacer, Table

from reports.pdf import layout
from reports.pdf.inspection import cautions, fault_table
from reports.pdf.layout import boxed, grid, instant, marked, para, particulars, section
from reports.pdf.marks import mark
from reports.sheets import LineSheet


def build_line_report(sheet: LineSheet) -> bytes:
    """Return the PDF of one line: its word and score, first limit, functions, limits, items and faults."""
    story: list[Flowable] = [para(f"Line report: {sheet.line}", "title"), _answer(sheet), Spacer(1, 6)]
    story.append(_particulars(sheet))
    story += _limits(sheet) + _functions(sheet) + _named(sheet) + _items(sheet) + _faults(sheet)
    story += section("The mission it is judged against", particulars(sheet.mission, 2)) if sheet.mission else []
    page = layout.Page(
        f"Line report, {sheet.line}", sheet.department, sheet.record_id, instant(sheet.as_of, sheet.time_zone)
    )
    return layout.render(story + cautions(sheet.cautions), page)


def _answer(sheet: LineSheet) -> Flowable:
    word = f"{sheet.word}: {sheet.reason}" if sheet.reason else sheet.word
    row = Table(
        [[mark(_mark_word(sheet.word), 15), para(word, "verdict")]], colWidths=[23, layout.WIDTH - 50], hAlign="LEFT"
    )
    row.setStyle(layout.WORD)
    lines = [para(sheet.can_do, "lead"), para(sheet.sureness), para(sheet.asked)]
    return boxed([row, *lines, *([para(sheet.medical, "soft")] if sheet.medical else [])])


def _mark_word(word: str) -> str:
    return {"Whole": "proven", "Limited": "limited", "Down": "failed"}.get(word, word)


def _particulars(sheet: LineSheet) -> Flowable:
    rated = instant(sheet.rated_at, sheet.time_zone) if sheet.rated_at else "never"
    first = sheet.limits[0].what if sheet.limits else "none within the rated mission"
    return particulars(
        [("Home", sheet.home), ("Rated", rated), ("First limit", first), ("Open faults", str(len(sheet.faults)))]
    )


def _limits(sheet: LineSheet) -> list[Flowable]:
    if not sheet.limits:
        return section("Limits", para("Nothing limits the rated mission."))
    rows = [(limit.what, limit.have, limit.need, limit.bites, limit.evidence) for limit in sheet.limits]
    header = ("Limit", "Has", "Needs", "Bites", "Evidence")
    return section("Limits, in the order they bite", grid(header, rows, (0.18, 0.16, 0.16, 0.2, 0.3)))


def _functions(sheet: LineSheet) -> list[Flowable]:
    rows = [(f.name, f.have, f.need, f.margin, f.sureness, marked(f.evidence)) for f in sheet.functions]
    header = ("Function", "Has", "Needs", "Margin", "Works, in 100", "Evidence")
    if not rows:
        return section("Functions", para("The line was never rated.", "soft"))
    return section("Functions, in chain order", grid(header, rows, (0.16, 0.19, 0.19, 0.13, 0.15, 0.18)))


def _named(sheet: LineSheet) -> list[Flowable]:
    lists = (
        ("Not recorded, so every figure resting on it is at most", sheet.not_recorded),
        ("Single points: one of these lost breaks the chain", sheet.single_points),
        ("Conditions that travel with the line", sheet.conditions),
        ("Blind spots: no scheduled check can see these", sheet.blind_spots),
    )
    lines = [para(f"{title}: {'; '.join(names)}.") for title, names in lists if names]
    return section("To know beside the numbers", *lines) if lines else []


def _items(sheet: LineSheet) -> list[Flowable]:
    rows = [(i.tag, i.name, str(i.quantity), i.state, marked(i.evidence), i.last) for i in sheet.items]
    if not rows:
        return section("Items aboard", para("None is recorded on this line."))
    header = ("Tag", "Item", "Units", "State", "Evidence", "Last inspection")
    return section("Items aboard, and their evidence", grid(header, rows, (0.11, 0.28, 0.07, 0.14, 0.15, 0.25)))


def _faults(sheet: LineSheet) -> list[Flowable]:
    title = "Open deficiencies"
    if not sheet.faults:
        return section(title, para("None is open."))
    return section(title, fault_table(sheet.faults, sheet.time_zone))
