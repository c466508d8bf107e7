"""The inspection report: one inspection, or one walk with all of its inspections."""

from collections.abc import Iterable

from reportlab.platypus import Flowable, KeepTogether, PageBreak, Spacer, Table

from reports.pdf import layout
from reports.pdf.layout import boxed, day, escape, grid, instant, marked, para, particulars, rich, section
from reports.pdf.marks import mark
from reports.sheets import CAUTIONS, NOT_RECORDED, FaultLine, InspectionSheet, ModeLine, WalkSheet

GRADES = {"I": "impairment", "C": "critical deficiency", "N": "noncritical deficiency"}
OUTCOMES = {
    "proven": "measured, and absent",
    "claimed": "looked at, no number: absent is only claimed",
    "limited": "present; limits the item",
    "failed": "present",
    "not shown": "this check can see it, but nothing here shows it either way",
}


def build_inspection_report(sheet: InspectionSheet | WalkSheet) -> bytes:
    """Return the PDF of one inspection, or of one walk and every inspection of it."""
    story = walk_story(sheet) if isinstance(sheet, WalkSheet) else inspection_story(sheet)
    title = f"Walk, {sheet.place}" if isinstance(sheet, WalkSheet) else f"{sheet.check}, {sheet.subject}"
    page = layout.Page(title, sheet.department, sheet.record_id, instant(sheet.as_of, sheet.time_zone))
    return layout.render(story, page)


def walk_story(sheet: WalkSheet) -> list[Flowable]:
    """Return the walk's own page and then each inspection, on a page of its own."""
    signed = "not signed: the walk is open"
    if sheet.signed_at:
        signed = f"{sheet.signed_name}, {instant(sheet.signed_at, sheet.time_zone)}"
    story: list[Flowable] = [
        para(f"Walk report: {sheet.place}", "title"),
        particulars(
            [
                ("Started", instant(sheet.started_at, sheet.time_zone)),
                ("Walked by", sheet.started_by),
                ("Signed", signed),
                ("Inspections", str(len(sheet.inspections))),
            ]
        ),
    ]
    if sheet.note:
        story += section("Note", para(sheet.note))
    story += [*section("Inspections of this walk", _overview(sheet)), *cautions(CAUTIONS)]
    for inspection in sheet.inspections:
        story += [PageBreak(), *inspection_story(inspection)]
    return story


def _overview(sheet: WalkSheet) -> Flowable:
    if not sheet.inspections:
        return para("None was recorded.", "soft")
    rows = [
        (i.subject, i.check, marked(i.verdict), i.summary or i.remark, i.left, i.next_due) for i in sheet.inspections
    ]
    return grid(
        ("Item", "Check", "Verdict", "What decided", "Left as", "Next due"), rows, (0.2, 0.13, 0.12, 0.27, 0.14, 0.14)
    )


def inspection_story(sheet: InspectionSheet) -> list[Flowable]:
    """Return the flowables of one inspection, the verdict first."""
    story: list[Flowable] = [
        para(f"{sheet.check}: {sheet.subject}", "title"),
        _verdict(sheet),
        Spacer(1, 6),
        _particulars(sheet),
    ]
    if sheet.corrected_by:
        story.append(para(f"This record was corrected later by record {sheet.corrected_by}; read that one.", "text"))
    story += _readings(sheet) + _findings(sheet) + _modes(sheet) + _faults(sheet)
    if sheet.remark:
        story += section("Remark", para(sheet.remark))
    return story + cautions((*sheet.cautions, *CAUTIONS))


def _verdict(sheet: InspectionSheet) -> Flowable:
    word = Table(
        [[mark(sheet.verdict, 15), para(sheet.verdict[:1].upper() + sheet.verdict[1:], "verdict")]],
        colWidths=[23, layout.WIDTH - 50],
        hAlign="LEFT",
    )
    word.setStyle(layout.WORD)
    return boxed([word, *([para(sheet.summary, "text")] if sheet.summary else [])])


