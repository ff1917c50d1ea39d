"""What a person can act on, as opposed to a fault of ours."""


class Refused(Exception):  # noqa: N818 - a refusal is an answer, not an error
    """Something was refused by the data or the surroundings; the text is one line that names what and the remedy."""


class NotFound(Refused):
    """What was asked for is not recorded."""


class Clash(Refused):
    """Another desk changed the row first; the text tells both versions and nothing was written."""


class Unreadable(Refused):
    """The database cannot be opened: foreign, newer, locked, read-only, full or torn."""
