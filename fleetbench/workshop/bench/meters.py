"""Reads bench meters that answer by themselves: SCPI over USB-TMC, TCP or a serial line, through PyVISA.

Every reading stands between two tokens. Before it a number drawn by lot is written into the meter's event enable
register (`*ESE n`), after it that register is read back: only where the meter answered exactly who it is, one reading,
an empty error queue and that number, in this order, is the reading taken. So an answer that comes late, twice, broken
or from another question is never one. After any fault the line is closed; a new one is only used once two tokens in a
row have come back, and all that came before is thrown away. *ESE, *IDN? and *CLS are mandatory (IEEE Std 488.2-1992,
10.12, 10.14 and 10.3; from memory).
"""

import random
import threading
import time
import warnings
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import date, datetime
from importlib.util import find_spec
from typing import Any, NamedTuple

from fleetbench.calc.bench.meter import LONGEST, Metered, MeterSource, error_of, identity_of, is_same, reading_of, shown
from fleetbench.calc.core.languages import say, strung
from fleetbench.records.bench.reads import EquipmentRecord, read_equipment
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.bench.equipment import factor_between
from fleetbench.workshop.core.workplace import Workplace

EXTRA_REMEDY = say("install fleetbench with its extra 'meters', then open it again")
EXTRA = strung("; ", (say("meters: PyVISA is not installed here"), EXTRA_REMEDY))
TIMEOUT_S = 3.0
"""So long one answer is waited for: a slow integrating meter takes a second; common practice, no published source."""
THROWN_AWAY = 50
"""Lines thrown away at most while a line is brought into step."""


class MeterFault(Refused):
    """A reading that was not taken: the meter, what it did, and the remedy in one sentence."""


class Told(NamedTuple):
    """What a meter says when it is asked for the first time: who it is, and one answer to its query where there is one.

    reading: the answer in words, or why it was none; empty without a query.
    """

    idn: str
    reading: str = ""


def is_installed() -> bool:
    """Whether meters can be read on this computer at all."""
    return find_spec("pyvisa") is not None


def visa_addresses(library: str = "") -> tuple[str, ...]:
    """VISA addresses that are found now; those of raw sockets are never found and have to be typed.

    Raises Refused where PyVISA is not installed.
    """
    manager = _manager(library)
    with warnings.catch_warnings():  # it warns of ways to find more, which are no business of a user's
        warnings.simplefilter("ignore")
        try:
            return tuple(manager.list_resources("?*"))
        except Exception:  # without a driver for USB it raises whatever that driver raises; nothing is found then
            return ()


def meters_of(workplace: Workplace) -> tuple[EquipmentRecord, ...]:
    """Every piece of the register that can be read by itself, in date or not."""
    with workplace.database.reading() as connection:
        return tuple(tool for tool in read_equipment(connection) if tool.address is not None)


