"""Specimen, zone, stage and spot read from file and folder names by a pattern that the user states.

A pattern is a name with words in braces, such as ``{specimen}_{zone}_{n}`` or ``{specimen}/{stage}/{spot}``. A pattern
without a slash is laid on the file's name without its ending; each slash takes in one folder more. ``{n}`` is a running
number and is dropped; ``{*}`` is any text and is dropped; every other word in braces becomes a factor of the specimen.
In place of a zone the word ``before`` may stand: a reference field from before the test, when there is no ``{stage}``.
"""

import re
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from semwear.errors import PlanError
from semwear.plan.problems import Problem
from semwear.plan.reading import checked_plan
from semwear.plan.tables import Plan, PlannedField, PlannedSpecimen, normal_path

ZONE_WORDS = {
    "in": "in-track",
    "in-track": "in-track",
    "in_track": "in-track",
    "intrack": "in-track",
    "out": "out-of-track",
    "out-of-track": "out-of-track",
    "out_of_track": "out-of-track",
    "outoftrack": "out-of-track",
}
STAGE_WORDS = {"before": "before", "after": "after"}
_OWN = ("specimen", "zone", "stage", "spot")
_BRACES = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, kw_only=True)
class NameReading:
    """What a pattern understood of one name; ``reason`` says why nothing was, and is empty otherwise."""

    file: str
    words: dict[str, str] = field(default_factory=dict)
    reason: str = ""


class NamePattern:
    """A pattern for names, ready to be laid on them.

    ``zone_words`` adds words for the zones, such as ``{"worn": "in-track", "land": "out-of-track"}``.

    Raises PlanError for a pattern without ``{specimen}``, with a word twice, or with open braces.

    >>> NamePattern("{specimen}_{zone}_{n}").read("run 3/A_1_in_02.tif").words
    {'specimen': 'A_1', 'zone': 'in-track'}
    """

    def __init__(self, pattern: str, *, zone_words: dict[str, str] | None = None):
        self.pattern = pattern
        self.zone_words = ZONE_WORDS | {word.lower(): zone for word, zone in (zone_words or {}).items()}
        self.names = tuple(name.strip() for name in _BRACES.findall(pattern))
        rest = _BRACES.sub("", pattern)
        if "{" in rest or "}" in rest:
            raise PlanError(f"pattern {pattern!r}: a brace is open; write words as {{specimen}}")
        if "specimen" not in self.names:
            raise PlanError(f"pattern {pattern!r}: has no {{specimen}}; write for instance {{specimen}}_{{zone}}_{{n}}")
        kept = [name for name in self.names if name not in ("*", "n")]
        if len(set(kept)) < len(kept) or "" in kept:
            raise PlanError(f"pattern {pattern!r}: a word in braces is empty or stands there twice; name each once")
        self.factors = tuple(name for name in kept if name not in _OWN)
        self.depth = pattern.count("/") + 1
        self._lazy = re.compile(self._expression(lazy=True), re.IGNORECASE)
        self._greedy = re.compile(self._expression(lazy=False), re.IGNORECASE)

    def _expression(self, *, lazy: bool) -> str:
        pieces, end = [], 0
        for place, match in enumerate(_BRACES.finditer(self.pattern)):
            pieces.append(re.escape(self.pattern[end : match.start()]))
            name, end = match[1].strip(), match.end()
            if name == "zone":
                words = [*self.zone_words, *([] if "stage" in self.names else ["before"])]
                inner = "|".join(sorted((re.escape(word) for word in words), key=len, reverse=True))
            elif name == "stage":
                inner = "|".join(STAGE_WORDS)
            elif name == "n":
                inner = r"\d+"
            else:
                inner = r"[^/]+?" if lazy else r"[^/]+"
            pieces.append(f"(?P<p{place}>{inner})")
        pieces.append(re.escape(self.pattern[end:]))
        return "".join(pieces)

    def read(self, file: str) -> NameReading:
        """Return what the pattern says about a path; nothing is understood where it fits in two ways or not at all."""
        path = PurePosixPath(normal_path(file))
        parts = path.with_suffix("").parts if path.suffix else path.parts
        if len(parts) < self.depth:
            return NameReading(file=file, reason=f"the pattern wants {self.depth - 1} folders above the file")
        text = "/".join(parts[-self.depth :])
        lazy, greedy = self._lazy.fullmatch(text), self._greedy.fullmatch(text)
        if lazy is None or greedy is None:
            return NameReading(file=file, reason=f"{text!r} doesn't fit the pattern")
        first, second = self._words(lazy), self._words(greedy)
        if first != second:
            differing = next(name for name in first if first[name] != second[name])
            reason = f"{text!r} fits in two ways: {differing} is {first[differing]!r} or {second[differing]!r}"
            return NameReading(file=file, reason=reason)
        return NameReading(file=file, words=first)

    def _words(self, match: re.Match) -> dict[str, str]:
        words = {}
        for place, name in enumerate(self.names):
            text = match[f"p{place}"]
            if name == "zone" and text.lower() in self.zone_words:
                words[name] = self.zone_words[text.lower()]
            elif name == "zone":
                words["stage"] = "before"
            elif name == "stage":
                words[name] = STAGE_WORDS[text.lower()]
            elif name not in ("*", "n"):
                words[name] = text
        return words


def plan_from_names(files, pattern: NamePattern, *, path: str = "file names") -> Plan:
    """Return the plan that file names state by a pattern.

    Raises PlanError listing every name that the pattern doesn't fit, and every contradiction between them.
    """
    fields, problems = [], []
    levels: dict[str, dict[str, str]] = {}
    for number, file in enumerate(files, start=1):
        reading = pattern.read(str(file))
        where = {"sheet": path, "row": number, "column": str(file)}
        if reading.reason:
            remedy = "rename the file, change the pattern, or write a plan"
            problems.append(Problem(**where, found=reading.reason, remedy=remedy))
            continue
        words = reading.words
        stage = words.get("stage", "after")
        if "zone" not in words and stage == "after":
            remedy = "put {zone} into the pattern, or write a plan"
            problems.append(Problem(**where, found="the name says no zone", remedy=remedy))
            continue
        own = {name: words[name] for name in pattern.factors}
        first = levels.setdefault(words["specimen"], own)
        if own != first:
            found = f"specimen {words['specimen']} has levels {own} here and {first} in another name"
            problems.append(Problem(**where, found=found, remedy="rename one of the files"))
        fields.append(
            PlannedField(
                file=str(file),
                specimen=words["specimen"],
                zone=words.get("zone", ""),
                stage=stage,
                spot=words.get("spot", ""),
                sheet_row=number,
            )
        )
    specimens = [PlannedSpecimen(specimen=name, levels=own) for name, own in levels.items()]
    return checked_plan(
        path=path,
        fields=fields,
        specimens=specimens,
        factors=pattern.factors,
        responses=(),
        problems=problems,
        has_specimens=False,
    )
