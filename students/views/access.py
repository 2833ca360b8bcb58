from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse


class SignIn(auth.LoginView):
    pass


@login_not_required
def sign_out(request):
    return HttpResponse("not built yet")


@login_not_required
def open_link(request, token):
    return HttpResponse("not built yet")


class ChangePassword(auth.PasswordChangeView):
    pass


class ForgottenPassword(auth.PasswordResetView):
    pass


class ForgottenPasswordSent(auth.PasswordResetDoneView):
    pass


class NewPassword(auth.PasswordResetConfirmView):
    pass
