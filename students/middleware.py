"""Closed by default: a view is the teachers' only unless it says otherwise, and each request knows who asks."""

import zoneinfo
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.utils.cache import add_never_cache_headers
from django.utils.translation import gettext as _

from students.links import session_links
from students.viewer import TEACHERS, Locked, Viewer, viewer_of_links, viewer_of_user


def wants_json(request: HttpRequest) -> bool:
    """A script's call: it is answered with JSON, never with a redirect to a page."""
    return request.content_type == "application/json" or request.headers.get("Accept", "").startswith(
        "application/json"
    )


def is_own_address(viewer: Viewer, view_kwargs: dict[str, Any]) -> bool:
    """A student who signs in with a password has one address; with another's code it is nobody's."""
    return viewer.student is None or view_kwargs.get("student", viewer.student.code) == viewer.student.code


def leave_session_cookie(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Leaves the browser's session cookie alone when the session that a request named is unknown.

    Opening a link gives the phone a new session. A request that was on its way meanwhile (the queue's, the service
    worker's) still names the old one, and Django's answer to it would take the new cookie away. Signing out empties
    the session itself and still takes the cookie.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        session = getattr(request, "session", None)
        if session is not None and session.is_empty() and not session.modified:
            response.cookies.pop(settings.SESSION_COOKIE_NAME, None)
        return response

    return middleware


class ViewerMiddleware(LoginRequiredMiddleware):
    """Sets `request.viewer` and lets only the roles through that a view is open to.

    The wrong role gets 404 (the page may not exist for them); nobody at all gets the sign-in page, on a
    family's address 404 with words that say how to get in, and a JSON call 401. Whose link is bound to a PIN that
    was not given in this browser gets 401: the page that asks for it, or JSON.
    """

    def process_view(
        self, request: HttpRequest, view_func: Callable[..., Any], view_args: Any, view_kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        public = not getattr(view_func, "login_required", True)
        roles = getattr(view_func, "open_to", TEACHERS)
        now = timezone.now()
        viewer: Viewer | None = None
        locked: Locked | None = None
        if not public and not roles <= TEACHERS:
            found = viewer_of_links(request.session, view_kwargs.get("student"), roles, now)
            if isinstance(found, Locked):
                locked = found
            else:
                viewer = found
        if viewer is None and request.user.is_authenticated:
            viewer = viewer_of_user(request.user)
        request.viewer = viewer
        if viewer is not None:
            timezone.activate(zoneinfo.ZoneInfo(viewer.studio.zone))
        else:
            timezone.deactivate()
        if public or (viewer is not None and viewer.role in roles and is_own_address(viewer, view_kwargs)):
            return None
        if locked is not None:
            # imported when first needed: forms know the viewer, and the viewer is found here
            from students.views.pins import ask

            return ask(request, locked, now)
        if viewer is None and wants_json(request):
            return JsonResponse({"error": _("Open your personal link again, or sign in.")}, status=401)
        # a family that strays to a teachers' page is known by its links: for it the page does not exist
        if viewer is None and roles & TEACHERS and not session_links(request.session):
            return self.handle_no_permission(request, view_func)
        if viewer is None:
            request.needs_link = True
        raise Http404

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        """A person's page is kept by no cache: after signing out, Back must not show a family's data."""
        if getattr(request, "viewer", None) is not None and not response.has_header("Cache-Control"):
            add_never_cache_headers(response)
        return response
