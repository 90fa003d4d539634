"""Who may ask what."""

from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from needlewright.web.house import House


class Guard:
    """Stands before everything."""

    def __init__(self, app: ASGIApp, house: House) -> None:
        self.app = app
        self.house = house

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request pass, with its session."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        name = "needlewright"
        session = self.house.sessions.find(HTTPConnection(scope).cookies.get(name, ""))
        fresh = session is None
        if session is None:
            session = self.house.sessions.open()
        scope.setdefault("state", {})["session"] = session

        async def send_on(message: Message) -> None:
            if message["type"] == "http.response.start" and fresh:
                MutableHeaders(scope=message).append(
                    "set-cookie", f"{name}={session.id}; Path=/; HttpOnly; SameSite=Strict"
                )
            await send(message)

        await self.app(scope, receive, send_on)
