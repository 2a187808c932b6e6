"""The server's end of a kernel's websocket, with nothing held back."""

from __future__ import annotations

from asyncio import Future

from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection


class PromptConnection(ZMQChannelsWebsocketConnection):
    """Sends every message at once.

    A kernel answers in several small messages. By default the second waits in the socket until the
    browser has acknowledged the first, which browsers put off for 40 ms: longer than the answer
    itself takes. Source: RFC 896 (small packets are held) and RFC 1122, 4.2.3.2 (delayed
    acknowledgement).
    """

    # As in the class below, which waits for nothing itself; its base only promises an awaitable.
    def connect(self) -> Future[None] | None:  # type: ignore[override]
        """Connect the page to its kernel."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()
