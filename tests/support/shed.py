"""A signal that can be cut: a small relay between browser and studio. A service worker's requests go through
it as well, which a browser's own "offline" switch does not promise."""

from __future__ import annotations

import contextlib
import socket
import threading
from urllib.parse import urlsplit


class Relay:
    """``url`` leads to the studio while there is a signal. ``cut()`` breaks what is on its way, too."""

    def __init__(self, studio_url: str) -> None:
        self._studio = (urlsplit(studio_url).hostname, urlsplit(studio_url).port)
        self._signal = True
        self._open: set[socket.socket] = set()
        self._lock = threading.Lock()
        self._door = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self._door.getsockname()[1]}"
        threading.Thread(target=self._serve, daemon=True).start()

    def cut(self) -> None:
        with self._lock:
            self._signal = False
            going, self._open = self._open, set()
        for line in going:
            with contextlib.suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)
            line.close()

    def mend(self) -> None:
        self._signal = True

    def close(self) -> None:
        self.cut()
        self._door.close()

    def _serve(self) -> None:
        while True:
            try:
                phone, _ = self._door.accept()
            except OSError:
                return
            if not self._signal:
                phone.close()
                continue
            try:
                studio = socket.create_connection(self._studio)
            except OSError:
                phone.close()
                continue
            with self._lock:
                self._open |= {phone, studio}
            for here, there in ((phone, studio), (studio, phone)):
                threading.Thread(target=self._pass_on, args=(here, there), daemon=True).start()

    def _pass_on(self, here: socket.socket, there: socket.socket) -> None:
        try:
            while data := here.recv(65536):
                there.sendall(data)
        except OSError:
            pass
        finally:
            for line in (here, there):
                with contextlib.suppress(OSError):
                    line.shutdown(socket.SHUT_RDWR)
                line.close()
            with self._lock:
                self._open -= {here, there}
