from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class FleetcoolConfig(AppConfig):
    name = "fleetcool"
    verbose_name = _("Fleetcool")
