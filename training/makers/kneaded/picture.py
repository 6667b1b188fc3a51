"""The micrograph of one ground: turned to the screen, lit by the beam, strewn with debris, photographed."""

import numpy as np

from .beam import draw_beam, emission
from .camera import charged, photographed
from .chance import between, grainy
from .frame import Frame
from .matter import debris, stains


def pictured(
    rng: np.random.Generator,
    frame: Frame,
    pixel_size_um: float,
    *,
    height: np.ndarray,
    groove: np.ndarray,
    thin: np.ndarray,
    flakes: np.ndarray,
    tone: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Image (uint8) and the pixels that hide the surface (bool). All maps are of the stroke's frame: height and open groove
    depth in µm; thin, flakes 0–1: unsupported sheet, graphite; tone: what to add to the signal."""
    beam = draw_beam(rng, frame.tilt_deg)
    height, groove, thin, flakes, tone = (
        frame.seen(values.astype(np.float32)) for values in (height, groove, thin, flakes, tone)
    )
    hidden = np.zeros(frame.screen, bool)
    if rng.random() < 0.25:
        rise, hidden = debris(rng, frame.screen, pixel_size_um)
        height, flakes = height + rise, flakes * ~hidden
        tone = tone + rng.uniform(-0.1, 0.3) * hidden
    ragged = np.clip(1 + 0.7 * grainy(rng, frame.screen, between(rng, 3, 20)), 0, 2.5)
    signal = emission(
        beam, height=height, groove=groove, thin=thin, carbon=flakes, ragged=ragged, pixel_size_um=pixel_size_um
    )
    signal += tone
    signal *= 1 + between(rng, 0.006, 0.03) * grainy(rng, frame.screen, between(rng, 1.0, 4.0))
    if rng.random() < 0.3:
        signal *= 1 - rng.uniform(0.05, 0.25) * stains(rng, frame.screen)
    if rng.random() < 0.4:
        signal += rng.uniform(0.004, 0.018) * grainy(rng, frame.screen, rng.uniform(3, 40))
    if rng.random() < 0.06:
        signal, glare = charged(rng, signal)
        hidden = hidden | glare
    return photographed(rng, signal), hidden
