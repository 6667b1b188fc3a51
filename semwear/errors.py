"""The errors that semwear raises on purpose; everything else is a bug.

A message names the file, what was found, what is allowed and what to do, in one sentence that fits on one line.
"""

import errno


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


def plain_reason(error: OSError) -> str:
    """Return why the system refused a file, in words that follow "as"."""
    known = {
        errno.ENOENT: "there is no such file or folder",
        errno.ENOTDIR: "a file stands where its folder should be",
        errno.EISDIR: "it is a folder",
        errno.EACCES: "there is no permission for it",
        errno.EPERM: "there is no permission for it",
    }
    return known.get(error.errno, f"the system says: {error.strerror or error}")
