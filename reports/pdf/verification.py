"""The verification report: every formula, where it comes from, its check values and what the last run made of them."""

from reportlab.platypus import Flowable, Spacer, Table

from reports.pdf import layout
from reports.pdf.layout import boxed, escape, grid, instant, marked, para, particulars, rich, section
from reports.pdf.marks import mark
from reports.sheets import NOT_RECORDED, CaseLine, FormulaLine, SubjectSheet, VerificationSheet

ZONE = "UTC"  # of no one department: every one gets the same bytes


def build_verification_report(sheet: VerificationSheet) -> bytes:
    """Return the PDF of the formulas by subject, with their check values and the result of the last run."""
    story: list[Flowable] = [para("Verification report", "title"), _answer(sheet), Spacer(1, 6), _particulars(sheet)]
    story += _plain_words(sheet)
    if sheet.astray:
        story += section("Cases that belong to no formula", _cases(sheet.astray))
    shown: dict[str, str] = {}
    for subject in sheet.subjects:
        story += _subject(subject, shown)
    page = layout.Page(
        "Verification report", "All departments", sheet.record_id or "none: not run", instant(sheet.as_of, ZONE)
    )
    return layout.render(story, page)


def _answer(sheet: VerificationSheet) -> Flowable:
    word, lead = _lead(sheet)
    row = Table([[mark(word, 15), para(lead, "verdict")]], colWidths=[23, layout.WIDTH - 50], hAlign="LEFT")
    row.setStyle(layout.WORD)
    lines = [para(sheet.problem)] if sheet.problem else []
    if sheet.moved:
        lines.append(para("The formulas or their check values are other ones now than those that were run."))
    return boxed([row, *lines])


def _lead(sheet: VerificationSheet) -> tuple[str, str]:
    if sheet.run_at is None:
        return "not run", "Not run on this machine yet"
    if sheet.failed:
        return "fail", f"{sheet.failed} of {sheet.passed + sheet.failed} check values fail"
    return "pass", f"All {sheet.passed} check values come out"


def _particulars(sheet: VerificationSheet) -> Flowable:
    return particulars(
        [
            ("Run", instant(sheet.run_at, ZONE) if sheet.run_at else "never"),
            ("Asked by", sheet.asked_by or "the scheduler or a command"),
            ("On", sheet.ran_on or NOT_RECORDED),
            ("Formulas", f"{len(sheet.formulas)}, digest {sheet.code[:12] or NOT_RECORDED}"),
        ]
    )


def _plain_words(sheet: VerificationSheet) -> list[Flowable]:
    words = [
        para(
            "Each formula is held against values that others published or computed. A number passes within the larger "
            "of its two tolerances; words, yes and no must be the same. How a value is known stands in brackets: read "
            "in a public text, from memory, or computed with the library named.",
            "soft",
        )
    ]
    if sheet.without:
        words.append(para(f"No check value exercises {', '.join(sheet.without)}."))
    return words


def _subject(subject: SubjectSheet, shown: dict[str, str]) -> list[Flowable]:
    story = section(subject.name.capitalize(), para(subject.about, "soft"))
    for formula in subject.formulas:
        story += _formula(formula, shown)
    return story


def _formula(formula: FormulaLine, shown: dict[str, str]) -> list[Flowable]:
    """Draw one formula; a case that several exercise is drawn with the first of them and named with the others."""
    new = tuple(case for case in formula.cases if case.id not in shown)
    old = [f"{case.id} ({case.word})" for case in formula.cases if case.id in shown]
    under = sorted({shown[case.id] for case in formula.cases if case.id in shown})
    shown.update((case.id, formula.name) for case in new)
    source = escape(formula.source or "none is written down")
    head = rich(f"<b>{escape(formula.name)}</b>  {escape(formula.word)}. {escape(formula.sentence)}")
    story: list[Flowable] = [layout.CondPageBreak(60), Spacer(1, 5), head, rich(f"Source: {source}", "soft")]
    if old:
        story.append(para(f"{'Also e' if new else 'E'}xercised by {', '.join(old)}, under {', '.join(under)}.", "soft"))
    return [*story, _cases(new)] if new else story


def _cases(cases: tuple[CaseLine, ...]) -> Flowable:
    rows = [
        (f"{case.id} {case.kind}", marked(case.word), case.expected, case.got, case.error, _from(case))
        for case in cases
    ]
    header = ("Case", "Result", "Expected", "Got", "Error", "From")
    return grid(header, rows, (0.14, 0.08, 0.18, 0.18, 0.16, 0.26))


def _from(case: CaseLine) -> str:
    return f"{case.source} ({case.provenance})" if case.provenance else case.source
