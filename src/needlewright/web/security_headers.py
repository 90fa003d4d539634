"""What every answer tells the browser not to do."""

from typing import Final

from starlette.datastructures import MutableHeaders

CONTENT_POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
"""Everything from this page itself, nothing inline, in no frame; `blob:` shows a photo just taken
before it is sent."""

ALWAYS: Final = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # "no-referrer" would also take the origin from the page's own forms
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}
"""There is no Strict-Transport-Security: with a certificate of one's own making a browser would
then refuse the page for good."""

CACHE: Final = "private, no-cache"


def put_headers(headers: MutableHeaders) -> None:
    """Put the headers of every answer; those a handler has set stay."""
    for name, value in ALWAYS.items():
        headers.setdefault(name, value)
    headers.setdefault("Cache-Control", CACHE)
