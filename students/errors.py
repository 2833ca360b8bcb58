"""Pages for what went wrong: each says what to do next, JSON callers get JSON."""

from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template import loader
from django.utils.translation import gettext as _

from students.middleware import wants_json


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    if wants_json(request):
        return JsonResponse({"error": _("You may read this, not change it.")}, status=403)
    return render(request, "403.html", status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    if wants_json(request):
        return JsonResponse({"error": _("There is nothing here.")}, status=404)
    return render(request, "404.html", {"needs_link": getattr(request, "needs_link", False)}, status=404)


def server_error(request: HttpRequest) -> HttpResponse:
    """Leans on nothing that may be broken: no context processors, no viewer, no database."""
    if wants_json(request):
        return JsonResponse(
            {"error": _("Something broke here. Nothing was stored; please send it again.")}, status=500
        )
    context: dict[str, Any] = {}
    return HttpResponse(loader.render_to_string("500.html", context), status=500)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form that was open for too long or came from elsewhere: JSON callers are told in JSON."""
    if wants_json(request):
        return JsonResponse({"error": _("Reload the page and send it again.")}, status=403)
    return render(request, "403_csrf.html", status=403)
