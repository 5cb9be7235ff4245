"""The extension of Jupyter's server: websockets that do not wait, and the file that switches it on."""

from __future__ import annotations

import importlib
import json
import tomllib
from pathlib import Path
from types import SimpleNamespace

from linkage.widgets import nodelay

ROOT = Path(__file__).parents[1]


class Handler:
    """A websocket that remembers whether it waits."""

    waits = True

    def set_nodelay(self, value: bool) -> None:
        self.waits = not value


class Connection:
    """A kernel's connection as a server might be set up with."""

    def __init__(self, handler: Handler) -> None:
        self.websocket_handler = handler

    def connect(self) -> tuple[str, bool]:
        return "connected", self.websocket_handler.waits


def test_a_kernel_s_connection_sends_at_once_and_stays_what_it_was() -> None:
    settings = {"kernel_websocket_connection_class": Connection, "other": 1}
    nodelay._load_jupyter_server_extension(SimpleNamespace(web_app=SimpleNamespace(settings=settings)))
    handler = Handler()
    made = settings["kernel_websocket_connection_class"](handler)  # type: ignore[operator]
    assert isinstance(made, Connection)
    assert made.connect() == ("connected", False)
    assert settings["other"] == 1


def test_an_installed_package_switches_it_on() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    shared = told["tool"]["hatch"]["build"]["targets"]["wheel"]["shared-data"]
    (source,) = [path for path, to in shared.items() if to.startswith("etc/jupyter/jupyter_server_config.d/")]
    asked = json.loads((ROOT / source).read_text(encoding="utf-8"))["ServerApp"]["jpserver_extensions"]
    assert asked == {"linkage.widgets.nodelay": True}
    points = importlib.import_module("linkage.widgets.nodelay")._jupyter_server_extension_points()
    assert points == [{"module": "linkage.widgets.nodelay"}]
