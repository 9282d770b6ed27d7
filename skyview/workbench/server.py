"""The server: a free port, an address, a key where it is shared, and the browser."""

from __future__ import annotations

import contextlib
import io
import signal
import socket
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

import segno
import uvicorn

from skyview.errors import InputError, StorageError
from skyview.workbench.app import guarded
from skyview.workbench.bench import Bench
from skyview.workbench.gate import Door
from skyview.workbench.jobs import prepare
from skyview.workbench.keys import Keys
from skyview.workbench.patience import Impatient

LOOPBACK = "127.0.0.1"
FIRST_PORT, LAST_PORT = 8765, 8865
MOST_CONNECTIONS = 200
MOST_WAITING = 128
STOP_WITHIN_S = 3


@dataclass(frozen=True)
class Listening:
    """A socket that is bound, and the names under which it is reached."""

    socket: socket.socket
    port: int
    addresses: tuple[str, ...]
    """Numbers of this computer; the one to tell others is the first."""

    @property
    def hosts(self) -> frozenset[str]:
        """What a browser may write into Host."""
        names = {LOOPBACK, "localhost", "[::1]", *self.addresses}
        return frozenset(f"{name}:{self.port}" for name in names)


def listen(port: int | None, share: bool) -> Listening:
    """Bind the port, or the first free one; every network of this computer where it is shared.

    InputError for a port that is taken; StorageError where none is free.
    """
    where = "0.0.0.0" if share else LOOPBACK
    for candidate in [port] if port is not None else range(FIRST_PORT, LAST_PORT):
        # Named as TCP, since asyncio sends small answers at once only on such sockets.
        bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            bound.bind((where, candidate))
            # At once: until somebody listens, another server may bind the same port.
            bound.listen(MOST_WAITING)
        except (OSError, OverflowError):
            bound.close()
            continue
        addresses = own_addresses() if share else (LOOPBACK,)
        return Listening(bound, bound.getsockname()[1], addresses)
    if port is not None:
        raise InputError(f"port {port} is taken", None, "--port", "choose another, or leave it out")
    raise StorageError("no port is free on this computer", mend="close other programs")


def own_addresses() -> tuple[str, ...]:
    """This computer's numbers in its networks, the one towards other networks first."""
    found = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # Nothing is sent: this only asks which way a packet would leave.
        probe.connect(("192.0.2.1", 9))
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [
            str(info[4][0])
            for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
        ]
    return tuple(dict.fromkeys(a for a in found if not a.startswith("127."))) or (LOOPBACK,)


def serve(
    folder: Path,
    listening: Listening,
    *,
    share: bool,
    open_browser: bool,
    say: Callable[[str], None],
) -> None:
    """Serve the survey in ``folder`` until it is ended; raises KeyboardInterrupt at Ctrl-C.

    ``say`` takes lines for the terminal: addresses, codes.
    """
    keys = Keys() if share else None
    host = f"{listening.addresses[0]}:{listening.port}"

    def invite() -> tuple[str, str]:
        assert keys is not None
        address = f"http://{host}/?key={keys.new_key()}"
        return address, qr_svg(address)

    def invite_on_terminal() -> None:
        address, _ = invite()
        say(f"on the phone, for one device, within 15 minutes: {address}\n{qr_text(address)}")

    def entered() -> None:
        say("a device has been let in; for another one:")
        invite_on_terminal()

    prepare()
    bench = Bench(folder, invite if share else None)
    door = Door(listening.hosts, keys, on_entry=entered if share else None)
    config = uvicorn.Config(
        guarded(bench, door),
        http=Impatient,
        log_level="critical",
        access_log=False,
        limit_concurrency=MOST_CONNECTIONS,
        timeout_graceful_shutdown=STOP_WITHIN_S,
        server_header=False,
        date_header=False,
        ws="none",
        proxy_headers=False,
    )
    home = f"http://{LOOPBACK}:{listening.port}/"
    if keys is not None:
        home += f"?key={keys.new_key()}"
    say(f"open {home} (stop with Ctrl-C)")
    if share:
        invite_on_terminal()
    server = _Server(config, bench)
    if open_browser:
        threading.Thread(target=_open_when_up, args=(server, home), daemon=True).start()
    server.run(sockets=[listening.socket])
    if server.interrupted:
        raise KeyboardInterrupt


class _Server(uvicorn.Server):
    """Ends the streams of events when it is to stop: they would hold it up."""

    def __init__(self, config: uvicorn.Config, bench: Bench) -> None:
        super().__init__(config)
        self._bench = bench
        self.interrupted = False

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        self.interrupted = self.interrupted or sig == signal.SIGINT
        super().handle_exit(sig, frame)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._bench.hub.close()
        await super().shutdown(sockets)


def _open_when_up(server: uvicorn.Server, address: str) -> None:
    waiting = threading.Event()
    for _ in range(100):
        if server.started:
            webbrowser.open(address)
            return
        waiting.wait(0.1)


def qr_text(text: str) -> str:
    """A QR code for a terminal."""
    out = io.StringIO()
    segno.make(text, error="l", micro=False).terminal(out=out, compact=True)
    return out.getvalue()


def qr_svg(text: str) -> str:
    """A QR code as SVG text, dark on light whatever the theme."""
    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", scale=4, dark="#1F1A15", light="#FCFAF4", xmldecl=False, nl=False
    )
    return out.getvalue().decode()
