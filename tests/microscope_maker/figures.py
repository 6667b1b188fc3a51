"""Named figures of a finish and of a microscope's setting, the same in all fields of a specimen."""

import hashlib

import numpy as np


class Figures:
    """Generators by name: of a specimen's seed, or all of them the one generator of a field that stands alone."""

    def __init__(self, seed: tuple[int, ...] = (), alone: np.random.Generator | None = None) -> None:
        self._seed, self._alone = seed, alone

    def __getitem__(self, name: str) -> np.random.Generator:
        """Return the generator to draw the figure of this name from; a specimen's is fresh at each asking."""
        if self._alone is not None:
            return self._alone
        word = int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], "big")
        return np.random.default_rng([*self._seed, word])
