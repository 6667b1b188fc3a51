"""Simulated honed, run surfaces with exact truth, and the micrographs and data bars made of them."""

from .scene import (
    FAMILIES,
    HELD_OUT_FAMILY,
    HELD_OUT_RENDERER,
    RENDERERS,
    TRAINING_RENDERERS,
    SimulatedField,
    simulate_field,
)

__all__ = [
    "FAMILIES",
    "HELD_OUT_FAMILY",
    "HELD_OUT_RENDERER",
    "RENDERERS",
    "TRAINING_RENDERERS",
    "SimulatedField",
    "simulate_field",
]
