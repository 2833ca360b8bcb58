"""Signing in, people, consent and the studio's own page."""

from django.urls import path

from students.views import access, accounts, consents, people, pins, qr, studio

app_name = "students"

student = "students/<uuid:student>/"
guardian = student + "guardians/<uuid:guardian>/"

urlpatterns = [
    path("sign-in/", access.SignIn.as_view(), name="sign-in"),
    path("sign-out/", access.sign_out, name="sign-out"),
    path("open/<str:token>/", access.open_link, name="open-link"),
    path("password/", access.ChangePassword.as_view(), name="password"),
    path("password/forgotten/", access.ForgottenPassword.as_view(), name="password-forgotten"),
    path("password/forgotten/sent/", access.ForgottenPasswordSent.as_view(), name="password-sent"),
    path("password/new/<uidb64>/<token>/", access.NewPassword.as_view(), name="password-new"),
    path("students/add/", people.student_add, name="student-add"),
    path(student + "edit/", people.student_edit, name="student-edit"),
    path(student + "status/", people.student_status, name="student-status"),
    path(student + "people/", people.people, name="people"),
    path(student + "link/replace/", people.replace_link, name="link-replace"),
    path(student + "link/qr/", qr.student_link, name="link-qr"),
    path(student + "account/end/", accounts.end, name="account-end"),
    path(student + "pin/remove/", pins.pin_remove, name="pin-remove"),
    path(student + "guardians/add/", people.guardian_add, name="guardian-add"),
    path(guardian + "edit/", people.guardian_edit, name="guardian-edit"),
    path(guardian + "remove/", people.guardian_remove, name="guardian-remove"),
    path(guardian + "link/replace/", people.guardian_replace_link, name="guardian-link-replace"),
    path(guardian + "pin/remove/", pins.guardian_pin_remove, name="guardian-pin-remove"),
    path(student + "consent/", consents.record, name="consent-record"),
    path(student + "consent/withdraw/", consents.withdraw, name="consent-withdraw"),
    path(student + "consent/end-left/", consents.end_left, name="consent-end-left"),
    path("s/<uuid:student>/consent/", consents.own, name="s-consent"),
    path("f/<uuid:student>/consent/", consents.family, name="f-consent"),
    path("s/<uuid:student>/account/", accounts.own, name="s-account"),
    path("s/<uuid:student>/pin/", pins.student_pin, name="s-pin"),
    path("f/<uuid:student>/pin/", pins.guardian_pin, name="f-pin"),
    path("s/<uuid:student>/unlock/", pins.student_unlock, name="s-unlock"),
    path("f/<uuid:student>/unlock/", pins.guardian_unlock, name="f-unlock"),
    path("studio/", studio.settings_page, name="studio"),
    path("studio/teachers/add/", studio.teacher_add, name="teacher-add"),
    path("studio/teachers/<uuid:teacher>/edit/", studio.teacher_edit, name="teacher-edit"),
]
