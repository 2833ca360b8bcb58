"""Who a request comes from, for counting wrong sign-ins."""

import ipaddress

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str:
    """The address of the client: the connection's own, or behind our one proxy the last that it appended.

    What stands earlier in X-Forwarded-For was written by the client and can be anything.
    """
    if settings.BEHIND_PROXY:
        last = request.META.get("HTTP_X_FORWARDED_FOR", "").rsplit(",", 1)[-1].strip()
        try:
            return str(ipaddress.ip_address(last))
        except ValueError:
            pass  # a proxy that appends nothing: every client is the proxy
    return str(request.META.get("REMOTE_ADDR", ""))
