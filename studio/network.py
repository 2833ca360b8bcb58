"""Where a request comes from, for counting wrong sign-ins and what may be asked for only so often."""

import ipaddress

from django.conf import settings
from django.http import HttpRequest

# What one subscriber gets of IPv6 at the least, with 2**64 addresses to change between (from memory: RFC 6177).
SUBSCRIBER = 64


def client_address(request: HttpRequest) -> str:
    """The address that counts for the client: the connection's own, or behind our one proxy the last that it appended;
    of IPv6 the first of its /64.

    What stands earlier in X-Forwarded-For was written by the client and can be anything.
    """
    if settings.BEHIND_PROXY:
        last = request.META.get("HTTP_X_FORWARDED_FOR", "").rsplit(",", 1)[-1].strip()
        try:
            return counted(last)
        except ValueError:
            pass  # a proxy that appends nothing: every client is the proxy
    own = str(request.META.get("REMOTE_ADDR", ""))
    try:
        return counted(own)
    except ValueError:
        return own


def counted(address: str) -> str:
    """The address under which tries are counted: an IPv4 address itself, also one written as IPv6; of IPv6 the first
    address of its /64. Raises ValueError for what is no address.

    >>> counted("2001:db8:0:1:2:3:4:5"), counted("::ffff:192.0.2.1")
    ('2001:db8:0:1::', '192.0.2.1')
    """
    read = ipaddress.ip_address(address)
    if read.version == 4:
        return str(read)
    if read.ipv4_mapped is not None:
        return str(read.ipv4_mapped)
    return str(ipaddress.ip_network((int(read), SUBSCRIBER), strict=False).network_address)
