"""A meter that speaks badly, and what is read from it: `python -m tests.meter_faults [--tries N] [--seed N]`.

It answers SCPI over TCP, with a true value that moves at every measurement, and faults on demand. Like a meter behind a
serial line, whatever it has not sent yet goes to the one connected next, in order. Half the tries meet a fault drawn
by lot. Counted are readings that are not what the meter measured for that very question: there must be none.
"""

import argparse
import contextlib
import random
import socket
import threading
import time
from collections import Counter, deque
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime

from fleetbench.records.bench.reads import EquipmentRecord
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.bench.meters import Meter

TODAY = date(2026, 12, 7)
IDN = "Bench meter,BM-1,0042,1.0"
FAULTS = (
    "none", "late", "very late", "garbage", "bytes", "overload", "not a number", "hang up", "half and hang up",
    "half a line", "cut", "other unit", "twice", "two readings", "previous", "other instrument", "error", "silence",
    "extra line before", "flood", "out of range", "stray token", "empty",
)  # fmt: skip


class BadMeter:
    """The server; `fault` names what goes wrong at the next measurement, once. true: what each measurement showed."""

    def __init__(self, figures: Callable[[], float], late_s: float = 0.3) -> None:
        self.figures, self.late_s = figures, late_s
        self.fault, self._cut = "none", random.Random(3)
        self.true: list[float] = []
        self.pending: deque[tuple[float, bytes]] = deque()
        self.ese, self.idn, self.error = 0, IDN, '0,"No error"'
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.settimeout(0.05)
        self.port = self._server.getsockname()[1]
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    @property
    def address(self) -> str:
        return f"TCPIP::127.0.0.1::{self.port}::SOCKET"

    def close(self) -> None:
        self._stop.set()
        self._thread.join(5)
        self._server.close()

    def _serve(self) -> None:
        while not self._stop.is_set():
            try:
                client, _ = self._server.accept()
            except TimeoutError:
                continue
            with client, contextlib.suppress(OSError):
                self._talk(client)

    def _talk(self, client: socket.socket) -> None:
        client.settimeout(0.005)
        heard = b""
        while not self._stop.is_set():
            while self.pending and self.pending[0][0] <= time.monotonic():
                client.sendall(self.pending.popleft()[1])
            try:
                got = client.recv(4096)
                if not got:
                    return
                heard += got
            except TimeoutError:
                continue
            while b"\n" in heard:
                command, _, heard = heard.partition(b"\n")
                if not self._obey(client, command.decode("ascii").strip()):
                    return

    def _say(self, text: str | bytes, after: float = 0.0) -> None:
        data = text if isinstance(text, bytes) else text.encode("latin-1") + b"\n"
        before = self.pending[-1][0] if self.pending else 0.0
        self.pending.append((max(before, time.monotonic() + after), data))

    def _obey(self, client: socket.socket, command: str) -> bool:
        if command == "*IDN?":
            self._say(self.idn)
        elif command.startswith("*ESE "):
            self.ese = int(command[5:])
        elif command == "*ESE?":
            self._say(str(self.ese))
        elif command == "*CLS":
            self.error = '0,"No error"'
        elif command == "SYST:ERR?":
            self._say(self.error)
        elif command == "MEAS:VOLT:DC?":
            fault, self.fault = self.fault, "none"
            return self._measure(client, fault)
        return True

    def _measure(self, client: socket.socket, fault: str) -> bool:  # noqa: C901, PLR0912 - one line a fault
        value = self.figures()
        answer = f"{value:+.6E}"
        previous = f"{self.true[-1]:+.6E}" if self.true else answer
        self.true.append(value)
        match fault:
            case "late":
                self._say(answer, self.late_s)
            case "very late":
                self._say(answer, 3 * self.late_s)
            case "garbage":
                self._say(answer[:4] + "?#" + answer[6:])
            case "bytes":
                self._say(b"\xff\xfe\x00" + answer.encode() + b"\n")
            case "overload":
                self._say("+9.90000000E+37")
            case "not a number":
                self._say("9.91E37")
            case "hang up":
                return False
            case "half and hang up":
                client.sendall(answer[:5].encode())
                return False
            case "half a line":
                self._say(answer[:6].encode())
            case "cut":
                self._say(answer[: self._cut.randrange(1, len(answer))])
            case "other unit":
                self._say(f"{answer} MBAR")
            case "twice":
                self._say(answer)
                self._say(answer)
            case "two readings":
                self._say(f"{answer},{previous}")
            case "previous":
                self._say(previous)
                self._say(answer)
            case "other instrument":
                self._say(answer, self.late_s)
                self.idn = "Another,XX-9,7,2.0"
            case "error":
                self._say(answer)
                self.error = '-222,"Data out of range"'
            case "silence":
                pass
            case "extra line before":
                self._say("READY")
                self._say(answer)
            case "flood":
                self._say(b"1" * 5000)
            case "out of range":
                self._say("+1.043200E+00")
            case "stray token":
                self._say(str(self.ese))
                self._say(answer)
            case "empty":
                self._say("")
            case _:
                self._say(answer)
        return True


@contextlib.contextmanager
def bad_meter(figures: Callable[[], float], late_s: float = 0.3) -> Iterator[BadMeter]:
    """The server while it is needed."""
    made = BadMeter(figures, late_s)
    try:
        yield made
    finally:
        made.close()


def tool(address: str, **other: object) -> EquipmentRecord:
    """A bench meter as it stands in the register: mV, answers in V, 0 to 200 mV."""
    stated: dict[str, object] = {
        "equipment_id": 7, "kind": "bench meter", "name": "Bench meter", "serial": "0042", "uncertainty": 0.01,
        "unit": "mV", "digit": 0.01, "last_good_day": date(2027, 1, 31), "address": address, "query": "MEAS:VOLT:DC?",
        "answer_unit": "V", "range_low": -1.0, "range_high": 200.0, "idn": IDN,
    }  # fmt: skip
    return EquipmentRecord(**{**stated, **other})  # type: ignore[arg-type]


def run(tries: int, seed: int, timeout_s: float = 0.15) -> Counter[str]:
    """How many readings were taken right, refused, wrong, and refused without a fault, under the name of each."""
    lot, told = random.Random(seed), Counter[str]()
    with bad_meter(lambda: lot.randrange(100, 15_000) * 1e-5, late_s=2 * timeout_s) as server:
        meter = Meter(tool(server.address), lambda: datetime(2026, 12, 7, tzinfo=UTC), timeout_s=timeout_s)
        for _ in range(tries):
            server.idn = IDN
            fault = lot.choice(FAULTS) if lot.random() < 0.5 else "none"
            server.fault, before = fault, len(server.true)
            try:
                value = meter.read("mV", TODAY)
            except Refused:
                told[f"refused: {fault}"] += 1
                continue
            measured = server.true[before:]
            right = len(measured) == 1 and abs(float(value) - measured[0] * 1000) < 1e-6
            told["right" if right else f"WRONG: {fault}"] += 1
        meter.close()
    return told


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("--tries", type=int, default=1000)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    for line, number in sorted(run(given.tries, given.seed).items()):
        print(f"{number:6} {line}")
