"""Whose bookings can be had as a calendar feed, and under which address."""

from dataclasses import dataclass

from django.conf import settings
from django.urls import reverse

from fleetcool.models import Role
from installs.models import Bay, CalendarFeed, Technician

__all__ = ["feeds_of", "open_anew"]


@dataclass(frozen=True)
class Feed:
    """The feed of a technician or a bay; `address` is empty until it is first opened."""

    kind: str
    of: Technician | Bay
    address: str

    @property
    def key(self) -> str:
        return f"{self.kind}-{self.of.pk}"


def feeds_of(user) -> list[Feed]:
    """The feeds that a person may hand out: all for the office, a technician's own for them."""
    technicians = Technician.objects.visible_to(user).select_related("calendarfeed")
    bays = Bay.objects.visible_to(user).select_related("yard", "calendarfeed")
    if user.role == Role.TECHNICIAN:
        technicians, bays = technicians.filter(person=user), bays.none()
    return [
        *(Feed("technician", one, _address(one)) for one in technicians),
        *(Feed("bay", one, _address(one)) for one in bays),
    ]


def open_anew(feed: Feed) -> None:
    """Open a feed under an address that nobody has yet."""
    row, is_new = CalendarFeed.objects.get_or_create(**{feed.kind: feed.of})
    if not is_new:
        row.change_token()


def _address(of: Technician | Bay) -> str:
    row = getattr(of, "calendarfeed", None)
    return settings.SITE_URL + reverse("calendar_feed", args=[row.token]) if row else ""
