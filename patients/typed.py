"""What an address or posted data holds outside of any form, where anybody may type anything."""

LARGEST = 2**63 - 1  # of a database's widest whole number, and of every row's key


def whole(text: str | None) -> int | None:
    """The number a text holds, 0 or above; None for anything that no row and no count could be."""
    if not text or len(text) > len(str(LARGEST)) or not (text.isascii() and text.isdigit()):
        return None
    number = int(text)
    return number if number <= LARGEST else None


def words(text: str | None) -> str:
    """The text as a database can hold it: without NUL characters, which forms refuse themselves."""
    return (text or "").replace("\0", "").strip()
