"""The plan of a study: which picture shows what, and what each specimen was."""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from math import nan
from pathlib import Path, PurePosixPath

from semwear.errors import PlanError
from semwear.plan.problems import Problem

ZONES = ("in-track", "out-of-track")
STAGES = ("before", "after")


@dataclass(frozen=True, kw_only=True)
class Response:
    """A quantity stated for each specimen: its column, unit and which way is better.

    ``better`` is ``lower``, ``higher`` or ``neither``.
    """

    name: str
    unit: str
    better: str


DEFAULT_RESPONSES = {
    "friction": Response(name="friction", unit="1", better="lower"),
    "iron_ppm": Response(name="iron_ppm", unit="ppm", better="lower"),
}
"""Responses whose unit and sense need no statement: coefficient of friction, and iron in the used oil."""


@dataclass(frozen=True, kw_only=True)
class PlannedField:
    """What the plan says about one picture; numbers that it doesn't state are nan, words are empty.

    ``zone`` is in-track, out-of-track or empty (allowed before the test only); ``stage`` is before or after.
    ``spot`` names one place on the specimen, so that its picture before and after can be laid on each other.
    ``stroke_deg`` is in degrees in [0, 180), anticlockwise from the picture's rows. ``sheet_row`` is the row in the
    plan, 0 for a picture that the plan doesn't list.
    """

    file: str
    specimen: str = ""
    zone: str = ""
    stage: str = ""
    spot: str = ""
    stroke_deg: float = nan
    tilt_deg: float = nan
    pixel_size_um: float = nan
    kv: float = nan
    detector: str = ""
    sheet_row: int = 0

    @property
    def is_reference(self) -> bool:
        """True for a surface that the ring hasn't touched: before the test, or out of the track."""
        return self.stage == "before" or self.zone == "out-of-track"

    @property
    def is_run(self) -> bool:
        """True for a surface that the ring ran on: in the track, after the test."""
        return self.stage == "after" and self.zone == "in-track"


@dataclass(frozen=True, kw_only=True)
class PlannedSpecimen:
    """One specimen: the level of each factor and the value of each response (nan when not stated)."""

    specimen: str
    levels: dict[str, str] = field(default_factory=dict)
    values: dict[str, float] = field(default_factory=dict)
    is_reference: bool = False
    sheet_row: int = 0


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A plan without contradictions: fields, specimens, factors, responses and the cautions to be shown with them."""

    path: str
    fields: tuple[PlannedField, ...]
    specimens: tuple[PlannedSpecimen, ...]
    factors: tuple[str, ...] = ()
    responses: tuple[Response, ...] = ()
    cautions: tuple[Problem, ...] = ()

    @cached_property
    def _by_path(self) -> dict[str, PlannedField]:
        return {normal_path(planned.file): planned for planned in self.fields}

    @cached_property
    def _by_ending(self) -> dict[str, list[PlannedField]]:
        endings: dict[str, list[PlannedField]] = {}
        for planned in self.fields:
            endings.setdefault(PurePosixPath(normal_path(planned.file)).name, []).append(planned)
        return endings

    def field(self, file: str | Path) -> PlannedField:
        """Return what the plan says about a picture.

        The path is looked up as given; failing that, one path may be the end of the other, folder by folder
        (``a/b.tif`` stands for ``study/a/b.tif``). A picture that isn't listed gives a PlannedField with empty words
        and nan, whose ``sheet_row`` is 0.

        Raises PlanError when the end of the path fits more than one row.
        """
        wanted = normal_path(str(file))
        if wanted in self._by_path:
            return self._by_path[wanted]
        parts = PurePosixPath(wanted).parts
        fitting = []
        for planned in self._by_ending.get(parts[-1] if parts else "", []):
            other = PurePosixPath(normal_path(planned.file)).parts
            shared = min(len(parts), len(other))
            if parts[-shared:] == other[-shared:]:
                fitting.append(planned)
        if len(fitting) > 1:
            rows = ", ".join(str(planned.sheet_row) for planned in fitting)
            raise PlanError(
                f"{file}: rows {rows} of the plan's fields fit this picture; write more of the folder path in column file"
            )
        return fitting[0] if fitting else PlannedField(file=str(file))

    def fields_for(self, files: Iterable[str]) -> dict[str, PlannedField]:
        """Return what the plan says about each of the pictures that are there together, by file; see :meth:`field`.

        A row belongs to one picture. Where it fits several, it is that of the one whose path it states in full.

        Raises PlanError when a row fits several pictures and states the path of none.
        """
        found = {file: self.field(file) for file in files}
        takers: dict[int, list[str]] = {}
        for file, planned in found.items():
            if planned.sheet_row:
                takers.setdefault(planned.sheet_row, []).append(file)
        for row, several in takers.items():
            if len(several) < 2:
                continue
            stated = normal_path(found[several[0]].file)
            owners = [file for file in several if normal_path(file) == stated]
            if len(owners) > 1:  # names that differ in how their letters are composed
                owners = [file for file in owners if file == found[file].file]
            if not owners:
                raise PlanError(
                    f"row {row} of the plan's fields ({stated}) fits {len(several)} pictures ({', '.join(several[:3])}); "
                    "write more of the folder path in column file, one row a picture"
                )
            found |= {file: PlannedField(file=file) for file in several if file not in owners}
        return found

    def specimen(self, name: str) -> PlannedSpecimen:
        """Return a specimen by name; one that isn't planned has no levels and no values."""
        return self._specimens.get(name, PlannedSpecimen(specimen=name))

    @cached_property
    def _specimens(self) -> dict[str, PlannedSpecimen]:
        return {planned.specimen: planned for planned in self.specimens}

    def response(self, name: str) -> Response:
        """Return a response by name; raises KeyError when the plan has none of that name."""
        return {response.name: response for response in self.responses}[name]


def normal_path(path: str) -> str:
    r"""Return a path with forward slashes, without leading dots and with composed letters, as used to compare paths.

    Some systems write ``ü`` into a name as one character (Unicode NFC), others as u and two dots (NFD).

    >>> normal_path(".\\A1\\in_1.tif")
    'A1/in_1.tif'
    """
    text = unicodedata.normalize("NFC", path).strip().replace("\\", "/")
    while text.startswith("./"):
        text = text[2:]
    return str(PurePosixPath(text)) if text else ""
