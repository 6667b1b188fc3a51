"""One cell of a plan taken as a word or as a number: never by guessing, always with what to do when it is neither."""

import datetime
import math
import re

from semwear.plan.problems import Problem

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+([eE][+-]?\d+)?")
_DATE = re.compile(
    r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|\d{1,2}[-. ](jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)\w*", re.I
)


class Row:
    """One row of a sheet, read cell by cell; what is wrong with a cell is added to ``problems``."""

    def __init__(self, sheet: str, number: int, cells: dict[str, object], problems: list[Problem]):
        self.sheet, self.number, self.cells, self.problems = sheet, number, cells, problems

    def complain(self, column: str, found: str, remedy: str, *, stops: bool = True) -> None:
        """Add a problem of this row."""
        self.problems.append(
            Problem(sheet=self.sheet, row=self.number, column=column, found=found, remedy=remedy, stops=stops)
        )

    def word(self, column: str) -> str:
        """Return the cell as text without surrounding blanks; whole numbers read ``12``, not ``12.0``; dates are a problem.

        >>> Row("fields", 2, {"specimen": 12.0}, []).word("specimen")
        '12'
        """
        cell = self.cells.get(column, "")
        if isinstance(cell, (datetime.date, datetime.time, datetime.timedelta)):
            self.complain(column, f"holds the date or time {cell}", "format the cell as text and write the name again")
            return ""
        if isinstance(cell, float) and cell.is_integer():
            return str(int(cell))
        text = str(cell).strip()
        if text.startswith("#") and text.rstrip("!?").isupper():
            self.complain(column, f"holds the spreadsheet error {text}", "mend the formula or write the value itself")
            return ""
        return text

    def choice(self, column: str, allowed: tuple[str, ...]) -> str:
        """Return the cell as one of the allowed words, with blanks or underlines for hyphens; empty stays empty."""
        text = self.word(column)
        spelt = re.sub(r"[\s_]+", "-", text.lower())
        if not text or spelt in allowed:
            return spelt
        self.complain(column, f"{text!r} isn't a {column}", f"write {' or '.join(allowed)}")
        return ""

    def number_in(self, column: str, low: float, high: float, *, unit: str, open_low: bool = False) -> float:
        """Return the cell as a number within [low, high] ((low, high] when ``open_low``); nan when empty or wrong."""
        value = self._number(column)
        if math.isnan(value):
            return value
        if value < low or value > high or (open_low and value == low):
            span = f"between {low:g} and {high:g}" if math.isfinite(high) else f"above {low:g}"
            span += "" if unit in ("", "1") else f" {unit}"
            self.complain(column, f"{value:g} is out of range", f"write a number {span}, or leave the cell empty")
            return math.nan
        return value

    def _number(self, column: str) -> float:
        cell = self.cells.get(column, "")
        if isinstance(cell, bool):
            self.complain(column, f"holds {cell}", "write a number, or leave the cell empty")
            return math.nan
        if isinstance(cell, (datetime.date, datetime.time, datetime.timedelta)):
            remedy = (
                "the spreadsheet turned the number into a date: format the cell as number and type the number again"
            )
            self.complain(column, f"holds the date {cell}", remedy)
            return math.nan
        if isinstance(cell, (int, float)):
            if math.isfinite(cell):
                return float(cell)
            self.complain(column, f"holds {cell}", "write a finite number, or leave the cell empty")
            return math.nan
        text = str(cell).strip()
        if not text:
            return math.nan
        if _NUMBER.fullmatch(text):
            value = float(text)
            if math.isfinite(value):
                return value
            self.complain(
                column, f"{text!r} is too large to be meant", "write a finite number, or leave the cell empty"
            )
            return math.nan
        if _DECIMAL_COMMA.fullmatch(text):
            self.complain(column, f"{text!r} has a decimal comma", f"write {text.replace(',', '.')} with a point")
        elif _DATE.fullmatch(text):
            self.complain(column, f"{text!r} looks like a date", "write the number that was meant")
        else:
            self.complain(
                column, f"{text!r} is text where a number is wanted", "write the number alone, or leave it empty"
            )
        return math.nan
