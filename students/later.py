"""Work that is done once the answer is on its way, so that the time to the answer tells nothing about it."""

import logging
from collections.abc import Callable
from typing import Any

from django.http import HttpResponseRedirect

logger = logging.getLogger(__name__)


class RedirectThen(HttpResponseRedirect):
    """A redirect; `work` runs when the server has sent it and closes it (PEP 3333). What goes wrong is logged by its
    kind alone."""

    def __init__(self, redirect_to: str, work: Callable[[], object], **kwargs: Any) -> None:
        super().__init__(redirect_to, **kwargs)
        self._work: Callable[[], object] | None = work

    def close(self) -> None:
        work, self._work = self._work, None
        try:
            if work is not None:
                work()
        except Exception as error:
            logger.error("work after an answer failed: %s", type(error).__name__)
        finally:
            super().close()
