"""What varies a batch of samples on the training device: mirror images, random filters, shading, noise, hidden patches."""

import numpy as np
import torch
from samples import BLANK, EMPTY_BYTE
from store import grey_of, sent
from torch.nn import functional

from semwear.score import INPUT_LIMIT


def augment(image, codes, worn, rng: np.random.Generator, settings: dict):
    """Mirror, quarter turns, random filters, sharpness, shading, tone curve, gain, offset, noise, hidden patches and inverted
    contrast, on the device.

    Takes bytes (n, s, s); returns image (n, 1, s, s) float32, codes (n, s, s) int64, BLANK in hidden patches too, and worn
    (n, s/16, s/16) uint8. settings: with ``invert_share`` and ``filter_share``.
    """
    count = len(image)
    turns, mirror = int(rng.integers(4)), bool(rng.integers(2))
    image, codes, worn = (torch.rot90(array, turns, (1, 2)) for array in (image, codes, worn))
    if mirror:
        image, codes, worn = (array.flip(2) for array in (image, codes, worn))
    empty = (image == EMPTY_BYTE) & (codes == BLANK)
    image = grey_of(image)

    def per_sample(values):
        return sent(np.asarray(values, np.float32), image.device)[:, None, None]

    gain = np.exp(rng.normal(0, 0.2, count)) * np.where(rng.random(count) < settings["invert_share"], -1, 1)
    if settings["filter_share"]:
        image = random_filters(image, rng, settings["filter_share"])
    image = _retouched(image, rng, per_sample)
    image = image + per_sample(rng.normal(0, 0.015, count)) * image.square()
    image = image * per_sample(gain) + per_sample(rng.normal(0, 0.2, count))
    noise = per_sample(np.where(rng.random(count) < 0.5, rng.uniform(0, 0.5, count), 0))
    image = image + noise * torch.randn_like(image)
    image = image.masked_fill(empty, 0.0)
    for number in np.flatnonzero(rng.random(count) < 0.15):
        side = image.shape[-1]
        top, left = rng.integers(0, side, 2)
        window = np.s_[
            number, top : top + int(rng.integers(4, side // 4)), left : left + int(rng.integers(4, side // 3))
        ]
        image[window] = 0
        codes[window] = BLANK
    return image.clamp(-INPUT_LIMIT, INPUT_LIMIT)[:, None], codes.long(), worn


def random_filters(image: torch.Tensor, rng: np.random.Generator, share: float) -> torch.Tensor:
    """Mix in what a small random filter makes of the picture, in a share of the samples: other relief, other grain, the same
    shapes (Xu et al., 2021, arXiv 2007.13003). image: (n, s, s) float32; so is what is returned."""
    count, length = len(image), int(rng.choice([3, 5, 7]))
    kernels = sent(rng.normal(0, 1, (count, 1, length, length)).astype(np.float32), image.device)
    padded = functional.pad(image[None], (length // 2,) * 4, mode="reflect")
    reply = functional.conv2d(padded, kernels, groups=count)[0]
    reply = reply - reply.mean((1, 2), keepdim=True)
    spread = image.std((1, 2), keepdim=True) / reply.std((1, 2), keepdim=True).clamp(min=1e-6)
    upright = (reply * image).sum((1, 2), keepdim=True).sign()  # inverted contrast has a share of its own
    mix = np.where(rng.random(count) < share, rng.uniform(0, 0.7, count), 0).astype(np.float32)
    mix = sent(mix, image.device)[:, None, None]
    return image * (1 - mix) + mix * upright * spread * reply


def _retouched(image, rng: np.random.Generator, per_sample) -> torch.Tensor:
    """Sharpen or soften at one length, and let brightness and contrast drift over the picture, in half of the samples."""
    count, side = len(image), image.shape[-1]
    length = int(rng.choice([3, 5, 9, 17]))
    smooth = functional.avg_pool2d(image[:, None], length, 1, length // 2, count_include_pad=False)[:, 0]
    strength = np.where(rng.random(count) < 0.5, rng.uniform(-0.7, 0.8, count), 0)
    image = image + per_sample(strength) * (image - smooth)
    knots = sent(rng.normal(0, 1, (count, 2, 4, 4)).astype(np.float32), image.device)
    drift = functional.interpolate(knots, size=(side, side), mode="bilinear", align_corners=True)
    amount = np.where(rng.random(count) < 0.5, rng.uniform(0, 0.25, count), 0)
    return image * (1 + per_sample(amount) * drift[:, 0].clamp(-1.5, 1.5)) + per_sample(amount) * drift[:, 1]
