"""The reading of a specimen, from several pieces of evidence that don't contradict each other, or why there is none.

The readings and what speaks for them:

* metal and valleys kept: retention kept, iron not raised.
* metal moved, not removed: valleys lost, the lost area found again as smear, iron not raised. Low iron misleads here.
* metal removed: valleys lost, iron high, no smear that explains the loss.
* valleys kept, iron from elsewhere: retention kept though iron is high; the ring or its coating may be the source.
* scuffed: scuffed area in the track, with friction, lost valleys or several fields to bear it out.
* no valleys to begin with: the unrun surface had too few; what was never there can't be retained.
* can't tell: with the reason.

Two pieces of evidence of different source are needed for a reading. Retention, the same spot, smear, scuff and iron are
weighty: when one of them contradicts, nothing is read. Friction and worn regions are shown when they disagree.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from semwear.compare.evidence import UNKNOWN, Evidence
from semwear.compare.specimens import SpecimenFigures

KEPT = "metal and valleys kept"
MOVED = "metal moved, not removed"
REMOVED = "metal removed"
OTHER_SOURCE = "valleys kept, iron from elsewhere"
SCUFFED = "scuffed"
NO_VALLEYS = "no valleys to begin with"
CANT_TELL = "can't tell"

READINGS = {
    KEPT: "the hone valleys are still open and the oil holds no more iron than the study's reference",
    MOVED: "valleys were closed by smeared metal while iron stayed low: the low iron misleads",
    REMOVED: "valleys are gone and the iron in the oil is high",
    OTHER_SOURCE: "valleys are still open though iron is high: look at the ring, its coating, or the rest of the rig",
    SCUFFED: "the track is torn by adhesion along the stroke; coarse debris may be missing from the iron figure",
    NO_VALLEYS: "the unrun surface had too few valleys for any to be retained",
    CANT_TELL: "the evidence is missing, too uncertain or contradicts itself",
}
WEIGHTY = ("retention", "same spot", "smear", "scuff", "iron")
_NOT_RAISED = {"low", "like the reference"}

EXPECTED: dict[str, dict[str, tuple[set[str], set[str]]]] = {
    KEPT: {
        "retention": ({"kept"}, {"lost"}),
        "same spot": ({"kept"}, {"lost"}),
        "smear": ({"none"}, {"explains the loss"}),
        "scuff": ({"none"}, {"present"}),
        "iron": (_NOT_RAISED, {"high"}),
        "friction": ({"low", "like the reference"}, {"high"}),
        "worn": ({"run"}, {"not run"}),
    },
    MOVED: {
        "retention": ({"lost"}, {"kept"}),
        "same spot": ({"lost"}, {"kept"}),
        "smear": ({"explains the loss"}, {"none"}),
        "scuff": ({"none"}, {"present"}),
        "iron": (_NOT_RAISED, {"high"}),
        "friction": (set(), set()),
        "worn": ({"run"}, {"not run"}),
    },
    REMOVED: {
        "retention": ({"lost"}, {"kept"}),
        "same spot": ({"lost"}, {"kept"}),
        "smear": ({"none"}, {"explains the loss"}),
        "scuff": ({"none"}, {"present"}),
        "iron": ({"high"}, _NOT_RAISED),
        "friction": (set(), set()),
        "worn": ({"run"}, {"not run"}),
    },
    OTHER_SOURCE: {
        "retention": ({"kept"}, {"lost"}),
        "same spot": ({"kept"}, {"lost"}),
        "smear": ({"none"}, {"explains the loss"}),
        "scuff": ({"none"}, {"present"}),
        "iron": ({"high"}, _NOT_RAISED),
        "friction": (set(), set()),
        "worn": (set(), set()),
    },
    SCUFFED: {
        "retention": ({"lost"}, set()),
        "same spot": ({"lost"}, set()),
        "scuff": ({"present"}, {"none"}),
        "friction": ({"high"}, {"low"}),
        "worn": ({"run"}, {"not run"}),
        "several fields": ({"agree"}, set()),
    },
    NO_VALLEYS: {
        "start": ({"too few"}, {"enough"}),
        "several fields": ({"agree"}, set()),
        "track": ({"too few"}, {"enough"}),
    },
    CANT_TELL: {},
}
"""What each reading expects of each source: (words that speak for it, words that speak against it)."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """The reading of one specimen with the evidence for it, against it and the rest; ``why`` says it in a sentence."""

    specimen: str
    reading: str
    why: str
    supporting: tuple[Evidence, ...]
    contradicting: tuple[Evidence, ...]
    silent: tuple[Evidence, ...]

    @property
    def meaning(self) -> str:
        """The reading in one clause."""
        return READINGS[self.reading]


def verdict(figures: SpecimenFigures, evidence: Mapping[str, Evidence]) -> Verdict:
    """Return the reading of a specimen, never from one piece of evidence, and never past a weighty contradiction."""
    pieces = dict(evidence) | _several_fields(figures, evidence)
    reading, reason = _candidate(pieces)
    if reading == CANT_TELL:
        return _told(figures.specimen, CANT_TELL, reason, pieces, reading)
    supporting, contradicting = _sides(reading, pieces)
    weighty = [piece for piece in contradicting if piece.source in WEIGHTY or reading == NO_VALLEYS]
    if weighty:
        against = "; ".join(piece.sentence for piece in weighty)
        reason = f"the evidence contradicts itself: it would read as {reading}, but {against}"
        return _told(figures.specimen, CANT_TELL, reason, pieces, reading)
    if len({piece.source for piece in supporting}) < 2:
        reason = f"only one piece of evidence speaks for {reading}: {supporting[0].sentence}"
        return _told(figures.specimen, CANT_TELL, reason, pieces, reading)
    return _told(figures.specimen, reading, READINGS[reading], pieces, reading)


def _told(specimen: str, reading: str, why: str, pieces: Mapping[str, Evidence], weighed: str) -> Verdict:
    supporting, contradicting = _sides(weighed, pieces)
    silent = [piece for piece in pieces.values() if piece not in supporting and piece not in contradicting]
    return Verdict(
        specimen=specimen,
        reading=reading,
        why=why,
        supporting=tuple(supporting),
        contradicting=tuple(contradicting),
        silent=tuple(silent),
    )


def _sides(reading: str, pieces: Mapping[str, Evidence]) -> tuple[list[Evidence], list[Evidence]]:
    supporting, contradicting = [], []
    for source, (speaks_for, speaks_against) in EXPECTED[reading].items():
        if source in pieces and pieces[source].reading in speaks_for:
            supporting.append(pieces[source])
        elif source in pieces and pieces[source].reading in speaks_against:
            contradicting.append(pieces[source])
    return supporting, contradicting


def _several_fields(figures: SpecimenFigures, evidence: Mapping[str, Evidence]) -> dict[str, Evidence]:
    """Return the pieces that rest on more than one field or zone saying the same."""
    pieces = {}
    if evidence["scuff"].reading == "present":
        fields = figures.run["scuffed_fraction"]
        if fields.fields >= 2 and fields.low > 0:
            said = f"the {fields.fields} fields in the track together show scuffing beyond their scatter"
            pieces["several fields"] = Evidence(source="several fields", reading="agree", sentence=said)
    if evidence["start"].reading == "too few":
        run, start = figures.run["valley_fraction"], figures.reference["valley_fraction"]
        if start.fields >= 2:
            said = f"{start.fields} fields of the unrun surface say so together"
            pieces["several fields"] = Evidence(source="several fields", reading="agree", sentence=said)
        if run.fields:
            more = run.mean > 2 * max(start.mean, 0.01)
            said = f"valleys cover {100 * run.mean:.1f} % of the track"
            pieces["track"] = Evidence(source="track", reading="enough" if more else "too few", sentence=said)
    return pieces


def _candidate(pieces: Mapping[str, Evidence]) -> tuple[str, str]:
    """Return the reading that the weightiest evidence suggests, or can't tell with the reason."""
    retention, iron = pieces["retention"], pieces["iron"]
    if pieces["start"].reading == "too few":
        return NO_VALLEYS, ""
    if pieces["scuff"].reading == "present":
        return SCUFFED, ""
    if retention.reading in (UNKNOWN, "unsettled", "between"):
        return CANT_TELL, retention.sentence
    if retention.reading == "kept":
        if iron.reading == UNKNOWN:
            return CANT_TELL, f"the valleys are kept, but whether metal was lost isn't known: {iron.sentence}"
        return (OTHER_SOURCE if iron.reading == "high" else KEPT), ""
    if iron.reading == UNKNOWN:
        reason = f"the valleys are lost, but whether metal left the surface isn't known: {iron.sentence}"
        return CANT_TELL, reason
    if pieces["smear"].reading == "explains the loss":
        if iron.reading == "high":
            reason = f"the evidence contradicts itself: {pieces['smear'].sentence}, yet {iron.sentence}"
            return CANT_TELL, reason
        return MOVED, ""
    if iron.reading == "high":
        return REMOVED, ""
    return CANT_TELL, (
        f"the valleys are lost, but neither smear nor iron accounts for it ({pieces['smear'].sentence}; {iron.sentence})"
    )
