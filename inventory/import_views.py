"""Taking in a register in the browser: send it, see what it was taken for, mend, take in once.

The pages are the same for a register of the cache (here) and one of past checks (the room on the right): ``Pages``
holds what differs, and gives the views.
"""

import uuid
from collections.abc import Callable
from dataclasses import dataclass

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.forms import OnceForm
from inventory.import_pages import DraftView
from inventory.importing import fields
from inventory.models import ImportDraft, ImportRun, Item, Lot
from inventory.services import import_cache, import_drafts
from inventory.tasks import READ_REGISTER
from shared.api import AlreadySent, Conflict
from shared.files import MOST_REGISTER_BYTES
from shared.models import OutboxRow
from shared.walls import allowed

RUNS_SHOWN = 50
THINGS_SHOWN = 300


class RegisterForm(OnceForm):
    """A file to be looked at; nothing is taken in by sending it."""

    file = forms.FileField(
        label="Workbook or text table",
        help_text="Excel (.xlsx) or .csv, up to 20 MB, under whatever headings it has.",
        error_messages={
            "required": "Choose the file first.",
            "empty": "That file is empty. Save it again and send it.",
        },
        widget=forms.ClearableFileInput(attrs={"accept": ".xlsx,.xls,.csv,.tsv,.txt"}),
    )

    def clean_file(self) -> object:
        file = self.cleaned_data["file"]
        if file.size > MOST_REGISTER_BYTES:
            raise forms.ValidationError("The file is larger than 20 MB. Split it, one file for each line.")
        return file