class MeterLine:
    """An open line to one address, that takes one question at a time. library: as PyVISA names its libraries."""

    def __init__(self, address: str, library: str = "", timeout_s: float = TIMEOUT_S) -> None:
        self.address, self._timeout_s = address, timeout_s
        self._draw = random.SystemRandom()
        self._token = 0
        self._resource: Any = None
        manager = _manager(library)
        try:
            self._resource = manager.open_resource(
                address, open_timeout=int(timeout_s * 1000), timeout=int(timeout_s * 1000)
            )
            self._resource.write_termination = "\n"
            self._resource.read_termination = "\n"
            if not address.upper().startswith("ASRL") and not address.upper().endswith("SOCKET"):
                with suppress(Exception):  # not every library has a device clear, and the tokens are the proof
                    self._resource.clear()
            self.write("*CLS")
            self._come_into_step()
        except MeterFault:
            self.close()
            raise
        except Exception as fault:  # each way of connecting has errors of its own, one of them a bare Exception
            self.close()
            raise MeterFault(
                say("{address}: nobody answers; look at its power, cable and address", address=address)
            ) from fault

    def close(self) -> None:
        """Let go of the line; nothing is read from it any more."""
        if self._resource is not None:
            with suppress(Exception):  # it is broken already where it cannot be closed
                self._resource.close()
        self._resource = None

    def write(self, words: str) -> None:
        """Send a command."""
        self._resource.write(words)

    def ask(self, query: str) -> str:
        """The one line that answers; MeterFault where none comes in time, or it is none."""
        self.write(query)
        return self._line(self._timeout_s)

    def begin(self) -> None:
        """Write a new token into the meter."""
        self._token = self._draw.choice([each for each in range(32, 256) if each != self._token])
        self.write(f"*ESE {self._token}")

    def end(self) -> None:
        """Nothing where the token comes back; MeterFault where anything else does."""
        said = self.ask("*ESE?")
        if not _is_token(said, self._token):
            raise MeterFault(say("it answered {words} out of turn; ask it again", words=shown(said)))

    def _come_into_step(self) -> None:
        """Throw away whatever is on its way until two tokens in a row have come back."""
        until = time.monotonic() + 2 * self._timeout_s
        for _ in range(THROWN_AWAY):
            self.begin()
            self.write("*ESE?")
            while not _is_token(self._line(until - time.monotonic()), self._token):
                pass
            self.begin()
            with suppress(MeterFault):
                self.end()
                return
        raise MeterFault(say("it does not come into step; switch it off and on, then ask it again"))

    def _line(self, seconds: float) -> str:
        """One line up to its end; MeterFault where it is not whole in time."""
        until, got, visa = time.monotonic() + seconds, bytearray(), self._resource.visalib
        while b"\n" not in got:
            left = until - time.monotonic()
            if left <= 0 or len(got) > LONGEST:
                raise MeterFault(say("it gave no whole answer in time; look at it, then ask it again"))
            self._resource.timeout = max(1, int(left * 1000))
            try:
                with visa.ignore_warning(self._resource.session, 0x3FFF0006):  # more is there than was asked for
                    part, status = visa.read(self._resource.session, LONGEST)
            except Exception as fault:  # a timeout, or the line broke: PyVISA's errors, or the system's
                raise MeterFault(say("it gave no whole answer in time; look at it, then ask it again")) from fault
            got += part
            if int(status) == 0 and not part:
                raise MeterFault(say("it hung up; look at its power and cable, then ask it again"))
        try:
            return got[: got.index(b"\n")].decode("ascii").rstrip("\r")
        except UnicodeDecodeError as fault:
            raise MeterFault(
                say("it answered with signs that are no text; look at its cable, then ask it again")
            ) from fault


class Meter:
    """One piece of the register that is read by itself; readings may be asked for from any thread, one at a time."""

    def __init__(
        self, tool: EquipmentRecord, clock: Callable[[], datetime], *, library: str = "", timeout_s: float = TIMEOUT_S
    ) -> None:
        self.tool, self._clock, self._library, self._timeout_s = tool, clock, library, timeout_s
        self._line: MeterLine | None = None
        self._turn = threading.Lock()

    def read(self, unit: str, today: date) -> Metered:
        """One new reading in this unit, with its source.

        Raises MeterFault in one sentence, and nothing is taken then: out of date or of its range, another instrument,
        overload, an error in its queue, an answer that is late, broken, double or of another question.
        """
        with self._turn:
            try:
                _refuse_out_of_date(self.tool, today)
                return self._read(unit)
            except MeterFault as fault:
                self._let_go()
                raise MeterFault(strung(": ", (f"{self.tool.name} {self.tool.serial}", str(fault)))) from fault
            except Exception as fault:
                self._let_go()
                raise MeterFault(
                    say(
                        "{tool} {serial}: the line to it broke; look at its cable, then ask it again",
                        tool=self.tool.name,
                        serial=self.tool.serial,
                    )
                ) from fault

    def close(self) -> None:
        """Let go of the line, once the reading that is on its way has ended."""
        with self._turn:
            self._let_go()

    def _let_go(self) -> None:
        if self._line is not None:
            self._line.close()
        self._line = None

    def _read(self, unit: str) -> Metered:
        tool = self.tool
        assert tool.address is not None and tool.query is not None and tool.answer_unit is not None
        if self._line is None:
            self._line = MeterLine(tool.address, self._library, self._timeout_s)
        line = self._line
        line.begin()
        idn = _in_words(identity_of, line.ask("*IDN?"))
        if tool.idn is None or not is_same(tool.idn, idn):
            raise MeterFault(
                say("{idn} answers at its address; correct address or meter under Test equipment", idn=shown(idn))
            )
        answer = line.ask(tool.query)
        at = self._clock()
        error = _in_words(error_of, line.ask("SYST:ERR?"))
        line.end()
        if error is not None:
            raise MeterFault(say("it reports {error}; clear it at the meter, then ask it again", error=error))
        source = MeterSource(
            equipment_id=tool.equipment_id, idn=idn, answer=answer.strip(), unit=tool.answer_unit, at=at,
            u=tool.uncertainty, u_unit=tool.unit,
        )  # fmt: skip
        return Metered(value_in(tool, answer, unit), source, resolution_in(tool, unit))


