"""Addresses. Teachers' pages have plain names, /s/ is one student's, /f/ one family's."""

from django.urls import include, path

urlpatterns = [
    path("", include("students.urls")),
    path("", include("practice.urls")),
]

handler403 = "students.errors.forbidden"
handler404 = "students.errors.not_found"
handler500 = "students.errors.server_error"