@dataclass(frozen=True)
class Pages:
    """The pages of one sort of import."""

    sort: str
    space: str  # namespace of its addresses
    what: str
    importer: import_drafts.Importer
    task: str
    choices: Callable[[str], list[tuple[str, str]]]

    def _draft(self, request: HttpRequest, pk: int) -> ImportDraft:
        rows = ImportDraft.objects.select_related("file", "department", "by", "work", "run")
        return get_object_or_404(rows, pk=pk, department=request.department, sort=self.sort)

    def list(self, request: HttpRequest, form: RegisterForm | None = None, status: int = 200) -> HttpResponse:
        """Show the form that sends a file, the drafts that wait, and what was taken in before."""
        of = {"department": request.department, "sort": self.sort}
        drafts = ImportDraft.objects.filter(**of, run=None, dropped_at=None).select_related("file", "by")
        context = {
            "pages": self,
            "form": form or RegisterForm(),
            "drafts": drafts[:RUNS_SHOWN],
            "runs": ImportRun.objects.filter(**of).select_related("by").order_by("-at", "-pk")[:RUNS_SHOWN],
        }
        return render(request, "inventory/import/list.html", context, status=status)

    def send(self, request: HttpRequest) -> HttpResponse:
        """Keep the file that was sent, and look at it."""
        form = RegisterForm(request.POST, files=request.FILES)
        if not form.is_valid():
            return self.list(request, form, 422)
        sent, now = form.cleaned_data["file"], timezone.now()
        try:
            draft = import_drafts.open_draft(
                department=request.department,
                sort=self.sort,
                content=sent.read(),
                name=sent.name,
                by=request.user,
                at=now,
                client_id=form.cleaned_data["client_id"],
            )
        except AlreadySent:
            form.add_error("file", "Another file was sent from this form. Choose it again to send this one as well.")
            form.data = {"client_id": str(uuid.uuid4())}
            return self.list(request, form, 422)
        except Conflict as refused:
            form.add_error("file", f"{refused} {refused.mend}")
            return self.list(request, form, 422)
        self._look(draft, request)
        return redirect(f"{self.space}:draft", pk=draft.pk)

    def _look(self, draft: ImportDraft, request: HttpRequest) -> None:
        if draft.preview is not None or draft.run_id:
            return
        if import_drafts.is_large(draft.file):
            import_drafts.ask_work(draft=draft, task=self.task, do="read", by=request.user)
        else:
            import_drafts.read_draft(draft=draft, importer=self.importer, at=timezone.now())

    def draft(self, request: HttpRequest, pk: int, refused: str = "") -> HttpResponse:
        """Show what a file was taken for and what taking it in would do."""
        draft = self._draft(request, pk)
        if draft.run_id:
            return redirect(f"{self.space}:run", pk=draft.run_id)
        working = draft.work is not None and draft.work.state in (OutboxRow.State.QUEUED, OutboxRow.State.CLAIMED)
        view = DraftView(draft, self.choices, import_drafts.told_of(draft))
        context = {"pages": self, "draft": draft, "view": view, "working": working, "refused": refused}
        return render(request, "inventory/import/draft.html", context, status=422 if refused else 200)

    def mend(self, request: HttpRequest, pk: int) -> HttpResponse:
        """Note what somebody said of columns and cells, and read the file again by it."""
        draft = self._draft(request, pk)
        view = DraftView(draft, self.choices, import_drafts.told_of(draft))
        columns, cells = view.said_of_columns(request.POST), view.said_of_cells(request.POST)
        try:
            if columns:
                import_drafts.tell_columns(draft=draft, columns=columns, at=timezone.now())
            if cells:
                import_drafts.mend_cells(draft=draft, cells=cells)
        except Conflict as refused:
            return self.draft(request, pk, f"{refused} {refused.mend}")
        draft = self._draft(request, pk)
        self._look(draft, request)
        said = "Read again as you said." if columns or cells else "Nothing was changed."
        messages.success(request, said)
        return redirect(f"{self.space}:draft", pk=pk)

    def take(self, request: HttpRequest, pk: int) -> HttpResponse:
        """Take the rows in, once."""
        draft = self._draft(request, pk)
        try:
            if import_drafts.is_large(draft.file) and draft.run_id is None:
                import_drafts.ask_work(draft=draft, task=self.task, do="take", by=request.user)
                return redirect(f"{self.space}:draft", pk=pk)
            run = import_drafts.take_in(draft=draft, importer=self.importer, by=request.user, at=timezone.now())
        except Conflict as refused:
            return self.draft(request, pk, f"{refused} {refused.mend}")
        return redirect(f"{self.space}:run", pk=run.pk)

    def drop(self, request: HttpRequest, pk: int) -> HttpResponse:
        """Put a draft away."""
        draft = self._draft(request, pk)
        try:
            import_drafts.drop_draft(draft=draft, at=timezone.now())
        except Conflict as refused:
            return self.draft(request, pk, f"{refused} {refused.mend}")
        messages.success(request, f"{draft.file.name} is dropped; nothing of it was taken in.")
        return redirect(f"{self.space}:list")

    def run(self, request: HttpRequest, pk: int) -> HttpResponse:
        """Show the report of a file that was taken in, with what it brought."""
        rows = ImportRun.objects.select_related("by")
        run = get_object_or_404(rows, pk=pk, department=request.department, sort=self.sort)
        of = {"department": request.department, "made_at": run.at}
        context = {
            "pages": self,
            "run": run,
            "report": run.report,
            "items": Item.objects.filter(**of)[:THINGS_SHOWN] if self.sort == "cache" else (),
            "lots": Lot.objects.filter(**of)[:THINGS_SHOWN] if self.sort == "cache" else (),
        }
        return render(request, "inventory/import/run.html", context)


CACHE = Pages("cache", "cache-import", "register of the cache", import_cache, READ_REGISTER, fields.choices)


@dataclass(frozen=True)
class Views:
    """The views of one sort, each behind its wall."""

    list: Callable[..., HttpResponse]
    draft: Callable[..., HttpResponse]
    mend: Callable[..., HttpResponse]
    take: Callable[..., HttpResponse]
    drop: Callable[..., HttpResponse]
    run: Callable[..., HttpResponse]


def views_of(pages: Pages) -> Views:
    """Return the views of one sort of import, behind the wall that all of them stand behind."""
    write = allowed("write")

    def sent_or_listed(request: HttpRequest) -> HttpResponse:
        return pages.send(request) if request.method == "POST" else pages.list(request)

    return Views(
        list=write(require_http_methods(["GET", "POST"])(sent_or_listed)),
        draft=write(require_GET(lambda request, pk: pages.draft(request, pk))),
        mend=write(require_POST(lambda request, pk: pages.mend(request, pk))),
        take=write(require_POST(lambda request, pk: pages.take(request, pk))),
        drop=write(require_POST(lambda request, pk: pages.drop(request, pk))),
        run=write(require_GET(lambda request, pk: pages.run(request, pk))),
    )