def resolution_in(tool: EquipmentRecord, unit: str) -> float:
    """What the last place of the meter stands for in this unit; 0 where that is not recorded."""
    return (tool.digit or 0.0) * (factor_between(tool.unit, unit) or 0.0)


def fitting(tools: Iterable[EquipmentRecord], kind: str, unit: str) -> tuple[EquipmentRecord, ...]:
    """The pieces of this kind, or these with or between, that measure in this unit, in date or not."""
    kinds = kind.split(" or ")
    return tuple(each for each in tools if each.kind in kinds and factor_between(each.unit, unit) is not None)


def value_in(tool: EquipmentRecord, answer: str, unit: str) -> float:
    """The number of an answer in this unit, to the meter's resolution.

    MeterFault where it is none, out of range, or cut short.
    """
    assert tool.unit is not None and tool.answer_unit is not None
    value, place = _in_words(lambda text: reading_of(text, str(tool.answer_unit)), answer)
    own, wanted = factor_between(tool.answer_unit, tool.unit), factor_between(tool.unit, unit)
    if own is None or wanted is None or tool.range_low is None or tool.range_high is None:
        raise MeterFault(say("it does not measure in {unit}; take another meter, or type the figure", unit=unit))
    here = float(value) * own
    if not tool.range_low <= here <= tool.range_high:
        raise MeterFault(
            say(
                "{here:.6g} {unit} is out of its range of {range_low:g} to {range_high:g}; look at its leads and unit",
                here=here,
                unit=tool.unit,
                range_low=tool.range_low,
                range_high=tool.range_high,
            )
        )
    if tool.digit is not None and float(place) * own > tool.digit * 1.001:
        raise MeterFault(
            say(
                "it answered {answer}, coarser than its resolution of {digit:g} {unit}; ask it again",
                answer=shown(answer),
                digit=tool.digit,
                unit=tool.unit,
            )
        )
    digit = resolution_in(tool, unit)
    return float(f"{round(here * wanted / digit) * digit if digit else here * wanted:.9g}")


def ask_once(
    address: str, query: str | None, answer_unit: str | None, *, library: str = "", timeout_s: float = TIMEOUT_S
) -> Told:
    """What answers at an address, before it stands in the register; MeterFault where nobody does."""
    line = MeterLine(address, library, timeout_s)
    try:
        line.begin()
        idn = _in_words(identity_of, line.ask("*IDN?"))
        answer = line.ask(query) if query else ""
        error = _in_words(error_of, line.ask("SYST:ERR?"))
        line.end()
    except MeterFault as fault:
        raise MeterFault(strung(": ", (address, str(fault)))) from fault
    except Exception as fault:
        raise MeterFault(
            say("{address}: the line broke; look at the cable, then ask it again", address=address)
        ) from fault
    finally:
        line.close()
    return Told(idn, _reading_words(answer, answer_unit, error) if query else "")


def _reading_words(answer: str, unit: str | None, error: str | None) -> str:
    if error is not None:
        return say("it reports {error}", error=error)
    try:
        value, _place = reading_of(answer, unit or "")
    except (ValueError, KeyError) as fault:
        return str(fault) if unit else say("it answered {answer}; say in which unit", answer=shown(answer))
    return f"{float(value):g} {unit or ''}".rstrip()


def _refuse_out_of_date(tool: EquipmentRecord, today: date) -> None:
    if tool.last_good_day is None:
        raise MeterFault(say("no last valid day is recorded; enter its certificate under Test equipment"))
    if tool.last_good_day < today:
        raise MeterFault(
            say("its calibration ended on {day}; have it calibrated, or type another's figure", day=tool.last_good_day)
        )


def _in_words(read: Callable[[str], Any], answer: str) -> Any:
    try:
        return read(answer)
    except ValueError as fault:
        words = str(fault)
        raise MeterFault(words if ";" in words else say("{words}; ask it again", words=words)) from fault


def _is_token(said: str, token: int) -> bool:
    text = said.strip().removeprefix("+")
    return text.isascii() and text.isdigit() and len(text) <= 3 and int(text) == token


def _manager(library: str) -> Any:
    """PyVISA's manager of a library: the one named, else the pure one where it is there, else the computer's own."""
    if not is_installed():
        raise Refused(EXTRA)
    import pyvisa  # only where a meter is read: the program runs without it

    chosen = library or ("@py" if find_spec("pyvisa_py") is not None else "")
    try:
        return pyvisa.ResourceManager(chosen)
    except Exception as fault:  # no library of that kind on this computer
        raise Refused(strung("; ", (say("meters: no VISA library is found"), EXTRA_REMEDY))) from fault
