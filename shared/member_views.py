"""The people of a department: who is there and as what, inviting, changing, retiring, and taking up an invitation."""

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import login
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shared import members
from shared.api import Conflict
from shared.models import Invitation, Membership, User
from shared.walls import allowed

MOST_TRIES = 20  # of one address within the window
WINDOW_S = 900


def _day(label: str) -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=False, widget=widget, error_messages={"invalid": "Write 2026-12-31."})


class MemberForm(forms.Form):
    """A role, and the days it holds."""

    role = forms.ChoiceField(label="Role", choices=[("", "Choose"), *Membership.Role.choices])
    starts_on = _day("From")
    ends_on = _day("Last day")

    def refuse(self, problem: Conflict) -> None:
        self.add_error(problem.where if problem.where in self.fields else None, f"{problem} {problem.mend}")


class InviteForm(MemberForm):
    """Somebody who has no sign-in here yet."""

    display_name = forms.CharField(label="Name, as they sign", max_length=120)
    email = forms.EmailField(label="E-mail address", required=False, help_text="Kept for reminders. May stay blank.")


class AcceptForm(forms.Form):
    """A sign-in of one's own."""

    username = forms.SlugField(
        label="Sign-in name", max_length=60, help_text="Letters, digits, - and _.", widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none"}
        ),
    )  # fmt: skip
    password = forms.CharField(
        label="Password", max_length=200, strip=False, help_text="Ten characters or more, and none of the common ones.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )  # fmt: skip
    again = forms.CharField(
        label="Password again", max_length=200, strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        if values.get("password") and values.get("again") and values["password"] != values["again"]:
            self.add_error("again", "The two are not the same.")
        return values


def _page(request: HttpRequest, status: int = 200, **context: Any) -> HttpResponse:
    today = timezone.localdate()
    rows = Membership.objects.filter(department=request.department).select_related("user")
    rows = sorted(rows, key=lambda m: (m.ends_on is not None and m.ends_on < today, m.user.signed_name.casefold()))
    changing = context.get("changing")
    shown = {
        "members": [
            (m, m.ends_on is not None and m.ends_on < today, context["change_form"] if m == changing else _form_of(m))
            for m in rows
        ],
        "invitations": Invitation.objects.filter(department=request.department, accepted_at=None)[:100],
        "invite_form": InviteForm(auto_id="invite-%s"),
        "now": timezone.now(),
    }
    return render(request, "shared/people.html", shown | context, status=status)


def _form_of(member: Membership) -> MemberForm:
    now = {"role": member.role, "starts_on": member.starts_on, "ends_on": member.ends_on}
    return MemberForm(initial=now, auto_id=f"m{member.pk}-%s")


@allowed("people")
@never_cache
@require_GET
def people(request: HttpRequest) -> HttpResponse:
    """Show who belongs to the department, and who is invited."""
    return _page(request)


@allowed("people")
@never_cache
@require_POST
def invite(request: HttpRequest) -> HttpResponse:
    """Invite somebody, and show the address this once: a redirect would have to keep the key somewhere."""
    form = InviteForm(request.POST, auto_id="invite-%s")
    if not form.is_valid():
        return _page(request, 422, invite_form=form)
    try:
        invitation, key = members.invite(
            department=request.department, by=request.membership, at=timezone.now(), **form.cleaned_data
        )
    except Conflict as refused:
        form.refuse(refused)
        return _page(request, 422, invite_form=form)
    return _shown(request, invitation, key)


def _shown(request: HttpRequest, invitation: Invitation, key: str) -> HttpResponse:
    address = request.build_absolute_uri(reverse("shared:accept", args=[key]))
    return _page(request, 201, invited=invitation, address=address)


@allowed("people")
@never_cache
@require_POST
def invite_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Give an invitation a new address."""
    found = get_object_or_404(Invitation, pk=pk, department=request.department)
    try:
        invitation, key = members.invite_again(invitation=found, by=request.membership, at=timezone.now())
    except Conflict as refused:
        return _page(request, 422, refused=f"{refused} {refused.mend}")
    return _shown(request, invitation, key)


@allowed("people")
@require_POST
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an invitation back."""
    found = get_object_or_404(Invitation, pk=pk, department=request.department)
    try:
        members.withdraw(invitation=found, by=request.membership, at=timezone.now())
    except Conflict as refused:
        return _page(request, 422, refused=f"{refused} {refused.mend}")
    messages.success(request, f"The invitation of {found.display_name} is withdrawn.")
    return redirect("shared:people")


@allowed("people")
@require_POST
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change somebody's role or dates."""
    member = get_object_or_404(Membership.objects.select_related("user"), pk=pk, department=request.department)
    form = MemberForm(request.POST, auto_id=f"m{pk}-%s")
    if form.is_valid():
        try:
            members.change_member(member=member, by=request.membership, on=timezone.localdate(), **form.cleaned_data)
        except Conflict as refused:
            form.refuse(refused)
        else:
            messages.success(request, f"{member.user.signed_name}: changed.")
            return redirect("shared:people")
    return _page(request, 422, changing=member, change_form=form)


@allowed("people")
@require_POST
def retire(request: HttpRequest, pk: int) -> HttpResponse:
    """End somebody's membership."""
    member = get_object_or_404(Membership.objects.select_related("user"), pk=pk, department=request.department)
    try:
        members.retire(member=member, by=request.membership, on=timezone.localdate(), at=timezone.now())
    except Conflict as refused:
        return _page(request, 422, refused=f"{refused} {refused.mend}")
    messages.success(request, f"{member.user.signed_name} is retired: signed out here, tokens ended.")
    return redirect("shared:people")


@allowed("public")
@never_cache
@require_http_methods(["GET", "POST"])
def accept(request: HttpRequest, key: str) -> HttpResponse:
    """Take up an invitation. A key that is wrong, used, withdrawn or expired is answered alike."""
    if _too_often(request):
        return render(request, "shared/accept.html", {"wait": True}, status=429)
    invitation = members.invitation_of(key, timezone.now())
    form = AcceptForm(request.POST or None)
    if invitation is not None and request.method == "POST" and form.is_valid():
        user = _accepted(form, key)
        if user is not None:
            login(request, user, backend="django.contrib.auth.backends.ModelBackend")
            return redirect("readiness:tonight")
        invitation = members.invitation_of(key, timezone.now())
    context = {"invitation": invitation, "form": form}
    status = 404 if invitation is None else 422 if form.errors else 200
    return render(request, "shared/accept.html", context, status=status)


def _accepted(form: AcceptForm, key: str) -> User | None:
    try:
        return members.accept(
            key=key,
            username=form.cleaned_data["username"],
            password=form.cleaned_data["password"],
            at=timezone.now(),
        )
    except Conflict as refused:
        form.add_error(refused.where if refused.where in form.fields else None, f"{refused} {refused.mend}")
    except ValidationError as weak:
        form.add_error("password", weak)
    return None


def _too_often(request: HttpRequest) -> bool:
    """Count the tries of one address: a key of 256 bits is not guessed, but nobody shall make us try."""
    slot = f"accept-{request.META.get('REMOTE_ADDR', '')}"
    cache.add(slot, 0, WINDOW_S)
    try:
        return cache.incr(slot) > MOST_TRIES
    except ValueError:
        return False
