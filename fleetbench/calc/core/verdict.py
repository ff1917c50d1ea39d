"""The words in which a measurement and a readiness check are answered."""

from enum import StrEnum


class Verdict(StrEnum):
    """Answer of a measurement, best first: pass, watch (plan its replacement), repeat (undecided), reject."""

    PASS = "pass"
    WATCH = "watch"
    REPEAT = "repeat"
    REJECT = "reject"

    @property
    def severity(self) -> int:
        """Rank from 0 (pass) to 3 (reject), so that the worst of several is their max by severity."""
        return list(Verdict).index(self)


class Result(StrEnum):
    """Answer of one readiness check."""

    OK = "ok"
    ADVISE = "advise"
    STOP = "stop"


def worst(verdicts: "list[Verdict] | tuple[Verdict, ...]") -> Verdict:
    """The worst of the given verdicts; raises ValueError for none, since nothing measured is never a pass."""
    if not verdicts:
        raise ValueError("verdicts: no measurement given, so there is nothing to judge")
    return max(verdicts, key=lambda verdict: verdict.severity)
