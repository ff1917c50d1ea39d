"""What a person can act on, as opposed to a fault of ours."""


def printable(text: str) -> str:
    """The text without signs by which a terminal is steered; what cannot be seen stands as its number."""
    return "".join(char if char.isprintable() or char == "\n" else f"\\x{ord(char):02x}" for char in text)


class Refused(Exception):  # noqa: N818 - a refusal is an answer, not an error
    """Something was refused by the data or the surroundings; the text is one line that names what and the remedy."""


class NotFound(Refused):
    """What was asked for is not recorded."""


class Clash(Refused):
    """Another desk changed the row first; the text tells both versions and nothing was written."""


class Unreadable(Refused):
    """The database cannot be opened: foreign, newer, locked, read-only, full or torn."""