def _particulars(sheet: InspectionSheet) -> Flowable:
    pairs: list[tuple[str, object]] = [
        ("Left as", sheet.disposition or NOT_RECORDED),
        ("Next due", sheet.next_due or NOT_RECORDED),
        ("Item", sheet.subject),
        ("Serial", sheet.serial),
        ("Kind", sheet.kind),
        ("Line", sheet.line),
        ("Place", sheet.place),
        ("Units checked", str(sheet.units_checked)),
        ("Done", instant(sheet.ended_at, sheet.time_zone)),
        ("Recorded", f"{instant(sheet.recorded_at, sheet.time_zone)}{_source(sheet)}"),
        ("Inspector", sheet.inspector),
        ("Signed", sheet.signed),
        ("Procedure", sheet.procedure),
        ("From", sheet.procedure_origin),
    ]
    if sheet.started_at:
        pairs.insert(8, ("Started", instant(sheet.started_at, sheet.time_zone)))
    if sheet.corrects:
        pairs.append(("Corrects", f"record {sheet.corrects}"))
    return particulars(pairs)


def _source(sheet: InspectionSheet) -> str:
    return f", from {sheet.source}" if sheet.source else ""


def _readings(sheet: InspectionSheet) -> list[Flowable]:
    title = "Readings, as entered"
    if not sheet.readings:
        return section(title, para("No reading was recorded.", "soft"))
    rows = [(r.label, r.as_entered, r.unit) for r in sheet.readings]
    return section(title, grid(("Reading", "As entered", "Unit"), rows, (0.5, 0.35, 0.15)))


def _findings(sheet: InspectionSheet) -> list[Flowable]:
    if not sheet.findings:
        return section("Findings", para("No finding was recorded.", "soft"))
    rows = [(f.text, f.limit, f.origin, marked(f.verdict)) for f in sheet.findings]
    table = grid(("Finding", "Limit", "Origin of the limit", "Verdict"), rows, (0.43, 0.2, 0.2, 0.17))
    return section("Findings", table)


def _modes(sheet: InspectionSheet) -> list[Flowable]:
    story = section("Failure modes")
    if sheet.modes:
        rows = [(f"{m.code} {m.name}", _grade(m), marked(m.outcome), _mode_note(m)) for m in sheet.modes]
        story.append(grid(("Mode", "Grade", "Shown", "Meaning"), rows, (0.32, 0.2, 0.14, 0.34)))
    else:
        story.append(para("This inspection proved nothing about any failure mode.", "text"))
    if sheet.seen_by_others:
        story.append(Spacer(1, 3))
        story.append(para("Left to other checks of this kind: " + "; ".join(sheet.seen_by_others) + ".", "soft"))
    if sheet.blind_spots:
        story.append(para("Blind spots, seen by no scheduled check: " + "; ".join(sheet.blind_spots) + ".", "soft"))
    return story


def _grade(mode: ModeLine) -> str:
    return GRADES.get(mode.grade, mode.grade)


def _mode_note(mode: ModeLine) -> str:
    meaning = OUTCOMES.get(mode.outcome, "")
    return f"{meaning}; {mode.note}" if mode.note else meaning


def _faults(sheet: InspectionSheet) -> list[Flowable]:
    title = "Deficiencies, repair and restoration"
    if not sheet.faults:
        return section(title, para("None found by this inspection, and none of its modes stood open then.", "text"))
    return section(title, fault_table(sheet.faults, sheet.time_zone))


def fault_table(faults: Iterable[FaultLine], zone: str) -> Table:
    """Return faults with who found, who repaired and who restored."""
    rows = [
        (
            rich(f"<b>{escape(f'{f.item}: {f.code} {f.name}')}</b><br/>{escape(GRADES.get(f.grade, f.grade))}", "cell"),
            f"{f.text}\n{f.found_by}, {day(f.found_at, zone)}",
            "\n".join(f.repairs) or NOT_RECORDED,
            f.restoration or "open: not restored",
        )
        for f in faults
    ]
    return grid(("Deficiency", "Found", "Repair, by whom", "Restored, by whom"), rows, (0.25, 0.27, 0.25, 0.23))


def cautions(lines: tuple[str, ...]) -> list[Flowable]:
    """Return the box of cautions that closes every report, whole on one page."""
    unique = list(dict.fromkeys(lines))
    return [KeepTogether([Spacer(1, 10), boxed([para(line, "caution") for line in unique], heavy=True)])]
