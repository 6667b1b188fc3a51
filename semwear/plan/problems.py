"""One inconsistency of a plan: where it stands, what was found and what to do about it."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Problem:
    """An inconsistency of a plan.

    ``row`` is the row number as a spreadsheet shows it (the header is row 1), 0 when the whole sheet is meant.
    ``stops`` is True when the plan can't be used before it is mended, False for a caution.
    """

    sheet: str
    row: int
    column: str
    found: str
    remedy: str
    stops: bool = True

    def __str__(self) -> str:
        """Return the problem as one line.

        >>> print(Problem(sheet="fields", row=4, column="kv", found="'5,0' has a decimal comma", remedy="write 5.0"))
        sheet fields, row 4, column kv: '5,0' has a decimal comma; write 5.0
        """
        where = f"sheet {self.sheet}"
        if self.row:
            where += f", row {self.row}"
        if self.column:
            where += f", column {self.column}"
        return f"{where}: {self.found}; {self.remedy}"


def listing(problems) -> str:
    """Return problems as text, one a line, those that stop the work first, then by sheet and row."""
    ordered = sorted(problems, key=lambda problem: (not problem.stops, problem.sheet, problem.row, problem.column))
    return "\n".join(("" if problem.stops else "caution: ") + str(problem) for problem in ordered)
