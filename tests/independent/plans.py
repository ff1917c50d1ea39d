"""The best plan of all, found by trying every one; for a handful of units and bookings. Imports nothing of ours.

A unit: tag, type, first day in hand, fit through (None: no limit, -1: only after its visit), days taken, and its work
(minutes, due, parts, throws life). A booking: code, type, (first, last), units, promised tags.
"""

from itertools import combinations, product


def best_score(units, bookings, bench, supply):
    """The least (unmet, late, thrown, changes), compared in that order."""
    horizon = len(bench)
    best = None
    for days in product(*([None, *_finish(unit, horizon)] for unit in units)):
        if not _enough(units, days, bench, supply):
            continue
        late = thrown = 0
        for unit, day in zip(units, days, strict=True):
            for _minutes, due, _parts, throws in unit[5]:
                if due is not None:
                    late += max(0, (horizon if day is None else day) - due)
                    if throws and day is not None:
                        thrown += max(0, due - day)
        free = [_serves(unit, day, bookings) for unit, day in zip(units, days, strict=True)]
        unmet, changes = _least(units, bookings, free, 0, {})
        found = (unmet, late, thrown, changes)
        if best is None or found < best:
            best = found
    return best


def _finish(unit, horizon):
    _tag, _kind, in_hand, _fit, taken, work = unit
    if not work:
        return []
    return [d for d in range(in_hand, horizon) if not any(a <= d <= b for a, b in taken)]


def _enough(units, days, bench, supply):
    horizon = len(bench)
    visits = [(unit, day) for unit, day in zip(units, days, strict=True) if day is not None]
    for first in range(horizon):
        for last in range(first, horizon):
            asked = sum(sum(w[0] for w in u[5]) for u, d in visits if u[2] >= first and d <= last)
            if asked > sum(bench[first : last + 1]) + 1e-9:
                return False
    for kind, arrivals in supply.items():
        for last in range(horizon):
            asked = sum(n for u, d in visits if d <= last for w in u[5] for k, n in w[2] if k == kind)
            if asked > sum(arrivals[: last + 1]):
                return False
    return True


def _serves(unit, day, bookings):
    _tag, kind, in_hand, fit, taken, _work = unit
    able = set()
    for n, (_code, wanted, (first, last), _units, _promised) in enumerate(bookings):
        ready = fit is None or last <= fit or (day is not None and day < first)
        apart = not any(a <= last and first <= b for a, b in taken) and not (day is not None and first <= day <= last)
        if kind == wanted and in_hand <= first and ready and apart:
            able.add(n)
    return able


def _least(units, bookings, free, at, used):
    if at == len(bookings):
        return 0, 0
    _code, _kind, (first, last), wanted, promised = bookings[at]
    open_units = [
        n for n in range(len(units))
        if at in free[n] and not any(a <= last and first <= b for a, b in used.get(n, ()))
    ]  # fmt: skip
    best = None
    for size in range(min(wanted, len(open_units)) + 1):
        for chosen in combinations(open_units, size):
            after = {**used, **{n: (*used.get(n, ()), (first, last)) for n in chosen}}
            unmet, changes = _least(units, bookings, free, at + 1, after)
            lost = len(set(promised) - {units[n][0] for n in chosen})
            found = (unmet + wanted - size, changes + lost)
            if best is None or found < best:
                best = found
    return best
