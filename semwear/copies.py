"""Pictures that stand in a run more than once: a copy is no second field, and would make intervals too narrow."""

from collections.abc import Iterable, Mapping

from semwear.terms import join_flags

COPY_FLAG = "same picture twice"


def is_copy(row: Mapping) -> bool:
    """True for a row that holds the very pixels of a row before it (see :func:`mark_copies`)."""
    return COPY_FLAG in row["flags"].split(";")


def mark_copies(rows: Iterable[Mapping]) -> list[dict]:
    """Return the rows of the fields table with a flag on each measured one whose file is byte for byte that of one before.

    >>> rows = [{"status": "measured", "sha256": "ab", "flags": ""}] * 2
    >>> [row["flags"] for row in mark_copies(rows)]
    ['', 'same picture twice']
    """
    seen: set[str] = set()
    marked = []
    for row in rows:
        flags = set(row["flags"].split(";")) - {"", COPY_FLAG}
        if row["status"] == "measured" and row["sha256"]:
            flags |= {COPY_FLAG} if row["sha256"] in seen else set()
            seen.add(row["sha256"])
        marked.append({**row, "flags": join_flags(flags)})
    return marked
