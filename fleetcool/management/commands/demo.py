"""`manage.py demo`: build an invented shop with its records, then serve it."""

import os
import secrets
import socket
import time

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from fixtures.demo import AnotherShop, Demo, build
from reports.models import Cause

HOST = "127.0.0.1"


class Command(BaseCommand):
    help = (
        "Build the demo (an invented shop, its fleets and three years of records), screen it, write "
        "a workbook and a unit card, print the sign-ins and serve it on this machine."
    )

    def add_arguments(self, parser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="build, but do not serve")
        parser.add_argument("--port", type=int, default=8000, help="the port to serve on")

    def handle(self, *, no_serve: bool, port: int, **options) -> None:
        if not no_serve:
            _see_that_port_is_free(port)
            # What is printed leads to where it is served, unless somebody said where that is.
            if "FLEETCOOL_SITE_URL" not in os.environ:
                settings.SITE_URL = f"http://{HOST}:{port}"
        began = time.monotonic()

        def tell(step: str) -> None:
            self.stdout.write(f"{time.monotonic() - began:5.1f} s  {step} …")
            self.stdout.flush()

        try:
            tell(_("Preparing the database"))
            call_command("migrate", verbosity=0, interactive=False)
            password = "-".join(secrets.token_hex(2) for _part in range(3))
            demo = build(settings.VAR_DIR / "demo", password, tell)
            self.say(demo, password, f"http://{HOST}:{port}/")
            if not no_serve:
                self.stdout.write(_("Serving until Ctrl-C."))
                call_command("runserver", f"{HOST}:{port}", use_reloader=False)
        except AnotherShop as refused:
            raise CommandError(str(refused)) from None
        except KeyboardInterrupt:
            self.stdout.write(_("Stopped."))

    def say(self, demo: Demo, password: str, address: str) -> None:
        """Print what came into the records, what was found, the files and the sign-ins."""
        write = self.stdout.write
        write("")
        accounts = demo.accounts.values()
        write(
            _(
                "Record book: %(read)d rows read, %(new)d new, %(unchanged)d unchanged, "
                "%(changed)d changed, %(rejected)d rejected."
            )
            % {
                name: sum(getattr(account, name) for account in accounts)
                for name in ("read", "new", "unchanged", "changed", "rejected")
            }
        )
        write(
            _("Screened %(units)d units as of %(day)s; about %(false).1f findings may be false.")
            % {
                "units": demo.run.units_screened,
                "day": demo.run.as_of,
                "false": demo.run.expected_false,
            }
        )
        causes = list(demo.run.findings.values_list("cause", flat=True))
        for cause in Cause:
            if count := causes.count(cause):
                write(f"{count:6}  {cause.label}")
        write("")
        for label, path in (
            (_("Record book"), demo.book),
            (_("Fleet workbook"), demo.workbook),
            (_("Unit card"), demo.card),
        ):
            write(f"  {label:<16}{path}")
        write("")
        write(
            _("Sign in at %(address)s with the password %(password)s as")
            % {
                "address": address,
                "password": password,
            }
        )
        for person in demo.people:
            of = ", ".join(customer.name for customer in person.customers.all())
            write(f"  {person.username:<8}{person.get_role_display()}{of and f' ({of})'}")
        write("")


def _see_that_port_is_free(port: int) -> None:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except (OSError, OverflowError) as error:
            raise CommandError(
                _("Port %(port)s cannot be used (%(error)s); choose another with --port.")
                % {"port": port, "error": error}
            ) from None
