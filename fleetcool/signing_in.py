"""Who is not signed in is sent to sign in; a script that asks for JSON is told so instead."""

from urllib.parse import urlencode

from django.contrib.auth import REDIRECT_FIELD_NAME
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import JsonResponse
from django.shortcuts import resolve_url

from fleetcool.access import wants_json

__all__ = ["SignInMiddleware", "sign_in_first"]


class SignInMiddleware(LoginRequiredMiddleware):
    def handle_no_permission(self, request, view_func):
        if wants_json(request):
            return sign_in_first(request)
        return super().handle_no_permission(request, view_func)


def sign_in_first(request) -> JsonResponse:
    """Tell a script where to sign in, so that it can ask the same again."""
    back = urlencode({REDIRECT_FIELD_NAME: request.path})
    return JsonResponse({"sign_in": f"{resolve_url('login')}?{back}"}, status=401)
