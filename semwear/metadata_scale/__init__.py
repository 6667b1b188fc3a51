"""Pixel size, voltage, detector and tilt by what the metadata of a picture say, and not by who wrote them."""

from semwear.metadata_scale.facts import StatedFacts, agree, facts_from_metadata
from semwear.metadata_scale.pixel_size import Candidate

__all__ = ["Candidate", "StatedFacts", "agree", "facts_from_metadata"]
