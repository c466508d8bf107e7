"""Papers on an item's page: uploaded, listed, replaced by newer ones."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.order_forms import FileForm
from inventory.order_views import refuse
from inventory.panels import Panel, item_panel
from inventory.queries import ItemStanding
from inventory.queries.papers import papers_of
from inventory.services.papers import add_paper
from inventory.views import item_page, signed, standing_of
from shared.api import Conflict
from shared.files import MOST_BYTES
from shared.walls import allowed, may


@item_panel
def papers(request: HttpRequest, standing: ItemStanding, forms: Mapping[str, Any]) -> Panel:
    """Give the papers of an item, and the form that adds one."""
    form = (forms.get("paper") or FileForm()) if may(request.membership, "write") else None
    context = {"item": standing.item, "papers": papers_of(standing.item, timezone.localdate()), "form": form}
    return Panel("inventory/_papers.html", context, is_last=True)


@allowed("write")
@require_POST
def add(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a paper to an item, or to everything of its kind."""
    standing = standing_of(request, pk)
    form = FileForm(request.POST, files=request.FILES)
    if form.is_valid():
        sent = form.cleaned_data.pop("file")
        of = {"kind": standing.item.kind} if "kind" in request.POST else {"item": standing.item}
        try:
            # What is larger is refused before it is read.
            content = b"" if sent.size > MOST_BYTES else sent.read()
            if sent.size > MOST_BYTES:
                raise Conflict("The file is larger than 15 MB.", where="file", mend="Send a smaller one.")
            add_paper(content=content, name=sent.name, happened_at=timezone.now(), **of, **signed(request),
                      **form.cleaned_data)  # fmt: skip
        except Conflict as problem:
            refuse(form, problem)
        else:
            messages.success(request, "The paper is kept.")
            return redirect("inventory:item", pk=pk)
    return item_page(request, standing, forms={"paper": form}, status=422)
