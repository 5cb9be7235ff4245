"""An extension of Jupyter's server: what a kernel says goes to the browser at once.

On one machine a short packet waits until the one before it is acknowledged (Nagle's algorithm), and the
browser's side puts that off by 40 ms or more. The bench's answer always follows a short packet, "the
kernel is busy": that wait was longer than all the rest of its way from the hand to the screen.

An installed package switches it on (``etc/jupyter/jupyter_server_config.d``); nothing but the speed
hangs on it. It alters no message and leaves whatever connection the server was set up with in place.

References
----------
R. Braden (ed.), RFC 1122, "Requirements for Internet Hosts", sections 4.2.3.2 (when to acknowledge) and
4.2.3.4 (when to send); from memory.
"""

from __future__ import annotations

from typing import Any


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    return [{"module": "linkage.widgets.nodelay"}]


def _load_jupyter_server_extension(app: Any) -> None:
    """Let the kernels' websockets of a running server send without waiting."""
    settings = app.web_app.settings
    settings["kernel_websocket_connection_class"] = prompt(settings["kernel_websocket_connection_class"])


def prompt(given: type[Any]) -> type[Any]:
    """A kernel's connection like the given one, that sends every packet at once."""

    def connect(self: Any) -> Any:
        self.websocket_handler.set_nodelay(True)
        return given.connect(self)

    return type("PromptConnection", (given,), {"connect": connect, "__doc__": prompt.__doc__})
