"""A terminal for tests: the program at one end of a pseudo-terminal, a test at the other."""

import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Mapping

#: Seconds until a test gives up on what it waits for.
PATIENCE = 60
_STEERING = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\x1b[=>]|\r")


def _begin() -> None:
    """Take the terminal, and hear Ctrl-C even where tests were begun by what ignores it."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    signal.signal(signal.SIGINT, signal.default_int_handler)


class Terminal:
    """One run of the program on a terminal of its own, `columns` wide and `rows` high."""

    def __init__(
        self, *words: str, columns: int = 60, rows: int = 40, env: Mapping[str, str]
    ) -> None:
        self._end, inner = pty.openpty()
        fcntl.ioctl(inner, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self._process = subprocess.Popen(
            [sys.executable, "-m", "cogtally", *words],
            stdin=inner,
            stdout=inner,
            stderr=inner,
            env={**os.environ, "TERM": "dumb", **env},
            start_new_session=True,
            preexec_fn=_begin,
        )
        self._inner = inner
        self._read = ""

    @property
    def text(self) -> str:
        """All that was shown so far, without what only steers a terminal."""
        return _STEERING.sub("", self._read)

    def wait_for(self, text: str, times: int = 1) -> None:
        """Read until `text` was shown so many times, wherever its lines are broken."""
        until = time.monotonic() + PATIENCE
        while self._shown(text) < times:
            assert time.monotonic() < until, f"{text!r} was not shown: {self.text}"
            if not self._read_on():
                break
        assert self._shown(text) >= times, f"{text!r} was not shown: {self.text}"

    def type(self, text: str) -> None:
        """Type a line."""
        self.press(f"{text}\n")

    def press(self, keys: str) -> None:
        """Press keys, `\\x04` for Ctrl-D."""
        os.write(self._end, keys.encode())

    def interrupt(self, said: str) -> None:
        """Press Ctrl-C until `said` is shown.

        One that comes between the prompt and the wait for a key is only heard with the next key.
        """
        until = time.monotonic() + PATIENCE
        while not self._shown(said):
            assert time.monotonic() < until, f"{said!r} was not shown: {self.text}"
            self.press("\x03")
            heard = time.monotonic() + 1
            while time.monotonic() < heard and not self._shown(said) and self._read_on():
                pass

    def kill(self) -> None:
        """End the program as a power cut would."""
        os.kill(self._process.pid, signal.SIGKILL)
        self._process.wait(PATIENCE)

    def hang_up(self) -> None:
        """Close the terminal under the program."""
        os.close(self._inner)
        os.close(self._end)
        self._end = self._inner = -1
        self._process.wait(PATIENCE)

    def close(self) -> int:
        """Wait for the end of the program; its exit code."""
        until = time.monotonic() + PATIENCE
        while self._process.poll() is None and time.monotonic() < until:
            self._read_on()
        while self._read_on():
            pass
        code = self._process.wait(1)
        os.close(self._inner)
        os.close(self._end)
        self._end = self._inner = -1
        return code

    @property
    def echoes(self) -> bool:
        """Whether the terminal shows what is typed, as it has to after a program ended."""
        return bool(termios.tcgetattr(self._inner)[3] & termios.ECHO)

    def _shown(self, text: str) -> int:
        return f"{' '.join(self.text.split())} ".count(text)

    def _read_on(self) -> bool:
        ready, _, _ = select.select([self._end], [], [], 0.1)
        if not ready:
            return self._process.poll() is None
        try:
            data = os.read(self._end, 65536)
        except OSError:
            return False
        self._read += data.decode("utf-8", "replace")
        return bool(data)
