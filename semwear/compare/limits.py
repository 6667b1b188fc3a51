"""The limits that verdicts rest on: this project's own, all of them the user's to change."""

from dataclasses import dataclass, fields, replace

from semwear.errors import PlanError


@dataclass(frozen=True, kw_only=True)
class Limits:
    """Limits of the readings; what each means stands in LIMIT_MEANINGS.

    Iron and friction are judged against stated limits where there are any, otherwise against the study's own reference:
    the median of the specimens marked as reference in the plan, or of all specimens when none is marked.
    """

    kept: float = 0.8
    lost: float = 0.6
    smear_share: float = 0.4
    smeared: float = 0.01
    scuffed: float = 0.02
    valleys_at_start: float = 0.03
    iron_low: float = float("nan")
    iron_high: float = float("nan")
    iron_band: float = 0.2
    friction_low: float = float("nan")
    friction_high: float = float("nan")
    friction_band: float = 0.1


LIMIT_MEANINGS = {
    "kept": "retention from which valleys count as kept, the interval's lower end being above the limit 'lost'",
    "lost": "retention up to which valleys count as lost, the interval's upper end being below the limit 'kept'",
    "smear_share": "share of the lost valley area to be found again as smear for the loss to be laid to smear",
    "smeared": "smeared fraction above the reference's that counts as smear",
    "scuffed": "scuffed fraction in the track from which a specimen counts as scuffed",
    "valleys_at_start": "valley fraction of the reference below which there were no valleys to begin with",
    "iron_low": "iron up to which it is low; unless stated, the study's own reference decides",
    "iron_high": "iron from which it is high; unless stated, the study's own reference decides",
    "iron_band": "relative distance from the study's own iron that counts as a difference",
    "friction_low": "friction up to which it is low; unless stated, the study's own reference decides",
    "friction_high": "friction from which it is high; unless stated, the study's own reference decides",
    "friction_band": "relative distance from the study's own friction that counts as a difference",
}


def limits_from(texts) -> Limits:
    """Return the limits with those stated as ``name=value`` changed.

    Raises PlanError for an unknown name, a value that is no positive number, or limits in the wrong order.

    >>> limits_from(["kept=0.7", "iron_low=60"]).iron_low
    60.0
    """
    known = {each.name for each in fields(Limits)}
    changed = {}
    for text in texts:
        name, _, value = text.partition("=")
        name = name.strip()
        if name not in known:
            raise PlanError(f"--limit {text}: there is no limit {name!r}; the limits are {', '.join(sorted(known))}")
        try:
            changed[name] = float(value)
        except ValueError:
            raise PlanError(f"--limit {text}: {value!r} is no number; write {name}=0.5 with a decimal point") from None
        if not 0 < changed[name] < 1e9:
            raise PlanError(f"--limit {text}: the limit must be a positive number")
    limits = replace(Limits(), **changed)
    for low, high in (("lost", "kept"), ("iron_low", "iron_high"), ("friction_low", "friction_high")):
        if getattr(limits, low) > getattr(limits, high):
            raise PlanError(f"--limit: {low} must not be above {high}; state both in the right order")
    return limits
