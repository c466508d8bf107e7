"""Which line each row belongs to, decided for the whole file at once.

Surest first: the row's own cell; a section or tab that names a line; sections or tabs that repeat the same kinds of
things (two sets of one gear under two headings are two lines, headings over different gear are only chapters);
sections that name stations; else everything stands on one line named after the department.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence

from inventory.importing.content import PLACE_WORDS
from inventory.importing.drafts import CrewDraft, Drafted
from inventory.importing.notices import Notices
from inventory.importing.walk import line_named_in

_PLAIN_TAB = re.compile(
    r"^(?:sheet|tab|table)\s*\d*$|\b(?:items?|inventory|equipment|consumables?|suppl\w+|cache|list|register|master|gear|all|"
    r"stock|data|crew|roster|expendables?|disposables?|export|main|current)\b",
    re.I,
)
_SAME_KINDS = 3  # kinds that two headings share before they are taken for two lines


def decide_lines(drafts: Sequence[Drafted], department: str, notices: Notices) -> None:
    """Give every draft its ``line``, in place: "" where it says that it belongs to no line."""
    undecided = []
    for drafted in drafts:
        if drafted.line_cell is not None:
            drafted.line = drafted.line_cell
        elif not drafted.line:
            drafted.line = line_named_in(drafted.origin.sheet)
            if not drafted.line:
                undecided.append(drafted)
    _fold_spellings(drafts)
    if not undecided:
        return
    named = {d.line for d in drafts if d.line}
    if len(named) == 1:
        # a tab of supplies without a line column, beside the register of one line, belongs to that line
        apart = [d for d in undecided if "line" not in d.origin.headings]
        for drafted in apart:
            drafted.line = next(iter(named))
        undecided = [d for d in undecided if not d.line]
        if apart:
            problem = f"{len(apart)} rows name no line; the file knows only {apart[0].line}: taken in on it"
            notices.of_file(apart[0].origin.sheet, problem, "post them elsewhere if they belong elsewhere")
        if not undecided:
            return
    if named:
        rows = ", ".join(f"{d.origin.sheet} {d.origin.row}" for d in undecided[:20])
        notices.of_file(
            undecided[0].origin.sheet,
            f"{len(undecided)} rows name no line though others do: taken in on none ({rows})",
            "post them to the line they belong to",
            row=undecided[0].origin.row,
        )
        return
    _from_headings(undecided, department, notices)


def settle_crew(crew: Iterable[CrewDraft], lines: Iterable[str], notices: Notices) -> list[CrewDraft]:
    """Return the crew whose line is known, "" meaning every line; refuse the others."""
    known = {line.casefold(): line for line in lines}
    kept = []
    for member in crew:
        if member.line and member.line.casefold() not in known:
            mend = f"name one of {', '.join(sorted(known.values())) or 'no line: none is held yet'}, or write all"
            notices.refuse(member.origin, "line", f"there is no line {member.line!r}", mend)
            continue
        member.line = known.get(member.line.casefold(), "")
        kept.append(member)
    return kept


def _fold_spellings(drafts: Iterable[Drafted]) -> None:
    spelt: dict[str, str] = {}
    for drafted in drafts:
        drafted.line = spelt.setdefault(" ".join(drafted.line.casefold().split()), drafted.line)


def _from_headings(undecided: Sequence[Drafted], department: str, notices: Notices) -> None:
    for heading in (lambda d: d.section, _tab):
        if _repeats_kinds(undecided, heading):
            for drafted in undecided:
                drafted.line = heading(drafted)[:80]
            names = ", ".join(dict.fromkeys(d.line for d in undecided if d.line))
            notices.of_file(
                undecided[0].origin.sheet,
                f"no column names lines; taken from the headings over the rows: {names}",
                "rename the lines if they are called something else",
            )
            return
    stations = [d for d in undecided if PLACE_WORDS.search(d.section)]
    if len(stations) == len(undecided) and len({d.section for d in stations}) > 1:
        for drafted in undecided:
            drafted.line = (drafted.places or (drafted.section,))[0][:80]
        problem = "no line is named anywhere: each station's gear is taken for one line"
    else:
        for drafted in undecided:
            drafted.line = f"{department} line"[:80]
        problem = f"no line is named anywhere: everything stands on one line, {department} line"
    notices.of_file(undecided[0].origin.sheet, problem, "rename the line, or post items to the lines they belong to")


def _tab(drafted: Drafted) -> str:
    return "" if _PLAIN_TAB.search(drafted.origin.sheet) else drafted.origin.sheet


def _repeats_kinds(drafts: Sequence[Drafted], heading: "object") -> bool:
    kinds: dict[str, set[str]] = defaultdict(set)
    for drafted in drafts:
        if said := heading(drafted):
            kinds[said].add(drafted.kind)
    sets = [k for k in kinds.values() if k]
    if len(sets) < 2 or not all(heading(d) for d in drafts):
        return False
    shared = max(len((a & b) - {"other"}) for i, a in enumerate(sets) for b in sets[i + 1 :])
    return shared >= _SAME_KINDS or any(
        "shelter" in a and "shelter" in b for i, a in enumerate(sets) for b in sets[i + 1 :]
    )
