"""Pages about the person rather than the cache: signing in and out, settings, tokens, the choice of department."""

from django.conf import settings as conf
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.views import LoginView, LogoutView
from django.db import DatabaseError, connection
from django.db.models import QuerySet
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render, resolve_url
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views import defaults
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shared import people
from shared.api import MENDS, Conflict, problem
from shared.files import path_of
from shared.forms import AlertStepForm, DepartmentForm, MailForm, PasswordForm, PersonForm, SignInForm, TokenForm
from shared.models import ApiToken, Department, Membership, StoredFile, User
from shared.panels import panels_of
from shared.tokens import make_token
from shared.walls import SESSION_KEY, allowed, may

API = "/api/"
NOTICES_SHOWN = 20


class _SignIn(LoginView):
    template_name = "shared/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_success_url(self) -> str:
        """Lead a person of several departments past the choice first, and on to the page that was asked for."""
        onward = super().get_success_url()
        if memberships_today(self.request).count() > 1 and SESSION_KEY not in self.request.session:
            self.request.session["onward"] = onward
            return resolve_url("shared:department")
        return onward


sign_in = allowed("public")(_SignIn.as_view())
sign_out = allowed("signed-in")(LogoutView.as_view())


def memberships_today(request: HttpRequest) -> QuerySet[Membership]:
    return request.user.memberships.current(timezone.localdate()).select_related("department").order_by("pk")


@allowed("signed-in")
@require_http_methods(["GET", "POST"])
def department(request: HttpRequest) -> HttpResponse:
    """Choose which of one's departments the session speaks for."""
    chosen = {"membership": request.membership}
    form = DepartmentForm(request.POST or None, memberships=memberships_today(request), initial=chosen)
    if form.is_valid():
        request.session[SESSION_KEY] = form.cleaned_data["membership"].pk
        onward = request.session.pop("onward", "")
        # The page asked for before the choice may be any page of ours, and none of anybody else's.
        if not url_has_allowed_host_and_scheme(onward, allowed_hosts={request.get_host()}):
            onward = "readiness:tonight"
        return redirect(onward)
    return render(request, "shared/department.html", {"form": form})


def _settings_page(request: HttpRequest, status: int = 200, **context: object) -> HttpResponse:
    tokens = request.user.api_tokens.filter(department=request.department).order_by("-made_at")
    shown = {
        "person_form": PersonForm(instance=request.user),
        "password_form": PasswordForm(request.user),
        "token_form": TokenForm(),
        "tokens": tokens,
        "now": timezone.now(),
        "memberships": memberships_today(request),
        "notices": request.user.notices.filter(department=request.department)[:NOTICES_SHOWN],
        "mail_form": MailForm(instance=request.membership) if request.membership else None,
        "alert_step_form": AlertStepForm(instance=request.department) if may(request.membership, "mission") else None,
        "mails": conf.HOLDAIR_MAILS,
        "panels": panels_of("settings", request),
    }
    return render(request, "shared/settings.html", shown | context, status=status)


@allowed("signed-in")
@never_cache
@require_http_methods(["GET", "POST"])
def settings(request: HttpRequest) -> HttpResponse:
    """Show the person's settings; a POST changes name and units."""
    if request.method == "GET":
        return _settings_page(request)
    form = PersonForm(request.POST, instance=User.objects.get(pk=request.user.pk))
    if not form.is_valid():
        return _settings_page(request, person_form=form, status=422)
    try:
        people.change_person(user=request.user, **form.cleaned_data)
    except Conflict as refused:
        form.add_error(refused.where, str(refused))
        return _settings_page(request, person_form=form, status=422)
    messages.success(request, "Saved.")
    return redirect("shared:settings")


@allowed("read")
@never_cache
@require_POST
def mail(request: HttpRequest) -> HttpResponse:
    """Change which sorts of news are mailed to somebody for this department."""
    form = MailForm(request.POST, instance=Membership.objects.get(pk=request.membership.pk))
    if not form.is_valid():
        return _settings_page(request, mail_form=form, status=422)
    form.save()
    messages.success(request, "Saved: what you want mailed.")
    return redirect(f"{resolve_url('shared:settings')}#mail")


@allowed("mission")
@never_cache
@require_POST
def alert_step(request: HttpRequest) -> HttpResponse:
    """Change by how much a score must drop before the head is told."""
    form = AlertStepForm(request.POST, instance=Department.objects.get(pk=request.department.pk))
    if not form.is_valid():
        return _settings_page(request, alert_step_form=form, status=422)
    people.set_alert_step(department=request.department, by=request.user, at=timezone.now(), **form.cleaned_data)
    messages.success(request, f"A drop of {form.cleaned_data['alert_step']:g} points is told from now on.")
    return redirect(f"{resolve_url('shared:settings')}#mail")


@allowed("signed-in")
@never_cache
@require_POST
def change_password(request: HttpRequest) -> HttpResponse:
    form = PasswordForm(request.user, request.POST)
    if not form.is_valid():
        return _settings_page(request, password_form=form, status=422)
    user = people.change_password(user=request.user, password=form.cleaned_data["new_password1"], at=timezone.now())
    # The session stays signed in; every other session of this person ends with the old password.
    update_session_auth_hash(request, user)
    said = "The password is changed. Other places where you were signed in are signed out, and your tokens have ended."
    messages.success(request, said)
    return redirect("shared:settings")


@allowed("token")
@never_cache
@require_POST
def make_api_token(request: HttpRequest) -> HttpResponse:
    """Make a token and show its key this once; a redirect would have to keep the key somewhere."""
    form = TokenForm(request.POST)
    if not form.is_valid():
        return _settings_page(request, token_form=form, status=422)
    token, key = make_token(membership=request.membership, name=form.cleaned_data["name"], lifetime=form.lifetime)
    return _settings_page(request, new_token=token, new_key=key, status=201)


@allowed("token")
@require_POST
def revoke_api_token(request: HttpRequest, pk: int) -> HttpResponse:
    token = get_object_or_404(ApiToken, pk=pk, user=request.user, department=request.department)
    # Conditional: a token revoked twice keeps the first time.
    ApiToken.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=timezone.now())
    messages.success(request, f"The token “{token.name}” no longer works.")
    return redirect("shared:settings")


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer for an address that is none of ours, in the shape that its asker reads."""
    if request.path.startswith(API):
        answer = problem("Not found.", request.path, MENDS["not_found"])
        return JsonResponse(answer, status=404)
    return defaults.page_not_found(request, exception)


def broken(request: HttpRequest) -> HttpResponse:
    """Answer for what broke; what it was stands in the log and nowhere else."""
    if request.path.startswith(API):
        answer = problem("Something broke on our side; nothing was half-recorded.", request.path, "Send it again.")
        return JsonResponse(answer, status=500)
    return defaults.server_error(request)


@allowed("public")
@never_cache
@require_GET
def healthz(request: HttpRequest) -> JsonResponse:
    """Say whether this process reaches its database; nothing about what is in it."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return JsonResponse({"ok": False}, status=503)
    return JsonResponse({"ok": True})


@allowed("read")
@require_GET
def file(request: HttpRequest, pk: int) -> FileResponse:
    """Show a photo or paper that was kept. What was sent is never run: the policy for it allows nothing."""
    kept = get_object_or_404(StoredFile, pk=pk, department=request.department)
    try:
        opened = path_of(kept).open("rb")
    except FileNotFoundError as gone:
        raise Http404("the file is not on this machine") from gone
    response = FileResponse(opened, content_type=kept.sort, filename=kept.name)
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    return response
