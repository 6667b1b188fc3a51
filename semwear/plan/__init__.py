"""The plan of a study: read, checked, or started from a folder of pictures."""

from semwear.plan.naming import NamePattern, plan_from_names
from semwear.plan.problems import Problem
from semwear.plan.reading import read_plan
from semwear.plan.starting import starting_plan, write_starting_plan
from semwear.plan.tables import Plan, PlannedField, PlannedSpecimen, Response

__all__ = [
    "NamePattern",
    "Plan",
    "PlannedField",
    "PlannedSpecimen",
    "Problem",
    "Response",
    "plan_from_names",
    "read_plan",
    "starting_plan",
    "write_starting_plan",
]
