"""Who is let in, under which name, and with which headers pages leave."""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from dataclasses import dataclass
from typing import Any

import tornado.web
from jupyter_server.auth import IdentityProvider, User

from scenariokit.language import best_language, language_as, tr
from scenariokit.serve.addresses import is_own_host, own_names
from scenariokit.serve.plain_pages import plain_page

COOKIE_DAYS = 2
SHORTEST_TOKEN = 8
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "SAMEORIGIN",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


@dataclass(frozen=True)
class Admission:
    """What a server asks of those who come.

    Parameters
    ----------
    token : str
        The word in the link; empty where everybody at this computer may come.
    port : int
        Browsers keep one set of cookies for all ports of a host; the name of
        ours carries the port.
    names : frozenset of str
        Names under which the server may be asked.
    """

    token: str
    port: int
    names: frozenset[str]

    @classmethod
    def at(cls, host: str, port: int, token: str) -> Admission:
        """Return the admission of a server that listens there."""
        return cls(token, port, own_names(host))

    @property
    def cookie_name(self) -> str:
        """Name of the cookie."""
        return f"scenariokit-{self.port}"

    @property
    def cookie_secret(self) -> bytes:
        """What cookies are signed with: of the token, so that they outlive a new start with it."""
        if not self.token:
            return secrets.token_bytes(32)
        return hashlib.sha256(b"scenariokit cookie " + self.token.encode()).digest()

    def is_token(self, given: str) -> bool:
        """Return whether a token is the right one."""
        return bool(self.token) and hmac.compare_digest(given.encode(), self.token.encode())


class RoomIdentity(IdentityProvider):
    """Tells the handlers of the kernel's channels who asks."""

    def get_user(self, handler: tornado.web.RequestHandler) -> User | None:
        """Return the person by the cookie; nobody without one."""
        person = person_of(handler)
        return User(username=person) if person else None


def person_of(handler: tornado.web.RequestHandler) -> str:
    """Return the name that a browser was given, or an empty text."""
    admission: Admission = handler.settings["admission"]
    value = handler.get_signed_cookie(admission.cookie_name, max_age_days=COOKIE_DAYS)
    return value.decode("ascii", "replace") if value else ""


def content_policy(host: str) -> str:
    """Return what a page may load: nothing from any other host."""
    return "; ".join(
        (
            "default-src 'self'",
            # Widgets' modules come as blobs; charts compile their expressions.
            "script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:",
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "font-src 'self' data:",
            f"connect-src 'self' ws://{host} wss://{host} data: blob:",
            "worker-src 'self' blob:",
            "object-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'self'",
        )
    )


def is_host_shaped(header: str) -> bool:
    """Return whether a Host header has nothing in it that could end a policy or a header."""
    return bool(header) and all(sign.isalnum() or sign in ".-:[]_" for sign in header)


class Refused(tornado.web.HTTPError):
    """Somebody is turned away, with a page that says why."""


class Guarded(tornado.web.RequestHandler):
    """A handler that answers only under its own names and only to those let in."""

    admits_without_cookie = False

    @property
    def admission(self) -> Admission:
        """What is asked of those who come."""
        admission: Admission = self.settings["admission"]
        return admission

    def set_default_headers(self) -> None:
        """Add the headers that keep a page to itself."""
        for name, value in HEADERS.items():
            self.set_header(name, value)
        self.clear_header("Server")
        host = self.request.headers.get("Host", "")
        self.set_header(
            "Content-Security-Policy", content_policy(host if is_host_shaped(host) else "localhost")
        )

    def check_host_and_origin(self) -> None:
        """Refuse a foreign name, and what a page of another site sends."""
        host = self.request.headers.get("Host", "")
        if not is_host_shaped(host) or not is_own_host(host, self.admission.names):
            raise Refused(403, "host")
        if not is_same_origin(self.request.headers.get("Origin"), host):
            raise Refused(403, "origin")

    def prepare(self) -> None:
        """Let in or refuse."""
        self.check_host_and_origin()
        if self.admission.token and not self.admits_without_cookie and not person_of(self):
            raise Refused(403, "token")

    def check_xsrf_cookie(self) -> None:
        """Do nothing: the cookie does not travel with what other sites send, and Origin is checked."""

    @property
    def language(self) -> str:
        """Language that the page asks for: its address, else the browser, else the server."""
        asked = self.request.query_arguments.get("language", [b""])[-1].decode("ascii", "replace")
        accepted = self.request.headers.get("Accept-Language", "")
        return page_language(asked, accepted, str(self.settings["language"]))

    def write_error(self, status_code: int, **kwargs: Any) -> None:
        """Answer with a plain page."""
        error = kwargs.get("exc_info", (None, None, None))[1]
        why = error.log_message if isinstance(error, Refused) else ""
        with language_as(self.language):
            title, text = _words_of_error(status_code, why or "")
            self.set_header("Content-Type", "text/html; charset=utf-8")
            self.set_header("Cache-Control", "no-store")
            self.finish(plain_page(title, [text]))


def page_language(asked: str, accepted: str, usual: str) -> str:
    """Return the code of the language of a page.

    Parameters
    ----------
    asked : str
        What its address asks for.
    accepted : str
        What the browser accepts.
    usual : str
        What the server speaks otherwise.

    Examples
    --------
    >>> page_language("", "de, es;q=0.5", "en"), page_language("fr", "es", "en")
    ('es', 'fr')
    >>> page_language("<script>", "de", "pt")
    'pt'
    """
    for wish in (asked, accepted):
        found = best_language(wish) if wish else ""
        # Where nothing fits, English comes back; it counts if it was wished for.
        if found and (not found.startswith("en") or re.search(r"(^|[,\s])en\b", wish)):
            return found
    return usual


def is_same_origin(origin: str | None, host: str) -> bool:
    """Return whether an Origin header, if there is one, is this server's own."""
    if origin is None:
        return True
    scheme, _, rest = origin.partition("://")
    return scheme in ("http", "https") and rest.lower() == host.lower()


def _words_of_error(status: int, why: str) -> tuple[str, str]:
    if why == "token":
        return tr("This room has a link of its own"), tr(
            "Scan the code on the wall again, or ask the person who runs the room for the whole link."
        )
    if why == "host":
        return tr("Wrong address"), tr(
            "This computer answers under its own name and its number only. Open the address that you were given."
        )
    if status == 404:
        return tr("There is nothing here"), tr("Open the address that you were given once more.")
    if status in (400, 403, 405):
        return tr("That is not possible here"), tr(
            "Open the address that you were given once more."
        )
    return tr("Something went wrong on the server"), tr("Load this page again in a moment.")


class Nothing(Guarded):
    """Answers for every address that is not ours."""

    def prepare(self) -> None:
        """Refuse."""
        super().prepare()
        raise tornado.web.HTTPError(404)
