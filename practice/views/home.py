from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse


@login_not_required
def home(request, **kwargs):
    return HttpResponse("not built yet")
