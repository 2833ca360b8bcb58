"""What a browser says about a page beside showing it."""

from urllib.parse import urlsplit

from playwright.sync_api import ConsoleMessage, Page, Request, Response

# The browser reports every answer of 400 and more like this; tests assert the answer where they ask for it.
EXPECTED = "Failed to load resource: the server responded with a status of"


class Watch:
    """Collects in `wrong` what no page may do: errors on its console (where the browser tells what the page's
    policy stopped), scripts that break, requests to another host, answers of 500 and more."""

    def __init__(self, host: str) -> None:
        self.host = host
        self.wrong: list[str] = []

    def over(self, page: Page) -> None:
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.wrong.append(f"script broke on {page.url}: {error}"))
        page.on("request", self._request)
        page.on("response", self._response)

    def _console(self, message: ConsoleMessage) -> None:
        if message.type in {"error", "warning"} and not message.text.startswith(EXPECTED):
            self.wrong.append(f"console {message.type}: {message.text} ({message.location.get('url')})")

    def _request(self, request: Request) -> None:
        parts = urlsplit(request.url)
        if parts.scheme not in {"data", "blob", "about"} and parts.netloc != self.host:
            self.wrong.append(f"asked another host: {request.url}")

    def _response(self, response: Response) -> None:
        static = urlsplit(response.url).path.startswith("/static/")
        if response.status >= 500 or (static and response.status >= 400):
            self.wrong.append(f"{response.status} for {response.url}")
