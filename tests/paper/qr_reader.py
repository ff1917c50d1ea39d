"""What a scanner reads from a picture of a QR code; written from ISO/IEC 18004 and importing nothing of the program.

Versions 1 to 3 at error correction level M (one block each), byte mode. Table values and the standard's clauses are
from memory; the check on the error-correction words fails for any misreading.
"""

import numpy as np

_DATA_WORDS = {21: (16, 26), 25: (28, 44), 29: (44, 70)}
_FORMAT_MASK = 0b101010000010010
_MASKS = (
    lambda i, j: (i + j) % 2 == 0,
    lambda i, j: i % 2 == 0,
    lambda i, j: j % 3 == 0,
    lambda i, j: (i + j) % 3 == 0,
    lambda i, j: (i // 2 + j // 3) % 2 == 0,
    lambda i, j: (i * j) % 2 + (i * j) % 3 == 0,
    lambda i, j: ((i * j) % 2 + (i * j) % 3) % 2 == 0,
    lambda i, j: ((i + j) % 2 + (i * j) % 3) % 2 == 0,
)


def modules_of(picture: np.ndarray) -> np.ndarray:
    """Dark modules, as a square array of booleans, of a grey picture that the code fills from edge to edge."""
    dark = picture < 128
    finder = int(np.argmin(dark[2]))  # the first row begins with seven dark modules
    size = round(dark.shape[1] / (finder / 7))
    at = ((np.arange(size) + 0.5) * dark.shape[0] / size).astype(int)
    return dark[np.ix_(at, at)]


def read(modules: np.ndarray) -> str:
    """The text of the code; ValueError where it is not a sound code of the known kinds."""
    size = modules.shape[0]
    if size not in _DATA_WORDS:
        raise ValueError(f"{size} modules: not a code of version 1 to 3")
    level, mask = _format(modules)
    if level != 0:
        raise ValueError(f"error correction level bits {level:02b}, not M")
    data, total = _DATA_WORDS[size]
    words = _words(modules, mask)[:total]
    if any(_syndromes(words, total - data)):
        raise ValueError("the error correction words do not agree with the data")
    return _bytes(words[:data]).decode("utf-8")


def _format(modules: np.ndarray) -> tuple[int, int]:
    places = [(8, j) for j in (0, 1, 2, 3, 4, 5, 7, 8)] + [(i, 8) for i in (7, 5, 4, 3, 2, 1, 0)]
    bits = 0
    for place in places:
        bits = bits << 1 | int(modules[place])
    bits ^= _FORMAT_MASK
    return bits >> 13, bits >> 10 & 7


def _reserved(size: int) -> np.ndarray:
    kept = np.zeros((size, size), bool)
    kept[:9, :9] = kept[:9, -8:] = kept[-8:, :9] = True
    kept[6, :] = kept[:, 6] = True
    if size > 21:
        kept[size - 9 : size - 4, size - 9 : size - 4] = True
    return kept


def _words(modules: np.ndarray, mask: int) -> list[int]:
    size, reserved, bits = modules.shape[0], _reserved(modules.shape[0]), []
    columns = [column for column in range(size - 1, 6, -2)] + [5, 3, 1]
    for turn, column in enumerate(columns):
        rows = range(size - 1, -1, -1) if turn % 2 == 0 else range(size)
        for row in rows:
            for j in (column, column - 1):
                if not reserved[row, j]:
                    bits.append(int(modules[row, j]) ^ int(_MASKS[mask](row, j)))
    return [int("".join(map(str, bits[n : n + 8])), 2) for n in range(0, len(bits) - 7, 8)]


def _syndromes(words: list[int], count: int) -> list[int]:
    power = [1]
    for _ in range(254):
        doubled = power[-1] << 1
        power.append(doubled ^ 0x11D if doubled & 0x100 else doubled)
    log = {value: exponent for exponent, value in enumerate(power)}
    found = []
    for root in range(count):
        value = 0
        for word in words:
            value = (power[(log[value] + root) % 255] if value else 0) ^ word
        found.append(value)
    return found


def _bytes(words: list[int]) -> bytes:
    bits = "".join(f"{word:08b}" for word in words)
    if bits[:4] != "0100":
        raise ValueError(f"mode {bits[:4]} is not bytes")
    length = int(bits[4:12], 2)
    return bytes(int(bits[12 + 8 * n : 20 + 8 * n], 2) for n in range(length))
