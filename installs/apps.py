from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class InstallsConfig(AppConfig):
    name = "installs"
    verbose_name = _("Installs")
