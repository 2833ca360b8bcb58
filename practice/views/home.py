"""The bare address: it leads everybody to their own first page."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from students.links import session_links
from students.models import Guardian
from students.viewer import Role


@login_not_required
def home(request: HttpRequest) -> HttpResponse:
    """A signed-in teacher goes to Today; whoever opened a personal link last, to its page; others sign in.

    The page that is led to checks the link again, so nothing is decided here.
    """
    viewer = request.viewer
    if viewer is not None and viewer.teaches:
        return redirect("practice:today")
    if viewer is not None and viewer.student is not None:
        return redirect("practice:s-page", student=viewer.student.code)
    for link in reversed(session_links(request.session)):
        if link.role == Role.STUDENT:
            return redirect("practice:s-page", student=link.code)
        guardian = Guardian.objects.filter(code=link.code).first()
        child = guardian and guardian.students.current().first()
        if child:
            return redirect("practice:f-week", student=child.code)
    if viewer is not None and viewer.guardian is not None:
        child = viewer.guardian.students.current().first()
        if child:
            return redirect("practice:f-week", student=child.code)
    return redirect("students:sign-in")
