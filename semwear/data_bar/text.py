"""Reading printed text with the recogniser that ships in the wheel of rapidocr, run by onnxruntime.

Only crops of single lines are read, never a whole picture, and nothing is fetched from anywhere. The recogniser knows
thousands of characters; data bars print a hundred, so that its output is restricted to these before it is decoded
(best path decoding, Graves et al. 2006, 10.1145/1143844.1143891).
"""

import string
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

from semwear.data_bar.lines import Line

LINE_HEIGHT_PX = 48
"""Height of the recogniser's input."""
ALPHABET = string.ascii_letters + string.digits + " .,:;=-+×*/()[]%<>#&|_~°µμ'’"
WIDEST_PX = 1600
"""Longer lines are squeezed to this many columns at the recogniser's height."""


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One reading of one crop: its text, the probability of every character, and where each stands (0..1 across)."""

    text: str
    probabilities: tuple[float, ...]
    places: tuple[float, ...]

    @property
    def sureness(self) -> float:
        """Mean probability of the characters, 0 for an empty text."""
        return float(np.mean(self.probabilities)) if self.probabilities else 0.0

    def column(self, line: Line, place: int) -> float:
        """Column of the layer where a character was read; line: the box that was read."""
        return line.col_0 + (line.col_1 - line.col_0) * self.places[place]


def load_session(pattern: str):
    """Load the one model of rapidocr's wheel whose file name fits a pattern, for one thread and without a word."""
    import logging
    from importlib.util import find_spec

    import onnxruntime

    folder = Path(find_spec("rapidocr").submodule_search_locations[0]) / "models"
    model = sorted(folder.glob(pattern))[0]
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    logging.getLogger("onnxruntime").setLevel(logging.ERROR)
    return onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])


@lru_cache(maxsize=1)
def _recogniser():
    """Load the recogniser once per process: (session, input name, characters, columns of the output to keep)."""
    session = load_session("*_rec_*.onnx")
    listed = session.get_modelmeta().custom_metadata_map["character"].splitlines()
    characters = ["", *listed, " "]
    keep = [0] + [index for index, character in enumerate(characters) if character and character in ALPHABET]
    return session, session.get_inputs()[0].name, [characters[index] for index in keep], np.array(keep)


def read_line(crop: np.ndarray, *, height_share: float = 0.72) -> Reading:
    """Read one line of text from a (rows, cols) uint8 crop with dark text on a white ground, cut close to the text.

    height_share: share of the recogniser's height that the crop fills; the rest is a white margin. Reading a crop at
    two shares is a cheap check, since a doubtful character rarely comes out alike at both.
    """
    if min(crop.shape) < 3:
        return Reading(text="", probabilities=(), places=())
    return _read(crop.tobytes(), crop.shape, height_share)


@lru_cache(maxsize=128)
def _read(pixels: bytes, shape: tuple[int, int], height_share: float) -> Reading:
    """Read the pixels of a crop: layer after layer, the same label is asked for again."""
    rows, cols = shape
    crop = np.frombuffer(pixels, np.uint8).reshape(shape)
    scale = height_share * LINE_HEIGHT_PX / rows
    width = int(np.clip(round(cols * scale), 8, WIDEST_PX))
    height = max(4, int(round(rows * scale)))
    how = cv2.INTER_CUBIC if scale >= 1 else cv2.INTER_AREA
    resized = cv2.resize(crop, (width, height), interpolation=how)
    margin = LINE_HEIGHT_PX // 5
    above = (LINE_HEIGHT_PX - height) // 2
    padded_width = int(np.ceil(max(width + 2 * margin, 64) / 16) * 16)
    canvas = np.full((LINE_HEIGHT_PX, padded_width), 255, np.uint8)
    canvas[above : above + height, margin : margin + width] = resized
    values = canvas.astype(np.float32) / 127.5 - 1
    session, name, characters, keep = _recogniser()
    output = session.run(None, {name: np.repeat(values[None, None], 3, axis=1)})[0][0][:, keep]
    output = output / np.maximum(output.sum(axis=1, keepdims=True), 1e-9)
    best = output.argmax(axis=1)
    fresh = (best != 0) & np.insert(best[1:] != best[:-1], 0, True)
    steps = np.flatnonzero(fresh)
    text = "".join(characters[best[step]] for step in steps)
    places = ((steps + 0.5) / len(best) * padded_width - margin) / width
    chances = output[steps, best[steps]]
    # µ, its Greek twin and the u that stands for it mean the same in a unit, so that their probabilities add up.
    micro = [index for index, character in enumerate(characters) if character in ("µ", "μ", "u")]
    is_micro = np.isin(best[steps], micro)
    chances[is_micro] = output[steps[is_micro]][:, micro].sum(axis=1)
    lead = len(text) - len(text.lstrip())
    tail = len(text.rstrip())
    return Reading(
        text=text[lead:tail].replace("μ", "µ"),
        probabilities=tuple(float(chance) for chance in chances[lead:tail]),
        places=tuple(float(np.clip(place, 0, 1)) for place in places[lead:tail]),
    )
