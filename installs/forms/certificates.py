"""Taking a certificate back."""

from datetime import datetime

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from installs.certificates import withdraw
from installs.models import Certificate

__all__ = ["WithdrawForm"]


class WithdrawForm(forms.Form):
    why = forms.CharField(
        label=_("Why it is withdrawn"),
        help_text=_("Your name and this reason are kept with it. It cannot be undone."),
        max_length=300,
        widget=forms.Textarea({"rows": 2}),
    )

    def save(self, certificate: Certificate, person, at: datetime) -> bool:
        """Withdraw it, or say beside the field why it cannot be."""
        if self.is_valid():
            try:
                withdraw(certificate, person, self.cleaned_data["why"], at)
            except ValidationError as refused:
                self.add_error("why", refused)
        return self.is_valid()
