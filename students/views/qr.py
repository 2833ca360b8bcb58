"""A student's personal link as a QR code: shown to the phone's camera in the lesson, or printed and taken home."""

import segno
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from students.models import Student
from students.views.people import READ, link_address, of_student


def qr_svg(address: str, title: str) -> SafeString:
    """The QR code of an address as inline SVG without styles, dark on nothing: the page lays white under it.

    Level M mends about 15 % of the symbol, enough for a creased sheet (ISO/IEC 18004, from memory). segno escapes the
    title.
    """
    code = segno.make(address, error="m", micro=False)
    return mark_safe(code.svg_inline(omitsize=True, svgclass="qr large", lineclass=None, title=title))


@never_cache
@of_student(*READ)
def student_link(request: HttpRequest, student: Student) -> HttpResponse:
    address = link_address(request, student)
    title = _("QR code of the personal link of %(name)s") % {"name": student.first_name}
    context = {
        "nav": "roster",
        "student": student,
        "address": address,
        "code": qr_svg(address, title),
        "works": student.link_works(student.link_version, student.studio.today(timezone.now())),
        "archived": student.status == Student.Status.ARCHIVED,
    }
    return render(request, "students/link_qr.html", context)
