"""The matrix of a study as columns of numbers: factors coded about their mean, interactions, and what is aliased."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Term:
    """A main effect (one factor) or an interaction (two or more factors)."""

    factors: tuple[str, ...]

    @property
    def name(self) -> str:
        """The factors' names, with a cross between them."""
        return " × ".join(self.factors)


@dataclass(frozen=True, kw_only=True)
class Design:
    """Columns of a linear model for some specimens.

    ``columns``: (specimens, 1 + Σ columns of terms) float, constant first; ``places``: columns of each term kept;
    ``levels``: levels of each factor in order; ``aliases``: for each kept term's name the terms that can't be told from
    it; ``dropped``: sentences on the terms that were left out.
    """

    levels: Mapping[str, tuple[str, ...]]
    columns: np.ndarray
    terms: tuple[Term, ...]
    places: Mapping[str, tuple[int, ...]]
    aliases: Mapping[str, tuple[str, ...]]
    dropped: tuple[str, ...]

    @property
    def freedom(self) -> int:
        """Degrees of freedom left for the scatter between specimens."""
        return self.columns.shape[0] - self.columns.shape[1]


def codes(levels: Sequence[str]) -> np.ndarray:
    """Return the deviation coding of levels, (k, k - 1): each column sums to zero, so that other factors average out.

    >>> codes(["a", "b"]).ravel().tolist()
    [1.0, -1.0]
    """
    count = len(levels)
    return np.vstack([np.eye(count - 1), -np.ones((1, count - 1))])


def term_codes(levels: Mapping[str, Sequence[str]], term: Term, chosen: Mapping[str, np.ndarray]) -> np.ndarray:
    """Return the columns of a term for weights over the levels of its factors.

    ``chosen``: for each factor a vector over its levels (a unit vector for one level, +1/-1 for a difference).
    """
    product = np.ones(1)
    for factor in term.factors:
        product = np.kron(product, np.asarray(chosen[factor]) @ codes(levels[factor]))
    return product


def build_design(rows: Sequence[Mapping[str, str]], factors: Sequence[str], *, largest_interaction: int = 2) -> Design:
    """Return the design of specimens with given levels.

    rows: levels of each specimen by factor. Terms are taken in the order main effects, two-factor interactions, …; a term
    whose columns depend on those before it is left out, and named with the terms that it can't be told from.
    """
    levels = {factor: tuple(dict.fromkeys(row[factor] for row in rows)) for factor in factors}
    varied = [factor for factor in factors if len(levels[factor]) > 1]
    units = {factor: np.eye(len(levels[factor])) for factor in varied}
    order = {factor: {level: place for place, level in enumerate(levels[factor])} for factor in varied}
    index = {factor: [order[factor][row[factor]] for row in rows] for factor in varied}
    columns = np.ones((len(rows), 1))
    terms, places, dropped = [], {}, []
    aliases: dict[str, list[str]] = {}
    for size in range(1, largest_interaction + 1):
        for chosen in itertools.combinations(varied, size):
            term = Term(factors=chosen)
            own = _term_columns(levels, term, units, index, len(rows))
            joined = np.hstack([columns, own])
            if np.linalg.matrix_rank(joined) == joined.shape[1]:
                places[term.name] = tuple(range(columns.shape[1], joined.shape[1]))
                columns = joined
                terms.append(term)
                continue
            dropped.append(_why_dropped(term, own, columns, places, aliases, rows, levels))
    return Design(
        levels={factor: levels[factor] for factor in varied},
        columns=columns,
        terms=tuple(terms),
        places=places,
        aliases={name: tuple(others) for name, others in aliases.items()},
        dropped=tuple(dropped),
    )


def _term_columns(levels, term: Term, units, index, count: int) -> np.ndarray:
    """Return a term's columns for all specimens; each combination of levels is worked out once."""
    known: dict[tuple[int, ...], np.ndarray] = {}
    own = []
    for place in range(count):
        cell = tuple(index[factor][place] for factor in term.factors)
        if cell not in known:
            chosen = {factor: units[factor][level] for factor, level in zip(term.factors, cell, strict=True)}
            known[cell] = term_codes(levels, term, chosen)
        own.append(known[cell])
    return np.array(own)


def _why_dropped(term, own, columns, places, aliases, rows, levels) -> str:
    """Say why a term can't be had, and note it as an alias of the terms it depends on."""
    solution, *_ = np.linalg.lstsq(columns, own, rcond=None)
    left = own - columns @ solution
    # Directions of the term that the earlier columns hold entirely are those with which it is confounded.
    is_whole = np.abs(left).max() < 1e-8
    with_terms = [name for name, place in places.items() if np.abs(solution[list(place)]).max() > 1e-8]
    missing = _missing_cells(term, rows, levels) if len(term.factors) > 1 else []
    if missing:
        shown = "; ".join(missing[:4]) + (" …" if len(missing) > 4 else "")
        return f"{term.name} can't be had: no specimen of {shown}"
    if is_whole and with_terms:
        for name in with_terms:
            aliases.setdefault(name, []).append(term.name)
        return f"{term.name} can't be told from {' and '.join(with_terms)} in these specimens (aliased)"
    return f"{term.name} can't be had from {len(rows)} specimens: there are more unknowns than specimens"


def _missing_cells(term: Term, rows, levels) -> list[str]:
    seen = {tuple(row[factor] for factor in term.factors) for row in rows}
    every = itertools.product(*(levels[factor] for factor in term.factors))
    return [" + ".join(cell) for cell in every if cell not in seen]


def is_single_two_level_factorial(rows: Sequence[Mapping[str, str]], factors: Sequence[str]) -> bool:
    """True for a full two-level factorial of three or more factors with one specimen a cell."""
    levels = {factor: {row[factor] for row in rows} for factor in factors}
    varied = [factor for factor in factors if len(levels[factor]) > 1]
    if len(varied) < 3 or any(len(levels[factor]) != 2 for factor in varied):
        return False
    cells = {tuple(row[factor] for factor in varied) for row in rows}
    return len(cells) == len(rows) == 2 ** len(varied)
