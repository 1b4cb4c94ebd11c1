"""Which roles may open a page. A page with no rule is a mistake that a test finds."""

from collections.abc import Callable
from functools import wraps

from django.core.exceptions import PermissionDenied

# Routes that need no sign-in, by URL name.
PUBLIC_ROUTES = (
    "login",
    "set_language",
    "calendar_feed",
    "certificate_public",
    "service_worker",
    "no_network",
)


def may(*roles: str) -> Callable:
    """Let only people of these roles in; others who are signed in get 403."""

    def wrap(view: Callable) -> Callable:
        @wraps(view)
        def guarded(request, *args, **kwargs):
            if request.user.role not in roles:
                raise PermissionDenied
            return view(request, *args, **kwargs)

        guarded.roles = roles
        return guarded

    return wrap


def wants_json(request) -> bool:
    """Whether a script asks, and not a person who would read a page."""
    return request.get_preferred_type(["text/html", "application/json"]) == "application/json"
