"""The errors that semwear raises on purpose; everything else is a bug.

A message names the file, what was found, what is allowed and what to do, in one sentence that fits on one line.
"""


class SemwearError(Exception):
    """Base of every error that semwear raises on purpose."""


class ReadError(SemwearError):
    """The file can't be read as a micrograph."""


class ScaleError(SemwearError):
    """The pixel size can't be known, so nothing in micrometres can be said."""


class RefusedError(SemwearError):
    """The picture was read and has a scale, but can't be measured."""


class PlanError(SemwearError):
    """The plan is inconsistent; the message lists every problem, one a line."""


class ModelError(SemwearError):
    """The model file is missing, damaged or of another kind than this version reads."""


class ResultsError(SemwearError):
    """The results folder can't be written, or isn't one."""
