"""Forms of the signed-in person: sign in, name and units, password, tokens, department."""

from datetime import timedelta

from django import forms
from django.contrib.auth import forms as auth_forms

from shared.models import Department, Membership, User
from shared.notices import MAILED_TO


class SignInForm(auth_forms.AuthenticationForm):
    """Name and password; the refusal does not say which of the two was wrong."""

    error_messages = {
        "invalid_login": "That name and password do not go together. Both mind upper and lower case.",
        "inactive": "This sign-in is closed. Ask your department's officer.",
    }

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Sign-in name"


class PersonForm(forms.ModelForm):
    class Meta:
        model = User
        fields = ["display_name", "email", "uses_si"]
        labels = {
            "display_name": "Name, as you sign",
            "email": "E-mail address",
            "uses_si": "Show metric units (°C, L, kW, kPa)",
        }
        help_texts = {
            "display_name": "Printed on the inspections and reports that you sign from now on.",
            "email": "For alerts, reminders and the digest. Left empty, they stand on this page only.",
        }

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["display_name"].required = True


class PasswordForm(auth_forms.PasswordChangeForm):
    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["old_password"].label = "Password now"
        self.fields["old_password"].widget.attrs.pop("autofocus", None)
        self.fields["new_password1"].help_text = "Ten characters or more, and none of the common ones."
        self.fields["new_password2"].label = "New password again"
        self.fields["new_password2"].help_text = ""


class TokenForm(forms.Form):
    """A new API token: what it is for, and how long it lives."""

    name = forms.CharField(label="What it is for", max_length=80)
    days = forms.TypedChoiceField(
        label="Ends after",
        coerce=int,
        choices=[(30, "30 days"), (90, "90 days"), (180, "180 days"), (365, "one year")],
        initial=90,
    )

    @property
    def lifetime(self) -> timedelta:
        return timedelta(days=self.cleaned_data["days"])


class MailForm(forms.ModelForm):
    """Which sorts of news somebody wants mailed for one department; only those that come to their role are asked."""

    class Meta:
        model = Membership
        fields = ["wants_alerts", "wants_reminders", "wants_digest"]
        labels = {
            "wants_alerts": "Alerts: at once, when a line’s word changes or its score drops",
            "wants_reminders": "Reminders: in the morning, what newly falls due or is overdue",
            "wants_digest": "Digest: on Monday, how the lines stand and what the week asks for",
        }

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name in [n for n in self.fields if self.instance.role not in MAILED_TO[n]]:
            del self.fields[name]


class AlertStepForm(forms.ModelForm):
    class Meta:
        model = Department
        fields = ["alert_step"]
        labels = {"alert_step": "Tell the head when a score drops by (points of 100)"}
        help_texts = {"alert_step": "Counted from its highest since the last alert. A change of word is always told."}


class DepartmentForm(forms.Form):
    """The choice among the memberships a person holds today."""

    membership = forms.ModelChoiceField(
        label="Department", queryset=Membership.objects.none(), widget=forms.RadioSelect, empty_label=None
    )

    def __init__(self, *args: object, memberships: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["membership"]
        choice.queryset = memberships
        choice.label_from_instance = lambda held: f"{held.department}, {held.get_role_display().lower()}"
